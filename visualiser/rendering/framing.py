"""One framed work as a box on the wall, at true scale, in linear light.

Every part is drawn where the sight lines meet it: the moulding's front on its own plane, mat and
print on theirs a few millimetres further back, the box's sides square to the wall. Edges are
covered by the share of the pixel that they fill, so nothing is staircased and nothing is blurred.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike

from visualiser.geometry import Rect
from visualiser.inventory.moulding_section import edge_depth_mm, face_section, lip_depth_mm
from visualiser.inventory.piece import Piece
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.box_sides import side_cover, side_tone
from visualiser.rendering.coverage import covered_rect, filled_part, inset
from visualiser.rendering.finishes import mat_reflectance, moulding_finish
from visualiser.rendering.glazing import (
    behind_glass,
    mirrored,
    pane_mirror,
    room_brightness,
    view_of,
)
from visualiser.rendering.rails import draw_rails
from visualiser.rendering.recess import lip_tone, recess_light
from visualiser.rendering.shading import BOUNCE, SIDES
from visualiser.rendering.sight_lines import Field, SightLines
from visualiser.survey.main_light import MainLight

BEVEL_MM = 1.2
"""Visible width of a mat's 45° cut: four-ply board is about 1.4 mm thick. Common practice."""
RECESS_MM = 6.0
"""How far mat and print lie behind the moulding's front. Common practice, no source."""
_BEVEL_CORE = (0.86, 0.85, 0.83)


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """Part of a photo that a piece fills.

    Parameters
    ----------
    light
        (H, W, 3) what it would send to the camera under light of 1, times ``cover``.
    cover
        (H, W) share of each pixel that it fills, 0 to 1.
    """

    light: LinearRgb
    cover: Field


def opening_of(piece: Piece, rect: Rect) -> Rect:
    """Rectangle inside the moulding."""
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    return inset(rect, rail, rail, rail, rail)


def window_of(piece: Piece, rect: Rect) -> Rect:
    """Rectangle of the print that is seen, inside moulding and mat."""
    opening = opening_of(piece, rect)
    if piece.mat is None:
        return opening
    mat = piece.mat
    return inset(opening, mat.sides_mm, mat.sides_mm, mat.bottom_mm, mat.top_mm)


def draw_piece(
    piece: Piece,
    rect: Rect,
    lines: SightLines,
    print_light: LinearRgb,
    light: MainLight,
    glare: bool = True,
    ground: ArrayLike = BOUNCE,
) -> Drawing:
    """Draw one piece for the sight lines of a region.

    Parameters
    ----------
    piece
        What hangs.
    rect
        Its outside on the wall, survey mm.
    lines
        Sight lines of the region.
    print_light
        (h, w, 3) reflectance of the print, shrunk to about the size it is seen at.
    light
        Direction of the light, for the moulding's profile, the sides and the inner shadow.
    glare
        Whether the room shows faintly in the glazing.
    ground
        Reflectance of the wall, which lights the sides and shows in their coat.
    """
    depth = edge_depth_mm(piece)
    front = _front_cover(piece, rect, lines)
    if piece.moulding:
        wall = float(np.asarray(ground, float).mean())
        colour = _framed_front(piece, rect, lines, print_light, light, glare, wall)
    else:
        colour = _print_on(rect, *lines.on_plane(depth), print_light)
    drawing = np.asarray(colour * front[..., None], np.float32)
    cover, view = front, view_of(lines, rect)
    for side in SIDES:
        share = side_cover(side, rect, depth, lines)
        if share is None:
            continue
        tone = np.float32(side_tone(side, piece, print_light, light, view, ground))
        drawing += share[..., None] * tone
        cover = cover + share
    return Drawing(drawing, np.minimum(cover, np.float32(1)))


