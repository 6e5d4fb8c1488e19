"""What glass over a print and the coat of a moulding mirror, and what they let through."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.geometry import Rect
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.shading import BOUNCE, even_share, room_lights
from visualiser.rendering.sight_lines import SightLines
from visualiser.survey.main_light import MainLight

_INDEX = 1.5
_ROUGHNESS = 0.15
"""Of a moulding's satin lacquer or paint: root mean square slope times the square root of 2. A
middling value; no source."""
UNSURE = 0.25
"""Spread of the main light's direction, radians: between a near window and one far aside."""


def view_of(lines: SightLines, area: Rect) -> tuple[float, float, float]:
    """Direction (unit length) from the middle of an area of the wall to the camera."""
    (x, y), (cx, cy, cz) = area.centre_mm, lines.centre_mm
    length = math.sqrt((cx - x) ** 2 + (cy - y) ** 2 + cz**2)
    return (cx - x) / length, (cy - y) / length, cz / length


def mirrored(cosine: ArrayLike) -> NDArray[np.float64]:
    """Part of the light that one smooth surface mirrors, by the cosine of its angle.

    Fresnel's equations for unpolarised light and an index of 1.5: glass, varnish, paint.

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th edition, section 1.5.2.
    """
    outside = np.clip(np.asarray(cosine, float), 0.0, 1.0)
    inside = np.sqrt(1 - (1 - outside**2) / _INDEX**2)
    across = (outside - _INDEX * inside) / (outside + _INDEX * inside)
    along = (inside - _INDEX * outside) / (inside + _INDEX * outside)
    return np.asarray((across**2 + along**2) / 2)


def room_brightness(light: MainLight) -> float:
    """Brightness of the room that a pane on the wall shows, against white on the wall.

    White on the wall is as bright as the room before it is on the mean, weighted by the cosine:
    that is what lights it. The main light's part of that lies in one place, which a smooth pane
    hardly ever shows to the camera; the rest is seen.
    """
    return 1 - light.share


def room_towards(
    directions: NDArray[np.float64],
    light: MainLight,
    unsure: float = UNSURE,
    behind: ArrayLike = BOUNCE,
) -> NDArray[np.float64]:
    """Brightness of the room in a direction, as a satin coat blurs it, against white on the wall.

    What lights the wall is what the coat shows, so the lights are those that shade the pieces, each
    a Gaussian about its middle that sends as much as its even disc and spreads as far, the coat's
    roughness added. Just where the main light stands is not known: over the places where it may
    stand the mean is taken as an eye sees brightness, by its cube root. A gleam that is there in
    one case of ten is not drawn a tenth as bright, for that looks too bright in the other nine.

    Parameters
    ----------
    directions
        (..., 3) unit vectors; what points into the wall meets the wall.
    light
        The main light.
    unsure
        Spread of its direction, radians: how far off it may be.
    behind
        Brightness of what lies in the wall's half.

    References
    ----------
    B. Walter and others, Microfacet Models for Refraction through Rough Surfaces, Eurographics
    Symposium on Rendering 2007, for Beckmann's distribution of slopes, which turn what they mirror
    by twice their own angle. From memory.
    CIE 15:2004, clause 8.2.1: lightness goes with the cube root of light.
    """
    steady = np.full(directions.shape[:-1], even_share(light))
    for lamp in room_lights(light):
        if lamp is not light:
            steady = steady + _lobe(directions, lamp, _towards(lamp))
    seen_as = np.zeros_like(steady)
    for towards, weight in _places(_towards(light), unsure):
        seen_as = seen_as + weight * np.cbrt(steady + _lobe(directions, light, towards))
    facing = np.clip(directions[..., 2] / 0.4 + 0.5, 0.0, 1.0)
    return np.asarray(facing * seen_as**3 + (1 - facing) * np.asarray(behind, float))


def _towards(lamp: MainLight) -> NDArray[np.float64]:
    """Return the unit vector to the middle of a light."""
    towards = np.array([lamp.slope_x, lamp.slope_y, 1.0])
    return np.asarray(towards / np.linalg.norm(towards))


def _lobe(
    directions: NDArray[np.float64], lamp: MainLight, towards: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Brightness of one light, standing in a direction, blurred by the coat."""
    cosine = float(towards[2])
    # Aside, a slope spans less of an angle, by the cosine squared. An even disc's variance along a
    # line is a quarter of its radius squared.
    spread = (lamp.radius * cosine**2 / 2) ** 2 + 2 * _ROUGHNESS**2
    angle = np.arccos(np.clip(directions @ towards, -1.0, 1.0))
    return np.asarray(lamp.share / cosine / (2 * spread) * np.exp(-(angle**2) / (2 * spread)))


def _places(towards: NDArray[np.float64], unsure: float) -> list[tuple[NDArray[np.float64], float]]:
    """Directions in which a light may stand, with their weights: a normal distribution's nodes."""
    across = np.cross([0.0, 1.0, 0.0], towards)
    across /= np.linalg.norm(across)
    up = np.cross(towards, across)
    nodes = ((-math.sqrt(3), 1 / 6), (0.0, 2 / 3), (math.sqrt(3), 1 / 6))  # Gauss and Hermite's
    places = []
    for a, weight_a in nodes:
        for b, weight_b in nodes:
            moved = towards + unsure * (a * across + b * up)
            moved[2] = max(moved[2], 0.1)  # it stands before the wall
            places.append((moved / np.linalg.norm(moved), weight_a * weight_b))
    return places


def coat_mirrors(
    view: tuple[float, float, float],
    normals: NDArray[np.float64],
    light: MainLight,
    behind: ArrayLike = BOUNCE,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Part that a satin coat mirrors to the camera, and how bright is what it mirrors.

    Parameters
    ----------
    view
        Unit vector to the camera.
    normals
        (..., 3) unit normals.
    light
        The main light.
    behind
        Brightness of the wall, or of what else lies in its half, beside each.
    """
    eye = np.asarray(view)
    cosine = normals @ eye
    direction = 2 * cosine[..., None] * normals - eye
    return mirrored(np.abs(cosine)), room_towards(direction, light, behind=behind)


def under_coat(
    below: NDArray[np.float64], surface: NDArray[np.float64] | float
) -> NDArray[np.float64]:
    """Light of wood or pigment under varnish or paint, crossed on the way in and out."""
    return np.asarray(below * (1 - surface) ** 2)


def behind_glass(below: LinearRgb, surface: float) -> LinearRgb:
    """Light of mat and print seen through a pane of two surfaces, each mirroring ``surface``.

    It is lit through the pane and seen through it; what the pane throws back lights it again.
    The series of reflections between the two surfaces gives the pane's own part.
    """
    pane = 2 * surface / (1 + surface)
    return below * (1 - pane) ** 2 / (1 - pane * below)


def pane_mirror(surface: float) -> float:
    """Part of the light that a pane of two surfaces mirrors."""
    return 2 * surface / (1 + surface)
