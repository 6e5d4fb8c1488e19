"""Nothing private leaves in a picture: read back by ExifRead, by hachoir, and byte by byte."""

import io
import struct
import zipfile

import exifread
import numpy as np
import pillow_heif
import pytest
from hachoir.metadata import extractMetadata
from hachoir.parser import guessParser
from hachoir.stream import InputIOStream
from PIL import Image, ImageCms, PngImagePlugin

import visualiser as vis
from visualiser.errors import PhotoError, ProjectError
from visualiser.photo.jpeg_segments import segments
from visualiser.project.document import Document, PieceEntry
from visualiser.project.exchange import export_zip
from visualiser.project.privacy import strip_private

SECRETS = (b"SERIAL-4711", b"OWNER-NAME", b"MAKERS-NOTE", b"2019:03:04", b"REMARK", b"XMP-CITY")
ALLOWED = {
    "Image Make", "Image Model", "Image Orientation", "Image ExifOffset",
    "EXIF FocalLengthIn35mmFilm",
}  # fmt: skip
HACHOIR_ALLOWED = {
    "width", "height", "pixel_format", "bits_per_pixel", "nb_colors", "compression",
    "compr_rate", "image_orientation", "camera_model", "camera_manufacturer", "mime_type",
    "focal_length_in_35mm_film", "endian", "format_version", "width_dpi", "height_dpi", "comment",
}  # fmt: skip


def exif_block():
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Maker", "Model 7", 6
    exif[0x013B], exif[0x0132] = "OWNER-NAME", "2019:03:04 05:06:07"
    exif.get_ifd(0x8769).update({0xA405: 26, 0xA431: "SERIAL-4711", 0x927C: b"MAKERS-NOTE"})
    exif[0x8825] = {1: "N", 2: (51.0, 30.0, 0.0), 3: "E", 4: (0.0, 7.0, 0.0)}
    return exif


def picture(kind):
    y, x = np.mgrid[0:48, 0:64]
    image = Image.fromarray(np.stack([x * 4, y * 5, (x + y) * 2], -1).astype(np.uint8))
    buffer, exif = io.BytesIO(), exif_block()
    if kind == "HEIC":
        heif = pillow_heif.from_pillow(image)
        heif.save(buffer, format="HEIF", exif=exif.tobytes(), xmp=b"<x>XMP-CITY</x>", quality=-1)
    elif kind == "TIFF":  # TIFF 6.0; XMP specification, part 3: tag 700; IPTC-NAA: tag 33723
        loaded = Image.Exif()
        loaded.load(exif.tobytes())
        loaded[700], loaded[33723] = b"<x>XMP-CITY</x>", b"OWNER-NAME"
        second = image.resize((32, 24))  # a page behind the first, as scanners write
        image.save(buffer, kind, exif=loaded, save_all=True, append_images=[second])
    elif kind == "PNG":  # PNG third edition, 11.3.3: texts plain, compressed and international
        texts = PngImagePlugin.PngInfo()
        texts.add_text("Author", "OWNER-NAME")
        texts.add_text("Comment", "REMARK", zip=True)
        texts.add_itxt("XML:com.adobe.xmp", "<x>XMP-CITY</x>")
        image.save(buffer, kind, exif=exif, pnginfo=texts)
    elif kind == "WEBP":
        image.save(buffer, kind, exif=exif, xmp=b"<x>XMP-CITY</x>")
    else:
        image.save(buffer, kind, exif=exif, comment=b"REMARK", xmp=b"XMP-CITY")
    return buffer.getvalue()


def told(data):
    """What two readers that share nothing with the program see in a picture."""
    tags = set(exifread.process_file(io.BytesIO(data), details=True))
    parser = guessParser(InputIOStream(io.BytesIO(data)))
    metadata = extractMetadata(parser) if parser else None
    seen = {item.key for item in metadata if item.values} if metadata else set()
    return tags, seen


def check_nothing_private(data):
    assert not [secret for secret in SECRETS if secret in data]
    tags, seen = told(data)
    assert tags <= ALLOWED
    assert seen <= HACHOIR_ALLOWED, seen - HACHOIR_ALLOWED


