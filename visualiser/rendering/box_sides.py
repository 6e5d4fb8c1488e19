"""The outer sides of a piece's box, seen when one stands beside it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.coverage import covered, filled_part
from visualiser.rendering.finishes import moulding_finish
from visualiser.rendering.glazing import mirrored, under_coat
from visualiser.rendering.shading import BOUNCE, SIDES, even_share, room_lights, side_light
from visualiser.rendering.sight_lines import Field, Region, SightLines
from visualiser.survey.main_light import MainLight


def side_cover(side: str, rect: Rect, depth: float, lines: SightLines) -> Field | None:
    """Share of each pixel that an outer side of the box fills; None when it faces away."""
    ox, oy = SIDES[side]
    axis = 0 if ox else 1
    at = {
        "left": rect.left_mm, "right": rect.right_mm, "bottom": rect.bottom_mm, "top": rect.top_mm
    }[side]  # fmt: skip
    towards = (lines.centre_mm[axis] - at) * (ox + oy)
    if towards < 1.0 or depth <= 0:
        return None
    # Only pixels near that edge of the box: elsewhere the plane is seen far off or behind.
    wall = lines.x_mm if axis == 0 else lines.y_mm
    pitch = lines.pitch_x_mm if axis == 0 else lines.pitch_y_mm
    shift = towards * depth / max(lines.centre_mm[2] - depth, 1.0)
    step = np.float32(-(ox + oy)) * (wall - np.float32(at))
    near = (step > -2 * pitch) & (step < np.float32(shift) + 2 * pitch)
    rows, columns = filled_part(near.astype(np.float32))
    if rows.stop - rows.start < 2 or columns.stop - columns.start < 2:
        return None
    y0, x0 = lines.region.y + rows.start, lines.region.x + columns.start
    part = lines.part(Region(x0, y0, columns.stop - columns.start, rows.stop - rows.start))
    along, z = part.on_side(axis, at)
    down, right = np.gradient(z)
    share = covered(z, 0.0, depth, np.hypot(down, right) + np.float32(1e-6))
    low, high = (rect.bottom_mm, rect.top_mm) if axis == 0 else (rect.left_mm, rect.right_mm)
    down, right = np.gradient(along)
    share = share * covered(along, low, high, np.hypot(down, right) + np.float32(1e-6))
    out = np.zeros(lines.x_mm.shape, np.float32)
    out[rows, columns] = share * near[rows, columns]
    return out


def side_tone(
    side: str,
    piece: Piece,
    print_light: LinearRgb,
    light: MainLight,
    view: tuple[float, float, float] = (0.0, 0.0, 1.0),
    ground: ArrayLike = BOUNCE,
) -> NDArray[np.float64]:
    """Light that a side of the box sends, from its colour and the way it faces.

    It is lit by the wall too. A coated side is seen so much aslant that it mirrors a good part of
    the wall at its foot.

    Parameters
    ----------
    side
        Which.
    piece
        The piece.
    print_light
        Its print: a wrapped canvas carries on the colours of its edge.
    light
        The main light.
    view
        Unit vector to the camera.
    ground
        Reflectance of the wall.
    """
    ox, oy = SIDES[side]
    if piece.moulding:
        finish = moulding_finish(piece.moulding)
        colour = np.asarray(finish.reflectance, float)
    else:
        edge = {
            "left": print_light[:, 0], "right": print_light[:, -1],
            "bottom": print_light[-1], "top": print_light[0],
        }[side]  # fmt: skip
        finish, colour = None, edge.mean(axis=0).astype(float)
    tone = colour * side_light(ox, oy, light, ground)
    if finish is not None and finish.coated:
        surface = float(mirrored(ox * view[0] + oy * view[1]))
        at_foot = lit_at_foot(ox, oy, light) * np.asarray(ground, float)
        tone = under_coat(tone, surface) + surface * at_foot
    return np.asarray(tone)


def lit_at_foot(ox: float, oy: float, light: MainLight) -> float:
    """Part of the wall's light that is left at the foot of a side that faces (ox, oy)."""
    left = 0.5 * even_share(light)
    for lamp in room_lights(light):
        towards = (ox * lamp.slope_x + oy * lamp.slope_y) / float(lamp.half_width(ox, oy))
        left += lamp.share * float(np.clip(0.5 + 0.5 * towards, 0, 1))
    return left
