"""What glass over a print and the coat of a moulding mirror, and what they let through."""

from __future__ import annotations

import math

from visualiser.geometry import Rect
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.sight_lines import SightLines
from visualiser.survey.light import MainLight


def mirrored(lines: SightLines, area: Rect) -> float:
    """Part of the light that one smooth surface, parallel to the wall, mirrors to the camera.

    Schlick's approximation for an index of 1.5: glass, varnish, paint.

    References
    ----------
    C. Schlick, "An inexpensive BRDF model for physically-based rendering", Computer Graphics
    Forum 13(3), 1994.
    """
    x, y = area.centre_mm
    cx, cy, cz = lines.centre_mm
    cosine = cz / math.sqrt((x - cx) ** 2 + (y - cy) ** 2 + cz**2)
    return 0.04 + 0.96 * (1 - cosine) ** 5


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
