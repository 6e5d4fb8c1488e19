import io

import cv2
import numpy as np
import pytest
from PIL import Image

from visualiser.errors import PieceError
from visualiser.inventory.artwork import (
    load_artwork,
    square_up,
)
from visualiser.inventory.artwork_light import glare_share
from visualiser.inventory.artwork_shape import aspect_from_perspective

WIDTH, HEIGHT, FOCAL = 1200, 900, 980.0


def turned(aspect, yaw_deg, pitch_deg):
    """Corners (4, 2) px of a rectangle of height 2 seen 5 away by a pinhole of known focal."""
    yaw, pitch = np.radians([yaw_deg, pitch_deg])
    about_y = np.array([[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]])
    about_x = np.array(
        [[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]]
    )
    flat = np.array([[-aspect, -1, 0], [aspect, -1, 0], [aspect, 1, 0], [-aspect, 1, 0.0]])
    x, y, z = (flat @ about_y.T @ about_x.T + [0.1, 0.05, 5]).T
    return np.c_[FOCAL * x / z + (WIDTH - 1) / 2, FOCAL * y / z + (HEIGHT - 1) / 2]


def painting(rows, columns):
    rng = np.random.default_rng(2)
    coarse = rng.integers(40, 200, (7, 9, 3), dtype=np.uint8)
    return cv2.resize(coarse, (columns, rows), interpolation=cv2.INTER_CUBIC)


def photographed(picture, corners, ground=(196, 188, 176)):
    rows, columns = picture.shape[:2]
    source = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
    warp = cv2.getPerspectiveTransform(source, corners.astype(np.float32))
    photo = np.full((HEIGHT, WIDTH, 3), ground, np.uint8)
    cv2.warpPerspective(
        picture, warp, (WIDTH, HEIGHT), photo, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT
    )
    noise = np.random.default_rng(1).normal(0, 2, photo.shape)
    return np.clip(photo + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("aspect", [0.7, 1.0, 1.5])
@pytest.mark.parametrize(("yaw", "pitch"), [(0, 0), (25, 0), (20, 15), (-30, 20)])
def test_true_shape_comes_from_perspective(aspect, yaw, pitch):
    corners = turned(aspect, yaw, pitch)
    known, _ = aspect_from_perspective(corners, WIDTH, HEIGHT, FOCAL)
    assert known == pytest.approx(aspect, rel=1e-3)
    guessed, sigma = aspect_from_perspective(corners, WIDTH, HEIGHT)
    assert abs(np.log(guessed / aspect)) < 2 * sigma + 1e-3


@pytest.mark.parametrize(("yaw", "pitch"), [(0, 0), (18, 10)])
def test_a_photographed_picture_is_found_and_comes_back(yaw, pitch):
    picture = painting(400, 560)
    corners = turned(1.4, yaw, pitch)
    result = square_up(photographed(picture, corners), focal_px=FOCAL, neutralise=False)
    assert np.abs(result.corners_px - corners).max() < 2.0
    assert result.aspect == pytest.approx(1.4, rel=0.01)
    size = (560, 400)
    back = cv2.resize(result.artwork.pixels, size, interpolation=cv2.INTER_AREA).astype(float)
    inner = (slice(12, -12), slice(12, -12))
    assert np.abs(back - picture)[inner].mean() < 4


def test_clicked_corners_in_any_order():
    picture, corners = painting(300, 300), turned(1.0, 10, 5)
    photo = photographed(picture, corners)
    one = square_up(photo, corners, aspect=1.0)
    other = square_up(photo, corners[[2, 0, 3, 1]], aspect=1.0)
    assert np.array_equal(one.artwork.pixels, other.artwork.pixels)
    assert one.aspect_relative_sigma == 0


def test_white_border_becomes_neutral():
    picture = np.full((300, 400, 3), (238, 222, 190), np.uint8)  # paper under a warm lamp
    picture[60:-60, 60:-60] = painting(180, 280)
    result = square_up(picture, np.array([[0, 0], [399, 0], [399, 299], [0, 299.0]]), aspect=4 / 3)
    paper = result.artwork.pixels[20, 20].astype(int)
    assert np.ptp(paper) <= 1


def test_glare_is_told_from_white_paint():
    picture = painting(300, 400)
    assert glare_share(picture) == 0
    painted_white = picture.copy()
    cv2.circle(painted_white, (200, 150), 30, (255, 255, 255), -1)
    assert glare_share(painted_white) == 0
    y, x = np.mgrid[0:300, 0:400]
    halo = 330 * np.exp(-((x - 200) ** 2 + (y - 150) ** 2) / 2400)
    shining = np.clip(picture + halo[..., None], 0, 255).astype(np.uint8)
    assert glare_share(shining) > 0.002


def png(array, mode=None):
    out = io.BytesIO()
    Image.fromarray(array, mode).save(out, "PNG")
    return out.getvalue()


def test_awkward_files():
    with pytest.raises(PieceError, match="only 1 x 1 px"):
        load_artwork(png(np.zeros((1, 1, 3), np.uint8)), "dot")
    with pytest.raises(PieceError, match=r"Artwork notes: .*not a picture"):
        load_artwork(b"plain text", "notes")
    clear = np.zeros((40, 40, 4), np.uint8)
    assert (load_artwork(png(clear)).pixels == 255).all()
    out = io.BytesIO()
    Image.new("CMYK", (40, 40), (0, 255, 255, 0)).save(out, "JPEG")
    red, green, _ = load_artwork(out.getvalue()).pixels[20, 20]
    assert red > green + 80


def test_three_hundred_megapixels_are_refused_before_decoding():
    import struct
    import zlib

    def chunk(kind, data):
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", 20000, 15000, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 200_000)
    file = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", data)
    with pytest.raises(PieceError):
        load_artwork(file + b"\0" * 200_000 + chunk(b"IEND", b""))


@pytest.mark.parametrize(
    "corners",
    [
        np.array([[0, 0], [10, 0], [20, 0], [30, 0.0]]),
        np.array([[0, 0], [100, 0], [100, 100.0]]),
        np.array([[0, 0], [100, 0], [40, 30], [0, 100.0]]),
        np.full((4, 2), np.nan),
    ],
)
def test_corners_that_make_no_picture(corners):
    with pytest.raises(PieceError, match="corner"):
        square_up(painting(200, 200), corners)


def test_a_plain_photo_holds_no_picture():
    with pytest.raises(PieceError, match="No picture"):
        square_up(np.full((300, 400, 3), 128, np.uint8))
