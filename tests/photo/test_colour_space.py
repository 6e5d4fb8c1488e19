import io
import struct
import warnings

import numpy as np
import pytest
from PIL import Image, ImageCms

import visualiser as vis
from visualiser.photo.colour_space import P3_TO_SRGB, display_p3_to_srgb
from visualiser.photo.decoding import load_photo

with warnings.catch_warnings():  # it warns that it cannot plot
    warnings.simplefilter("ignore")
    import colour


def matrix_profile(primaries_to_xyz_d50, description):
    """Smallest ICC version 2 matrix profile with the transfer curve of sRGB (ICC.1:2001-04)."""

    def fixed(values):
        return b"".join(struct.pack(">i", round(v * 65536)) for v in values)

    x = np.linspace(0, 1, 1024)
    curve = np.where(x <= 0.04045, x / 12.92, ((x + 0.055) / 1.055) ** 2.4)
    curve = b"curv\0\0\0\0" + struct.pack(">I1024H", 1024, *np.rint(65535 * curve).astype(int))
    text = description.encode() + b"\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"wtpt": b"XYZ \0\0\0\0" + fixed([0.96422, 1.0, 0.82521]),
        b"rXYZ": b"XYZ \0\0\0\0" + fixed(primaries_to_xyz_d50[:, 0]),
        b"gXYZ": b"XYZ \0\0\0\0" + fixed(primaries_to_xyz_d50[:, 1]),
        b"bXYZ": b"XYZ \0\0\0\0" + fixed(primaries_to_xyz_d50[:, 2]),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    table, body, offset = struct.pack(">I", len(tags)), b"", 128 + 4 + 12 * len(tags)
    for name, data in tags.items():
        data += bytes(-len(data) % 4)
        table += name + struct.pack(">II", offset + len(body), len(data))
        body += data
    header = struct.pack(">I", offset + len(body)) + bytes(4) + struct.pack(">I", 0x02400000)
    header += b"mntrRGB XYZ " + bytes(12) + b"acsp" + bytes(28) + fixed([0.96422, 1.0, 0.82521])
    return header + bytes(128 - len(header)) + table + body


def display_p3_profile():
    p3 = colour.RGB_COLOURSPACES["Display P3"]
    to_d50 = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        np.array([0.95047, 1, 1.08883]), np.array([0.96422, 1, 0.82521]), "Bradford"
    )
    return matrix_profile(to_d50 @ p3.matrix_RGB_to_XYZ, "Display P3")


def p3_samples():
    grid = np.array([0, 60, 128, 200, 255], np.uint8)
    return np.stack(np.meshgrid(grid, grid, grid), -1).reshape(5, 25, 3)


def expected_srgb(p3):
    """colour-science: decode, convert by primaries, clip, encode."""
    srgb = colour.RGB_to_RGB(
        p3 / 255, "Display P3", "sRGB", apply_cctf_decoding=True, apply_cctf_encoding=False
    )
    return 255 * colour.cctf_encoding(np.clip(srgb, 0, 1), function="sRGB")


def test_display_p3_matrix_agrees_with_colour_science():
    other = colour.matrix_RGB_to_RGB("Display P3", "sRGB")
    assert pytest.approx(other, abs=2e-4) == P3_TO_SRGB
    assert P3_TO_SRGB.sum(1) == pytest.approx([1, 1, 1], abs=1e-9)


def test_display_p3_pixels_agree_with_colour_science():
    p3 = p3_samples()
    assert np.abs(display_p3_to_srgb(p3) - expected_srgb(p3)).max() <= 1.0


def test_embedded_display_p3_profile_is_applied(encoded):
    p3 = p3_samples()
    data = encoded(p3, "PNG", icc_profile=display_p3_profile())
    photo = load_photo(data)
    assert np.abs(photo.pixels - expected_srgb(p3)).max() <= 2.5  # the profile's curves are 8.8
    assert np.abs(p3.astype(float) - expected_srgb(p3)).max() > 40  # and it matters
    assert photo.findings == ()


def test_heic_that_states_display_p3_by_number(encoded):
    p3 = np.full((64, 64, 3), (200, 60, 60), np.uint8)
    options = {"color_primaries": 12, "transfer_characteristics": 13, "matrix_coefficients": 6}
    photo = load_photo(encoded(p3, "HEIC", quality=-1, chroma="444", **options))
    assert np.abs(photo.pixels[32, 32] - expected_srgb(p3[32, 32])).max() <= 3


def test_srgb_profile_changes_nothing(scene, encoded):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert (load_photo(encoded(scene, "PNG", icc_profile=profile)).pixels == scene).all()


def test_broken_profile_is_left_out_and_said(scene, encoded):
    photo = load_photo(encoded(scene, "PNG", icc_profile=b"not a profile" * 20))
    assert (photo.pixels == scene).all()
    assert [f.code for f in photo.findings] == ["photo-profile-unusable"]


def test_sixteen_bit_grey_is_rounded(encoded):
    values = np.array([[0, 128, 129, 257 * 100, 65535]], np.uint16)
    photo = load_photo(encoded(values, "PNG"))
    assert photo.pixels[0, :, 0].tolist() == [0, 0, 1, 100, 255]
    assert (photo.pixels == photo.pixels[..., :1]).all()


def test_sixteen_bit_colour():
    import cv2

    pixels = np.full((4, 4, 3), (10_000, 30_000, 65_535), np.uint16)
    ok, data = cv2.imencode(".png", pixels)  # writes blue, green, red
    assert ok
    found = load_photo(data.tobytes()).pixels[0, 0].astype(float)
    assert found == pytest.approx(np.array([65_535, 30_000, 10_000]) / 257, abs=1)


def test_bilevel_and_palette(encoded):
    bits = Image.fromarray(np.array([[0, 255], [255, 0]], np.uint8)).convert("1")
    buffer = io.BytesIO()
    bits.save(buffer, "PNG")
    assert load_photo(buffer.getvalue()).pixels[:, :, 2].tolist() == [[0, 255], [255, 0]]
    indexed = Image.new("P", (3, 2), 1)
    indexed.putpalette([0, 0, 0, 10, 120, 230])
    buffer = io.BytesIO()
    indexed.save(buffer, "PNG")
    assert load_photo(buffer.getvalue()).pixels[1, 2].tolist() == [10, 120, 230]


@pytest.mark.parametrize(("alpha", "expected"), [(0, 255), (255, 40), (128, 147)])
def test_transparency_over_white(encoded, alpha, expected):
    pixels = np.full((3, 3, 4), (40, 40, 40, alpha), np.uint8)
    assert abs(int(load_photo(encoded(pixels, "PNG")).pixels[1, 1, 0]) - expected) <= 1


def test_cmyk_without_profile_is_approximate_and_said():
    buffer = io.BytesIO()
    Image.new("CMYK", (16, 16), (0, 255, 255, 0)).save(buffer, "JPEG", quality=95)
    photo = load_photo(buffer.getvalue())
    red, green, blue = photo.pixels[8, 8].astype(int)
    assert red > 200
    assert max(green, blue) < 60
    assert [f.code for f in photo.findings] == ["photo-cmyk-without-profile"]


def test_samples_of_unknown_scale_are_refused(encoded):
    with pytest.raises(vis.PhotoError, match="32-bit"):
        load_photo(encoded(np.zeros((4, 4), np.float32), "TIFF"))
