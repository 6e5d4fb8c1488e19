import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image, ImageCms

import visualiser as vis

TITLE = "Option A <1> & 2 – Küche, 客廳, غرفة"


@pytest.mark.parametrize("write", [vis.encode_jpeg, vis.encode_png])
def test_written_pictures_are_read_back(scene, write):
    again = vis.load_photo(write(scene, title=TITLE))
    assert np.abs(again.pixels.astype(int) - scene).mean() < 2
    assert again.findings == ()


@pytest.mark.parametrize("write", [vis.encode_jpeg, vis.encode_png])
def test_profile_is_srgb_and_nothing_private_is_inside(scene, write):
    image = Image.open(io.BytesIO(write(scene, title=TITLE)))
    image.load()
    profile = ImageCms.ImageCmsProfile(io.BytesIO(image.info["icc_profile"]))
    assert "sRGB" in profile.profile.profile_description
    exif = image.getexif()
    assert not dict(exif)
    assert not exif.get_ifd(0x8825)  # GPS
    assert not exif.get_ifd(0x8769)  # camera


def test_titles_survive(scene):
    png = Image.open(io.BytesIO(vis.encode_png(scene, title=TITLE)))
    assert png.info["Title"] == TITLE
    jpeg = Image.open(io.BytesIO(vis.encode_jpeg(scene, title=TITLE)))
    packet = ElementTree.fromstring(jpeg.info["xmp"].split(b"?>", 1)[1].rsplit(b"<?", 1)[0])
    assert "".join(packet.itertext()).strip() == TITLE


def test_png_is_lossless(scene):
    assert (vis.load_photo(vis.encode_png(scene)).pixels == scene).all()


def test_wrong_pixels_are_a_programmers_mistake(scene):
    with pytest.raises(ValueError, match="uint8"):
        vis.encode_png(scene[..., 0])
    with pytest.raises(ValueError, match="quality"):
        vis.encode_jpeg(scene, quality=0)
