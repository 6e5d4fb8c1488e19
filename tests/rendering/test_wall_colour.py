import numpy as np
import pytest

from visualiser.colour.colorimetry import hex_to_linear
from visualiser.errors import PieceError
from visualiser.photo.linear_light import to_linear
from visualiser.rendering.wall_colour import relight, repaint_wall
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
        assert shown == pytest.approx(truth, rel=0.06)


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