def _front_cover(piece: Piece, rect: Rect, lines: SightLines) -> Field:
    """Share of each pixel inside the front's outline.

    That of its outer edge, joined by whatever of a rounded face rises beyond it.
    """
    levels = np.array([[0.0, piece.stand_off_mm]])
    if piece.moulding:
        section = face_section(piece.moulding)
        levels = section[: int(section[:, 1].argmax()) + 1 : 2]
    cover: Field | None = None
    for distance, height in levels:
        s = np.float32(lines.scale_at(height))
        x, y = lines.on_plane(height)
        level = inset(rect, distance, distance, distance, distance)
        share = covered_rect(x, y, level, lines.pitch_x_mm * s, lines.pitch_y_mm * s)
        cover = share if cover is None else np.maximum(cover, share)
    assert cover is not None
    return cover


def _framed_front(
    piece: Piece,
    rect: Rect,
    lines: SightLines,
    print_light: LinearRgb,
    light: MainLight,
    glare: bool,
    wall: float,
) -> LinearRgb:
    """Front of a framed piece before its outer edge is cut: rail, recess, mat, print."""
    assert piece.moulding is not None
    depth, opening = lip_depth_mm(piece.moulding), opening_of(piece, rect)
    finish = moulding_finish(piece.moulding)
    x, y = lines.on_plane(depth)
    s = np.float32(lines.scale_at(depth))
    px, py = lines.pitch_x_mm * s, lines.pitch_y_mm * s
    ground = _ground_of(piece, print_light)
    out = draw_rails(piece, rect, lines, finish, light, glare, (round(wall, 2), ground))
    inside = covered_rect(x, y, opening, px, py)
    rows, columns = filled_part(inside)
    if rows.stop == 0:
        return out
    # Only the opening's own pixels from here on.
    recess = min(RECESS_MM, 0.4 * depth)
    xr, yr = lines.on_plane(depth - recess)
    xr, yr, px, py = (f[rows, columns] for f in (xr, yr, px, py))
    floor = covered_rect(xr, yr, opening, px, py)
    below = _floor(piece, rect, xr, yr, px, py, print_light)
    rail = float(np.mean(finish.reflectance))
    below *= recess_light(xr, yr, opening, recess, light, rail, ground)[..., None]
    if piece.glazing != "none":
        surface = float(mirrored(view_of(lines, opening)[2]))
        below = behind_glass(below, surface)
        if glare:
            below += np.float32(pane_mirror(surface) * room_brightness(light))
    # What is not floor inside the opening is the lip's inner face, seen at an angle.
    lip = np.float32(lip_tone(lines, opening, finish, light, ground))
    below = lip + floor[..., None] * (below - lip)
    part = out[rows, columns]
    part += inside[rows, columns, None] * (below - part)
    return out


def _ground_of(piece: Piece, print_light: LinearRgb) -> float:
    """Mean reflectance of what lies beside a moulding's lip: the mat, or else the print's edge."""
    if piece.mat is not None:
        return round(float(np.mean(mat_reflectance(piece.mat.colour))), 2)
    edge = (print_light[:, 0], print_light[:, -1], print_light[0], print_light[-1])
    return round(float(np.mean([side.mean() for side in edge])), 2)


def _floor(
    piece: Piece,
    rect: Rect,
    x: Field,
    y: Field,
    px: Field,
    py: Field,
    print_light: LinearRgb,
) -> LinearRgb:
    """Mat and print, flat."""
    window = window_of(piece, rect)
    shown = _print_on(window, x, y, print_light)
    if piece.mat is None:
        return shown
    mat = np.array(mat_reflectance(piece.mat.colour), np.float32)
    bevel = np.array(_BEVEL_CORE, np.float32)
    cut = covered_rect(x, y, window.grown(BEVEL_MM), px, py)[..., None]
    hole = covered_rect(x, y, window, px, py)[..., None]
    return np.asarray(mat + cut * (bevel - mat) + hole * (shown - bevel), np.float32)


def _print_on(window: Rect, x: Field, y: Field, print_light: LinearRgb) -> LinearRgb:
    """Print spread over its window; beyond it the edge's colour goes on."""
    rows, columns = print_light.shape[:2]
    u = (x - np.float32(window.left_mm)) * np.float32(columns / window.width_mm) - np.float32(0.5)
    v = (np.float32(window.top_mm) - y) * np.float32(rows / window.height_mm) - np.float32(0.5)
    return np.asarray(
        cv2.remap(print_light, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )
