import numpy as np
import pytest

from visualiser.photo.linear_light import to_linear, to_pixels
from visualiser.rendering.wall_repair import paint_out


def papered(survey, sheet):
    """Photo of a wallpaper with a 530 mm repeat of odd blots, with or without a sheet on it."""
    rng = np.random.default_rng(5)
    tile = np.full((106, 106, 3), 0.55)
    for _ in range(40):
        x, y = rng.integers(0, 106, 2)
        rows = np.arange(y, y + rng.integers(4, 14)) % 106
        columns = np.arange(x, x + rng.integers(4, 14)) % 106
        tile[np.ix_(rows, columns)] = rng.uniform(0.1, 0.6, 3)
    gy, gx = np.mgrid[0:600, 0:800].astype(float)
    wall = survey.to_wall(np.c_[gx.ravel(), gy.ravel()])
    u, v = np.floor(wall / 5).astype(int).T % 106
    linear = tile[v, u] * (0.9 * np.exp(-wall[:, :1] / 6000))
    if sheet:
        x, y = (wall + survey.datum_mm).T
        linear[(np.abs(x) < 105) & (np.abs(y) < 148.5)] = 0.8
    return to_pixels(linear.reshape(600, 800, 3).astype(np.float32))


def test_a_repeating_pattern_is_taken_up_again(frontal):
    """The wall that was drawn behind the sheet is the truth."""
    truth, pixels = papered(frontal, sheet=False), papered(frontal, sheet=True)
    corners = frontal.plane.reference_corners_px
    assert paint_out(pixels, frontal, corners, [])
    (x0, y0), (x1, y1) = corners.min(axis=0).astype(int) - 6, corners.max(axis=0).astype(int) + 6
    error = to_linear(pixels)[y0:y1, x0:x1] - to_linear(truth)[y0:y1, x0:x1]
    contrast = to_linear(truth)[y0:y1, x0:x1].std()
    assert np.sqrt((error**2).mean()) < 0.5 * contrast


def test_a_plain_wall_keeps_its_light_and_its_grain(oblique, painted):
    pixels = painted(oblique, noise=0.02).pixels.copy()
    corners = oblique.plane.reference_corners_px
    assert paint_out(pixels, oblique, corners, [])
    x, y = corners.mean(axis=0).astype(int)
    filled = to_linear(pixels[y - 8 : y + 8, x - 5 : x + 5])
    wall = 0.75 * np.exp(900 / 4000) * np.array([0.62, 0.58, 0.5])
    assert filled.mean(axis=(0, 1)) == pytest.approx(wall, rel=0.03)
    beside = to_linear(pixels[y - 8 : y + 8, x - 75 : x - 65])
    assert filled.std() == pytest.approx(beside.std(), rel=0.35)


def test_nothing_is_changed_where_no_wall_is_left_to_copy(oblique, painted):
    pixels = painted(oblique).pixels.copy()
    before = pixels.copy()
    everything = np.array([[0.0, 0], [799, 0], [799, 599], [0, 599]])
    assert not paint_out(pixels, oblique, oblique.plane.reference_corners_px, [everything])
    assert np.array_equal(pixels, before)


def test_nothing_changes_far_from_the_sheet(oblique, painted):
    photo = painted(oblique, noise=0.02)
    pixels = photo.pixels.copy()
    paint_out(pixels, oblique, oblique.plane.reference_corners_px, [])
    changed = np.argwhere((pixels != photo.pixels).any(axis=2))[:, ::-1]
    corners = oblique.plane.reference_corners_px
    assert (changed >= corners.min(axis=0) - 25).all()
    assert (changed <= corners.max(axis=0) + 25).all()
