"""The step from a moulding's front down to mat and print: its shadow and its inner faces."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect
from visualiser.rendering.finishes import Finish
from visualiser.rendering.shading import (
    BOUNCE,
    even_light_in_recess,
    even_share,
    room_lights,
    side_light,
    soft_step,
)
from visualiser.rendering.sight_lines import Field, SightLines
from visualiser.survey.main_light import MainLight


def recess_light(
    x: Field,
    y: Field,
    opening: Rect,
    depth: float,
    light: MainLight,
    rail: float,
    ground: float = BOUNCE,
) -> Field:
    """Part of the wall's light that reaches mat and print under the moulding's lip.

    A pale lip gives back much of what it hides, by its own light and reflectance ``rail``; it is
    lit by what lies in the recess too, of the reflectance ``ground``.
    """
    edges = (
        x - np.float32(opening.left_mm),
        np.float32(opening.right_mm) - x,
        y - np.float32(opening.bottom_mm),
        np.float32(opening.top_mm) - y,
    )
    even = np.float32(even_share(light))
    total: Field = np.full_like(x, even)
    inwards = ((1, 0), (-1, 0), (0, 1), (0, -1))
    given = [rail * float(side_light(*way, light, ground)) for way in inwards]
    for edge, back in zip(edges, given, strict=True):
        total += (np.float32(back) - even) * even_light_in_recess(edge, depth)
    for lamp in room_lights(light):
        soft_x, soft_y = (max(float(lamp.half_width(*d)) * depth, 0.3) for d in ((1, 0), (0, 1)))
        across, up = lamp.slope_x * depth, lamp.slope_y * depth
        lit: Field = np.full_like(x, lamp.share)
        shifts = ((-across, soft_x), (across, soft_x), (-up, soft_y), (up, soft_y))
        for edge, (shift, width) in zip(edges, shifts, strict=True):
            # The lip's shadow falls away from the light by its slope times the depth.
            lit = lit * soft_step(edge - np.float32(shift), width)
        total = total + lit
    return np.asarray(np.maximum(total, 0), np.float32)


def lip_tone(
    lines: SightLines, opening: Rect, finish: Finish, light: MainLight, ground: float
) -> NDArray[np.float64]:
    """Light of the lip's inner faces: those that the camera sees, weighted as it sees them."""
    cx, cy, cz = lines.centre_mm
    mx, my = opening.centre_mm
    across, up = (mx - cx) / cz, (my - cy) / cz
    # Seen from the left (across > 0) the right lip's face shows, which looks left.
    x_tone = float(side_light(math.copysign(1.0, -across), 0.0, light, ground))
    y_tone = float(side_light(0.0, math.copysign(1.0, -up), light, ground))
    total = abs(across) + abs(up) + 1e-9
    tone = (abs(across) * x_tone + abs(up) * y_tone) / total
    return np.asarray(np.asarray(finish.reflectance) * tone)
