import numpy as np
import pytest

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.errors import PieceError
from visualiser.photo.linear_light import to_linear
from visualiser.rendering.wall_colour import relight, repaint_wall, repainted_light
from visualiser.survey.light import estimate_light


def test_new_paint_has_the_old_light(oblique, painted):
    photo = painted(oblique)
    light = estimate_light(photo, oblique)
    pixels = photo.pixels.copy()
    assert repaint_wall(pixels, oblique, light, "#4f6d7a") > 0.9
    for x in (-1200, 0, 600):
        px, py = oblique.to_photo(np.array([[x, 1700.0]]))[0].round().astype(int)
        shown = to_linear(pixels[py - 2 : py + 3, px - 2 : px + 3]).mean(axis=(0, 1))
        truth = 0.75 * np.exp(-x / 4000) * hex_to_linear("#4f6d7a")
        truth *= repainted_light(light.wall_reflectance, hex_to_linear("#4f6d7a"))
        assert shown == pytest.approx(truth, rel=0.06)


def given_back(size_m, reflectances, count=40_000):
    """Share of what the wall z = 0 of a box gives that comes back to it, by following rays.

    A second method: directions by Lambert's cosine law, each surface's own reflectance.
    """
    rng = np.random.default_rng(5)
    size = np.array(size_m)
    at = rng.uniform(0, 1, (count, 3)) * size
    at[:, 2] = 0
    face = np.full(count, 4)  # left, right, floor, ceiling, this wall, the one behind
    weight, back = np.ones(count), 0.0
    for _ in range(60):
        radius, turn = np.sqrt(rng.uniform(size=count)), rng.uniform(0, 2 * np.pi, count)
        local = np.c_[radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2)]
        axis, far = face // 2, face % 2
        way = np.empty((count, 3))
        for k in range(3):
            rows = axis == k
            way[np.ix_(rows, [(k + 1) % 3, (k + 2) % 3])] = local[rows, :2]
            way[rows, k] = np.where(far[rows], -1, 1) * local[rows, 2]
        with np.errstate(divide="ignore"):
            steps = np.where(way > 0, (size - at) / way, -at / way)
        hit = steps.argmin(axis=1)
        at = at + steps[np.arange(count), hit][:, None] * way
        face = 2 * hit + (way[np.arange(count), hit] > 0)
        home = face == 4
        back += weight[home].sum()
        weight = np.where(home, 0, weight * np.array(reflectances)[face])
    return back / count


@pytest.mark.parametrize("size_m", [(5, 2.5, 4.5), (6.5, 2.6, 5.2), (4, 2.4, 3.5)])
def test_a_dark_wall_is_lit_less_by_its_room(size_m):
    """Against rays followed in rooms of the reflectances that are recommended for rooms."""
    back = given_back(size_m, [0.65, 0.65, 0.3, 0.8, 0.0, 0.65])
    white, dark = 0.8, 0.06
    truth = (1 - back * white) / (1 - back * dark)
    assert truth < 0.92
    assert repainted_light([white] * 3, [dark] * 3) == pytest.approx([truth] * 3, abs=0.015)


def test_the_sheet_is_not_repainted(oblique, painted):
    photo = painted(oblique)
    pixels = photo.pixels.copy()
    repaint_wall(pixels, oblique, estimate_light(photo, oblique), "#4f6d7a")
    x, y = oblique.plane.reference_corners_px.mean(axis=0).astype(int)
    assert np.array_equal(pixels[y, x], photo.pixels[y, x])


def test_an_unreadable_colour_is_named(oblique, painted):
    photo = painted(oblique)
    with pytest.raises(PieceError, match=r"'sage'.*hash and six digits"):
        repaint_wall(photo.pixels.copy(), oblique, estimate_light(photo, oblique), "sage")


def test_a_cast_goes_out_and_evening_is_warmer(oblique, painted):
    photo = painted(oblique)
    light = estimate_light(photo, oblique)
    x, y = oblique.plane.reference_corners_px.mean(axis=0).astype(int)
    shown = {}
    for kind in ("as photographed", "neutral", "evening"):
        pixels = photo.pixels.copy()
        relight(pixels, light, kind)
        shown[kind] = pixels[y, x].astype(int)
    assert np.ptp(shown["neutral"]) <= 2
    assert shown["evening"][0] > shown["evening"][2] + 20
    assert np.array_equal(shown["as photographed"], photo.pixels[y, x])
