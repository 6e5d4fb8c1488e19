"""Bow of sides against the sagitta of a circle's arc, and shapes that only look like sheets."""

import cv2
import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound
from visualiser.photo.photo import Photo
from visualiser.rectification.bowed_sides import bow_share
from visualiser.rectification.finding import convincing, find_references
from visualiser.rectification.reference import EdgeSamples


def arc(radius, chord, count=20):
    half = np.arcsin(chord / 2 / radius)
    angle = np.linspace(-half, half, count)
    points = radius * np.c_[np.sin(angle), np.cos(angle)]
    return EdgeSamples(points, np.tile([0.0, 1.0], (count, 1)), np.full(count, 0.05))


@pytest.mark.parametrize("bow", [0.005, 0.02, 0.06])
def test_the_bow_of_an_arc_is_its_sagitta(bow):
    """Radius from chord and sagitta: r = c² / 8 s + s / 2."""
    chord = 100.0
    sagitta = bow * chord
    side = arc(chord**2 / (8 * sagitta) + sagitta / 2, chord)
    assert bow_share((side,) * 4) == pytest.approx(bow, rel=0.03)


def test_one_loose_corner_does_not_bow_the_sheet():
    straight = arc(1e6, 100.0)
    assert bow_share((arc(200.0, 100.0), straight, straight, straight)) < 0.001
    assert bow_share(()) == 0.0


def ring(power):
    """A white shape of a sheet's length and width on grey: an ellipse for power 2, then squarer."""
    y, x = np.mgrid[0:640, 0:900].astype(float)
    inside = (np.abs(x - 450) / 150) ** power + (np.abs(y - 320) / 212) ** power < 1
    light = cv2.GaussianBlur(np.where(inside, 236.0, 120.0), (0, 0), 0.8)
    light += np.random.default_rng(0).normal(0, 1.5, light.shape)
    return Photo(np.repeat(np.clip(light, 0, 255)[..., None], 3, axis=2).astype(np.uint8))


@pytest.mark.parametrize("power", [2, 3, 4])
def test_the_inside_of_a_letter_is_no_sheet(power):
    with pytest.raises(ReferenceNotFound):
        convincing(find_references(ring(power), "a4"))


def test_a_sheet_of_that_size_is_one():
    assert convincing(find_references(ring(400), "a4")).kind == "a4"
