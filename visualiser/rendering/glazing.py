"""What glass over a print and the coat of a moulding mirror, and what they let through."""

from __future__ import annotations

import math

from visualiser.geometry import Rect
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.sight_lines import SightLines
from visualiser.survey.light import MainLight

_INDEX = 1.5


def mirrored(lines: SightLines, area: Rect) -> float:
    """Part of the light that one smooth surface, parallel to the wall, mirrors to the camera.

    Fresnel's equations for unpolarised light and an index of 1.5: glass, varnish, paint.

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th edition, section 1.5.2.
    """
    x, y = area.centre_mm
    cx, cy, cz = lines.centre_mm
    outside = cz / math.sqrt((x - cx) ** 2 + (y - cy) ** 2 + cz**2)
    inside = math.sqrt(1 - (1 - outside**2) / _INDEX**2)
    across = (outside - _INDEX * inside) / (outside + _INDEX * inside)
    along = (inside - _INDEX * outside) / (inside + _INDEX * outside)
    return (across**2 + along**2) / 2


def room_brightness(light: MainLight) -> float:
    """Brightness of the room that a mirror on the wall shows, against white on the wall.

    White on the wall is as bright as the room before it is on the mean, weighted by the cosine:
    that is what lights it. The main light's part of that lies in one place, which a mirror hardly
    ever shows to the camera; the rest is seen.
    """
    return 1 - light.share


def under_coat(below: LinearRgb, surface: float) -> LinearRgb:
    """Light of wood or pigment under varnish or paint, crossed on the way in and out."""
    return below * (1 - surface) ** 2


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