KINDS = ("JPEG", "HEIC", "PNG", "TIFF", "WEBP")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_the_readers_do_see_what_must_go(kind):
    """HEIC and WebP leave as PNG."""
    tags, seen = told(picture(kind))
    assert {"GPS GPSLatitude", "EXIF BodySerialNumber", "Image Artist"} <= tags
    if kind == "JPEG":
        assert {"latitude", "longitude", "author", "creation_date"} & seen


@pytest.mark.parametrize("kind", KINDS)
def test_an_exported_job_tells_nothing(kind, tmp_path):
    job = vis.create_project(tmp_path / "job", Document(name="Stair hall"))
    suffix = {"JPEG": ".jpg", "TIFF": ".tif"}.get(kind, f".{kind.lower()}")
    data = picture(kind)
    assert b"SERIAL-4711" in data
    assert b"XMP-CITY" in data
    entries = [job.add_file(f, f"x{suffix}", data, suffix) for f in ("photos", "artworks")]
    piece = PieceEntry(id="a", width_mm=400, height_mm=500, artwork=entries[1])
    job = job.save(job.document.changed(photo=entries[0], pieces=(piece,)))
    packed = export_zip(job)
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        pictures = [archive.read(n) for n in archive.namelist() if not n.endswith(".json")]
    assert len(pictures) == 2
    for clean in pictures:
        check_nothing_private(clean)
        before, after = vis.load_photo(data), vis.load_photo(clean)
        np.testing.assert_array_equal(before.pixels, after.pixels)
        assert after.focal_px == before.focal_px


def spliced(data, marker, body, *, before_scan=0, before=0xDA):
    """A JPEG with a segment put before the scan of that number, or before another segment."""
    at = [s for s in segments(data) if s.marker == before][before_scan].start
    return data[:at] + struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body + data[at:]


def progressive():
    buffer = io.BytesIO()
    y, x = np.mgrid[0:48, 0:64]
    image = Image.fromarray(np.stack([x * 4, y * 5, (x + y) * 2], -1).astype(np.uint8))
    image.save(buffer, "JPEG", progressive=True)
    return buffer.getvalue()


HIDING_PLACES = {
    "a comment between two scans": lambda d: spliced(d, 0xFE, b"REMARK", before_scan=2),
    "an application's segment between two scans": lambda d: spliced(
        d, 0xE5, b"OWNER-NAME", before_scan=3
    ),
    "behind the Adobe segment's 12 bytes": lambda d: spliced(
        d, 0xEE, b"Adobe\0\x64\0\0\0\0\x01" + b"SERIAL-4711", before_scan=0
    ),
    "the thumbnail of a JFIF segment": lambda d: (
        d[:2]
        + b"\xff\xe0" + struct.pack(">H", 16 + 12) + b"JFIF\0\1\1\0\0\1\0\1\4\1OWNER-NAME.."
        + d[20:]
    ),
    "a JFIF extension": lambda d: spliced(d, 0xE0, b"JFXX\0\x10OWNER-NAME", before_scan=0),
    "a second JFIF segment": lambda d: spliced(
        d, 0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0OWNER-NAME", before_scan=0
    ),
    "behind the picture": lambda d: d + b"OWNER-NAME",
}  # fmt: skip


@pytest.mark.parametrize("place", HIDING_PLACES)
def test_no_place_in_a_jpeg_hides_anything(place):
    data = HIDING_PLACES[place](progressive())
    assert [secret for secret in SECRETS if secret in data]
    before = vis.load_photo(data).pixels
    clean, _ = strip_private(data)
    check_nothing_private(clean)
    np.testing.assert_array_equal(vis.load_photo(clean).pixels, before)


def test_how_colours_are_meant_stays():
    """The Adobe segment says whether colours are transformed, the profile which they are."""
    buffer = io.BytesIO()
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    Image.new("CMYK", (32, 32), (10, 200, 30, 40)).save(buffer, "JPEG")
    cmyk = buffer.getvalue()
    assert b"Adobe" in cmyk
    np.testing.assert_array_equal(
        vis.load_photo(strip_private(cmyk)[0]).pixels, vis.load_photo(cmyk).pixels
    )
    buffer = io.BytesIO()
    Image.new("RGB", (32, 32)).save(buffer, "JPEG", icc_profile=profile)
    assert profile in strip_private(buffer.getvalue())[0]


def test_a_phones_wide_colours_leave_as_they_were_read():
    """ITU-T H.273, table 2: primaries 12 are Display P3, which a HEIC may name without a profile.

    P3's (200, 60, 40) is (217, 42, 23) in sRGB, by the matrices of CSS Color 4; a HEIC's own
    colours move it by one or two.
    """
    red = Image.new("RGB", (64, 48), (200, 60, 40))
    buffer = io.BytesIO()
    pillow_heif.from_pillow(red).save(
        buffer, quality=-1, color_primaries=12, transfer_characteristics=13
    )
    clean, _ = strip_private(buffer.getvalue())
    for data in (buffer.getvalue(), clean):
        np.testing.assert_allclose(vis.load_photo(data).pixels[20, 20], (217, 42, 23), atol=2)


def test_transparency_stays():
    buffer = io.BytesIO()
    image = Image.new("P", (8, 8), 1)
    image.putpalette([0, 0, 0, 200, 10, 10])
    image.save(buffer, "PNG", transparency=1)
    clean, _ = strip_private(buffer.getvalue())
    assert (vis.load_photo(clean).pixels == 255).all()


EPS = b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n%%EndComments\nshowpage\n%%EOF\n"


def test_what_is_no_picture_is_never_exported(tmp_path, monkeypatch):
    import subprocess

    monkeypatch.setattr(subprocess, "Popen", lambda *_, **__: pytest.fail("a program was started"))
    job = vis.create_project(tmp_path / "job")
    entry = job.add_file("photos", "h.jpg", EPS, ".jpg")
    job = job.save(job.document.changed(as_hung_photo=entry))
    with pytest.raises(ProjectError, match="cannot be read"):
        export_zip(job)
    with pytest.raises(PhotoError):
        strip_private(EPS)


def saved(image, kind, **more):
    buffer = io.BytesIO()
    image.save(buffer, kind, **more)
    return buffer.getvalue()


SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def test_a_picture_that_becomes_a_png_keeps_its_profile():
    clean, suffix = strip_private(saved(Image.new("RGB", (16, 16)), "TIFF", icc_profile=SRGB))
    assert suffix == ".png"
    assert Image.open(io.BytesIO(clean)).info["icc_profile"] == SRGB


def test_inks_become_light_without_the_profile_of_the_inks():
    """A PNG holds no inks (PNG third edition, 11.2.1), so their profile would mislead."""
    inks = Image.new("CMYK", (16, 16), (10, 200, 30, 40))
    clean, _ = strip_private(saved(inks, "TIFF", icc_profile=SRGB))
    image = Image.open(io.BytesIO(clean))
    assert image.mode == "RGB"
    assert "icc_profile" not in image.info


def test_sixteen_bits_stay_sixteen():
    deep = Image.fromarray(np.arange(256, dtype=np.uint16).reshape(16, 16) * 257)
    clean, _ = strip_private(saved(deep, "TIFF"))
    np.testing.assert_array_equal(np.asarray(Image.open(io.BytesIO(clean))), np.asarray(deep))


def test_a_jpeg_that_holds_red_green_and_blue_untransformed_stays_readable():
    """Without the Adobe segment, or with a JFIF one, they would be read as YCbCr (T.872, 6.1)."""
    y, x = np.mgrid[0:32, 0:32]
    image = Image.fromarray(np.stack([x * 8, y * 8, 255 - x * 4], -1).astype(np.uint8))
    data = saved(image, "JPEG", keep_rgb=True, quality=95)
    assert b"Adobe" in data
    clean, _ = strip_private(data)
    np.testing.assert_array_equal(
        np.asarray(Image.open(io.BytesIO(clean))), np.asarray(Image.open(io.BytesIO(data)))
    )


def test_a_profile_behind_the_tables_loses_none_of_them():
    plain = saved(Image.new("RGB", (16, 16), (200, 60, 40)), "JPEG")
    body = b"ICC_PROFILE\0\x01\x01" + SRGB
    late = spliced(plain, 0xE2, body, before=0xC0)
    clean, _ = strip_private(late)
    assert Image.open(io.BytesIO(clean)).info["icc_profile"] == SRGB
    np.testing.assert_array_equal(vis.load_photo(clean).pixels, vis.load_photo(late).pixels)
