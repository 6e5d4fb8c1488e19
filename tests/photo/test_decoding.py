import io
import struct

import numpy as np
import pytest
from PIL import Image, ImageOps

import visualiser as vis
from visualiser.photo.decoding import load_photo, load_reduced, upright
from visualiser.photo.limits import PhotoLimits

KINDS = ["JPEG", "PNG", "WEBP", "TIFF", "HEIC"]

# Exif 2.3 (CIPA DC-008), tag 0x0112: where the stored 0th row and 0th column are seen.
ORIENTATIONS = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
SIDES = {
    "top": np.s_[0, :],
    "bottom": np.s_[-1, :],
    "left": np.s_[:, 0],
    "right": np.s_[:, -1],
}


def orientation_exif(orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    return exif.tobytes()


def encode_jpeg(pixels, **options):
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=95, **options)
    return buffer.getvalue()


@pytest.mark.parametrize("kind", KINDS)
def test_reads_every_kind(scene, encoded, kind):
    options = {"lossless": True} if kind == "WEBP" else {"quality": 95} if kind != "PNG" else {}
    if kind == "TIFF":
        options = {}
    photo = vis.load_photo(encoded(scene, kind, **options))
    assert (photo.width_px, photo.height_px) == (64, 48)
    assert np.abs(photo.pixels.astype(int) - scene).mean() < 4
    assert not photo.pixels.flags.writeable
    assert len(photo.digest) == 64
    assert photo.focal_px is None


@pytest.mark.parametrize(("orientation", "seen"), ORIENTATIONS.items())
def test_orientation_puts_row_and_column_where_the_standard_says(orientation, seen):
    stored = np.zeros((3, 5, 3), np.uint8)
    stored[0, :, 0] = 200
    stored[:, 0, 1] = 100
    turned = upright(stored, orientation)
    row_side, column_side = seen
    assert (turned[SIDES[row_side]][:, 0] == 200).all()
    assert (turned[SIDES[column_side]][:, 1] == 100).all()
    assert (turned[..., 0] == 200).sum() == 5
    assert (turned[..., 1] == 100).sum() == 3


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "HEIC"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation_in_files_agrees_with_an_independent_library(scene, encoded, orientation, kind):
    lossless = {"lossless": True} if kind == "WEBP" else {}
    if kind == "TIFF":
        exif = Image.Exif()
        exif[0x0112] = orientation
        data = encoded(scene, kind, exif=exif)
    else:
        data = encoded(scene, kind, exif=orientation_exif(orientation), **lossless)
    bare = Image.fromarray(scene)
    bare.getexif()[0x0112] = orientation
    expected = np.asarray(ImageOps.exif_transpose(bare)).astype(int)
    found = load_photo(data).pixels
    assert found.shape == expected.shape
    assert np.abs(found - expected).mean() < 4


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_nonsense_orientation_is_left_as_stored(scene, encoded, value):
    photo = load_photo(encoded(scene, "PNG", exif=orientation_exif(value)))
    assert (photo.pixels == scene).all()


def test_first_picture_of_a_multi_picture_file(scene):
    buffer = io.BytesIO()
    other = Image.new("RGB", (32, 32), "red")
    Image.fromarray(scene).save(buffer, "MPO", save_all=True, append_images=[other], quality=95)
    photo = load_photo(buffer.getvalue())
    assert (photo.width_px, photo.height_px) == (64, 48)
    assert np.abs(photo.pixels.astype(int) - scene).mean() < 4


def test_focal_length_is_read_for_the_upright_pixels(scene, encoded):
    exif = Image.Exif()
    exif[0x0112], exif[0x010F], exif[0x0110] = 6, "Maker\x00", " Model  7 "
    exif.get_ifd(0x8769)[0xA405] = 26
    photo = load_photo(encoded(scene, "JPEG", exif=exif.tobytes()))
    assert (photo.width_px, photo.height_px) == (48, 64)
    assert photo.focal_px == pytest.approx(26 / 43.2666 * 80, rel=1e-4)
    assert photo.focal_35mm == 26
    assert photo.camera == "Maker Model 7"


def test_damaged_exif_costs_the_tags_only(scene, encoded):
    exif = b"Exif\x00\x00MM\x00*\x00\x00\x00\x08\xff\xff" + b"\x01\x12" * 20
    photo = load_photo(encoded(scene, "JPEG", exif=exif))
    assert photo.pixels.shape == scene.shape
    assert photo.focal_px is None


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"GIF89a" + bytes(40), "GIF"),
        (b"hello, this is text", "not a picture"),
        (b"\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00isommp42", "video"),
        (b"\xff\xd8\xff\xe0" + bytes(100), "damaged"),
    ],
)
def test_what_is_no_photo_is_named(data, words):
    with pytest.raises(vis.PhotoError, match=words) as error:
        load_photo(data)
    assert error.value.hint


def test_limits_are_kept(scene, encoded):
    data = encoded(scene, "PNG")
    with pytest.raises(vis.PhotoError, match="MB"):
        load_photo(data, PhotoLimits(file_bytes=100))
    with pytest.raises(vis.PhotoError, match="million pixels"):
        load_photo(data, PhotoLimits(pixels=48 * 64))
    assert load_photo(data, PhotoLimits(pixels=48 * 64 + 1))


def test_huge_declared_sizes_are_refused_before_decoding(scene, encoded):
    png = bytearray(encoded(scene, "PNG"))
    png[16:24] = struct.pack(">II", 14_000, 14_000)
    import zlib

    png[29:33] = struct.pack(">I", zlib.crc32(png[12:29]))
    with pytest.raises(vis.PhotoError, match="holds only"):
        load_photo(bytes(png))
    png[16:24] = struct.pack(">II", 60_000, 60_000)
    png[29:33] = struct.pack(">I", zlib.crc32(png[12:29]))
    with pytest.raises(vis.PhotoError, match="million pixels"):
        load_photo(bytes(png))


def test_a_path_is_a_programmers_mistake():
    with pytest.raises(TypeError, match="bytes"):
        load_photo("photo.jpg")


def test_a_reduced_jpeg_is_the_mean_of_what_it_leaves_out():
    """ITU-T T.81: the low frequencies of a block are its means over 2 x 2 pixels, nearly."""
    y, x = np.mgrid[0:640, 0:960]
    pixels = np.stack([x / 4, y / 3, (x + y) / 7], -1).astype(np.uint8)
    data = encode_jpeg(pixels)
    whole, half = load_photo(data).pixels, load_reduced(data, 320).pixels
    assert half.shape == (320, 480, 3)
    means = whole.reshape(320, 2, 480, 2, 3).mean((1, 3))
    assert np.abs(half - means).mean() < 1
    assert load_reduced(data, 321).pixels.shape == whole.shape
    assert load_reduced(data, 20).pixels.shape == (80, 120, 3)


@pytest.mark.parametrize("kind", KINDS[1:])
def test_other_kinds_are_read_whole(scene, encoded, kind):
    data = encoded(scene, kind)
    assert np.array_equal(load_reduced(data, 8).pixels, load_photo(data).pixels)


def test_a_reduced_picture_is_upright():
    data = encode_jpeg(np.zeros((320, 480, 3), np.uint8), exif=orientation_exif(6))
    assert load_reduced(data, 160).pixels.shape == (240, 160, 3)


def test_a_damaged_picture_is_refused_when_reduced(scene, encoded):
    data = encoded(scene, "JPEG")
    with pytest.raises(vis.PhotoError):
        load_reduced(data[: len(data) // 2], 8)
