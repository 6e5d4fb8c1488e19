"""One framed work as a box on the wall, at true scale, in linear light.

Every part is drawn where the sight lines meet it: the moulding's front on its own plane, mat and
print on theirs a few millimetres further back, the box's sides square to the wall. Edges are
covered by the share of the pixel that they fill, so nothing is staircased and nothing is blurred.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect
from visualiser.inventory.piece import Moulding, Piece
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.finishes import Finish, mat_reflectance, moulding_finish, wood_figure
from visualiser.rendering.moulding_section import edge_depth_mm, face_section, lip_depth_mm
from visualiser.rendering.shading import even_light_in_recess, shade, soft_step
from visualiser.rendering.sight_lines import Field, SightLines
from visualiser.survey.light import MainLight

BEVEL_MM = 1.2
"""Visible width of a mat's 45° cut: four-ply board is about 1.4 mm thick. Common practice."""
RECESS_MM = 6.0
"""How far mat and print lie behind the moulding's front. Common practice, no source."""
ROOM_BRIGHTNESS = 0.5
"""Mean brightness of a furnished room against white on its wall; common practice, no source."""
_BOUNCE = 0.5
"""Reflectance of what surrounds a moulding's sides: wall, mat, its own lip; a middling value."""
_BEVEL_CORE = (0.86, 0.85, 0.83)
_SIDES = {"left": (-1, 0), "right": (1, 0), "bottom": (0, -1), "top": (0, 1)}


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


def covered(value_mm: Field, low_mm: float, high_mm: float, pitch_mm: Field) -> Field:
    """Share of each pixel between two parallel edges; right even for slits under a pixel."""
    inverse = 1 / pitch_mm
    return np.asarray(
        np.clip((value_mm - np.float32(low_mm)) * inverse + np.float32(0.5), 0, 1)
        - np.clip((value_mm - np.float32(high_mm)) * inverse + np.float32(0.5), 0, 1)
    )


def covered_rect(x_mm: Field, y_mm: Field, rect: Rect, px_mm: Field, py_mm: Field) -> Field:
    """Share of each pixel inside a rectangle."""
    return np.asarray(
        covered(x_mm, rect.left_mm, rect.right_mm, px_mm)
        * covered(y_mm, rect.bottom_mm, rect.top_mm, py_mm)
    )


def inset(rect: Rect, left: float, right: float, bottom: float, top: float) -> Rect:
    """Rectangle with strips taken off its sides."""
    return Rect(
        rect.x_mm + left,
        rect.y_mm + bottom,
        max(rect.width_mm - left - right, 0.0),
        max(rect.height_mm - bottom - top, 0.0),
    )


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
    """
    depth = edge_depth_mm(piece)
    front = _front_cover(piece, rect, lines)
    if piece.moulding:
        colour = _framed_front(piece, rect, lines, print_light, light, glare)
    else:
        colour = _print_on(rect, *lines.on_plane(depth), print_light)
    drawing = np.asarray(colour * front[..., None], np.float32)
    cover = front
    for side in _SIDES:
        share = _side_cover(side, rect, depth, lines)
        if share is None:
            continue
        tone = np.float32(_side_tone(side, piece, print_light, light))
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
) -> LinearRgb:
    """Front of a framed piece before its outer edge is cut: rail, recess, mat, print."""
    assert piece.moulding is not None
    depth, opening = lip_depth_mm(piece.moulding), opening_of(piece, rect)
    finish = moulding_finish(piece.moulding)
    x, y = lines.on_plane(depth)
    s = np.float32(lines.scale_at(depth))
    px, py = lines.pitch_x_mm * s, lines.pitch_y_mm * s
    out = _rails(piece, rect, lines, finish, light)
    inside = covered_rect(x, y, opening, px, py)
    rows, columns = _bounds(inside)
    if rows.stop == 0:
        return out
    # Only the opening's own pixels from here on.
    recess = min(RECESS_MM, 0.4 * depth)
    xr, yr = lines.on_plane(depth - recess)
    xr, yr, px, py = (f[rows, columns] for f in (xr, yr, px, py))
    floor = covered_rect(xr, yr, opening, px, py)
    below = _floor(piece, rect, xr, yr, px, py, print_light)
    rail = float(np.mean(finish.reflectance))
    below *= _recess_light(xr, yr, opening, recess, light, rail)[..., None]
    if glare and piece.glazing != "none":
        below += np.float32(glass_glare(lines, opening))
    # What is not floor inside the opening is the lip's inner face, seen at an angle.
    around = piece.mat.colour if piece.mat else ""
    ground = float(np.mean(mat_reflectance(around))) if around else _BOUNCE
    lip = np.float32(_lip_tone(lines, opening, finish, light, ground))
    below = lip + floor[..., None] * (below - lip)
    part = out[rows, columns]
    part += inside[rows, columns, None] * (below - part)
    return out


def glass_glare(lines: SightLines, opening: Rect) -> float:
    """Light that glazing mirrors into the camera, against white on the wall.

    One surface's reflection by Schlick's approximation, index 1.5, of a room of middling
    brightness. A pane's second surface and its own loss (another 8 to 10 %) are left out: they
    act on the print alike and read as a darker print.

    References
    ----------
    C. Schlick, "An inexpensive BRDF model for physically-based rendering", Computer Graphics
    Forum 13(3), 1994.
    """
    x, y = opening.centre_mm
    cx, cy, cz = lines.centre_mm
    cosine = cz / math.sqrt((x - cx) ** 2 + (y - cy) ** 2 + cz**2)
    return (0.04 + 0.96 * (1 - cosine) ** 5) * ROOM_BRIGHTNESS


def _bounds(mask: Field) -> tuple[slice, slice]:
    rows, columns = np.flatnonzero(mask.max(axis=1) > 0), np.flatnonzero(mask.max(axis=0) > 0)
    if not len(rows) or not len(columns):
        return slice(0, 0), slice(0, 0)
    return slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)


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


def _recess_light(
    x: Field, y: Field, opening: Rect, depth: float, light: MainLight, rail: float
) -> Field:
    """Part of the wall's light that reaches mat and print under the moulding's lip.

    A pale lip gives most of what it hides back; ``rail`` is its reflectance.
    """
    edges = (
        x - np.float32(opening.left_mm),
        np.float32(opening.right_mm) - x,
        y - np.float32(opening.bottom_mm),
        np.float32(opening.top_mm) - y,
    )
    hidden = sum(even_light_in_recess(edge, depth) for edge in edges)
    width = max(light.radius * depth, 0.3)
    reach = (
        -light.slope_x * depth,
        light.slope_x * depth,
        -light.slope_y * depth,
        light.slope_y * depth,
    )
    lit: Field = np.ones_like(x)
    for edge, shift in zip(edges, reach, strict=True):
        # The lip's shadow falls away from the light by its slope times the depth.
        lit = lit * soft_step(edge - np.float32(max(shift, 0.0)), width)
    even = np.clip(1 - np.asarray(hidden) * np.float32(1 - 0.7 * rail), 0, 1)
    return np.asarray((1 - light.share) * even + light.share * lit, np.float32)


def _lip_tone(
    lines: SightLines, opening: Rect, finish: Finish, light: MainLight, ground: float
) -> NDArray[np.float64]:
    """Light of the lip's inner faces: those that the camera sees, weighted as it sees them."""
    cx, cy, cz = lines.centre_mm
    mx, my = opening.centre_mm
    across, up = (mx - cx) / cz, (my - cy) / cz
    # Seen from the left (across > 0) the right lip's face shows, which looks left.
    faces = np.array([[-np.sign(across), 0.0, 0.0], [0.0, -np.sign(up), 0.0]])
    x_tone, y_tone = shade(faces, light, ground)
    total = abs(across) + abs(up) + 1e-9
    tone = (abs(across) * x_tone + abs(up) * y_tone) / total
    return np.asarray(np.asarray(finish.reflectance) * tone)


def _slope(moulding: Moulding, s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Tilt of the face from outer edge (s = 0) to lip (1), radians, towards the picture positive.

    Sharp edges are eased by a millimetre, as all but metal mouldings are.
    """
    section = face_section(moulding)
    width = max(moulding.width_mm, 1e-3)
    runs = np.arctan2(-np.diff(section[:, 1]), np.maximum(np.diff(section[:, 0]), 1e-6))
    middles = (section[:-1, 0] + section[1:, 0]) / 2 / width
    if moulding.profile == "rounded":
        return np.interp(s, middles, runs)
    tilt = runs[np.clip(np.searchsorted(section[1:, 0] / width, s), 0, len(runs) - 1)]
    eased = min(1.0 / width, 0.25)
    tilt = np.where(s < eased, -math.pi / 4, tilt)
    return np.asarray(np.where(s > 1 - eased, np.maximum(tilt, math.pi / 4), tilt))


def _rails(
    piece: Piece,
    rect: Rect,
    lines: SightLines,
    finish: Finish,
    light: MainLight,
) -> LinearRgb:
    """Moulding's four rails with mitred corners, shaded by their profile."""
    assert piece.moulding is not None
    moulding = piece.moulding
    width = max(moulding.width_mm, 1e-3)
    x, y = _on_face(moulding, rect, lines)
    pitch = lines.pitch_x_mm * np.float32(lines.scale_at(moulding.depth_mm))
    from_left, from_bottom = x - np.float32(rect.left_mm), y - np.float32(rect.bottom_mm)
    edges = {
        "left": from_left,
        "right": np.float32(rect.width_mm) - from_left,
        "bottom": from_bottom,
        "top": np.float32(rect.height_mm) - from_bottom,
    }
    nearest = np.minimum(
        np.minimum(edges["left"], edges["right"]), np.minimum(edges["bottom"], edges["top"])
    )
    on_rail = nearest < width + 2 * float(pitch.max())
    out = np.empty((*x.shape, 3), np.float32)
    out[:] = finish.reflectance
    s = nearest[on_rail] / np.float32(width)
    blur = pitch[on_rail] / np.float32(width)
    tone = np.ones_like(s)
    figure = wood_figure(piece.id) if finish.grain else None
    for name, (ox, oy) in _SIDES.items():
        here = edges[name][on_rail] <= nearest[on_rail]
        tone[here] = _profile_tone(moulding, (ox, oy), finish.gloss, light, s[here], blur[here])
        if figure is not None:
            along = (from_bottom if ox else from_left)[on_rail][here]
            across = s[here] * np.float32(min(width, 60.0)) + np.float32(1 + abs(ox))
            tone[here] *= np.exp(np.float32(finish.grain) * _looked_up(figure, across, along))
    # The mitre: a hair line where two rails meet.
    horizontal = np.minimum(edges["left"], edges["right"])[on_rail]
    vertical = np.minimum(edges["bottom"], edges["top"])[on_rail]
    line = np.clip(1 - np.abs(horizontal - vertical) / (pitch[on_rail] * 1.4), 0, 1)
    tone *= 1 - np.float32(0.12) * line
    out[on_rail] *= tone[:, None]
    return out


def _on_face(moulding: Moulding, rect: Rect, lines: SightLines) -> tuple[Field, Field]:
    """Where sight lines meet the moulding's face, which falls off from its ridge.

    Starting on the ridge's plane, each step goes to the height that the section has where the
    last one met; lines that miss the frame keep to the lowest height.
    """
    section = face_section(moulding)
    x, y = lines.on_plane(float(section[:, 1].max()))
    if np.ptp(section[:, 1]) == 0:
        return x, y
    cx, cy, cz = (np.float32(v) for v in lines.centre_mm)
    for _ in range(3):
        across = np.minimum(x - np.float32(rect.left_mm), np.float32(rect.right_mm) - x)
        up = np.minimum(y - np.float32(rect.bottom_mm), np.float32(rect.top_mm) - y)
        height = np.interp(np.minimum(across, up), section[:, 0], section[:, 1])
        s = (1 - height / cz).astype(np.float32)
        x, y = lines.x_mm * s + cx * (1 - s), lines.y_mm * s + cy * (1 - s)
    return x, y


def _looked_up(figure: Field, across_mm: Field, along_mm: Field) -> Field:
    """Wood's figure at points of a rail: linear across, where it is fine; nearest along."""
    column = np.round(along_mm).astype(np.int32) % figure.shape[1]
    row = np.clip(across_mm, 0, figure.shape[0] - 1.001)
    whole = row.astype(np.int32)
    part = row - whole
    return np.asarray(
        figure[whole, column] * (1 - part) + figure[whole + 1, column] * part, np.float32
    )


def _profile_tone(
    moulding: Moulding,
    outwards: tuple[int, int],
    gloss: float,
    light: MainLight,
    s: Field,
    blur: Field,
) -> Field:
    """Shading across one rail, averaged over each pixel's breadth."""
    places, total = _shading_sum(moulding, outwards, gloss, light)
    low = np.clip(s - blur / 2, 0, 1 - 1e-3)
    high = np.clip(s + blur / 2, 1e-3, 1)
    high = np.maximum(high, low + np.float32(1e-3))
    mean = (np.interp(high, places, total) - np.interp(low, places, total)) / (high - low)
    return np.asarray(mean, np.float32)


@lru_cache(maxsize=256)
def _shading_sum(
    moulding: Moulding, outwards: tuple[int, int], gloss: float, light: MainLight
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places across a rail, 0 to 1, and the integral of its shading up to each."""
    steps = 128
    tilt = _slope(moulding, (np.arange(steps) + 0.5) / steps)
    sin, cos = np.sin(tilt), np.cos(tilt)
    normals = np.stack([-outwards[0] * sin, -outwards[1] * sin, cos], axis=-1)
    tones = np.maximum(1 + gloss * (shade(normals, light, _BOUNCE) - 1), 0.05)
    return np.linspace(0, 1, steps + 1), np.r_[0, np.cumsum(tones)] / steps


def _side_cover(side: str, rect: Rect, depth: float, lines: SightLines) -> Field | None:
    """Share of each pixel that an outer side of the box fills; None when it faces away."""
    ox, oy = _SIDES[side]
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
    rows, columns = _bounds(near.astype(np.float32))
    if rows.stop - rows.start < 2 or columns.stop - columns.start < 2:
        return None
    y0, x0 = lines.region.y + rows.start, lines.region.x + columns.start
    part = lines.part(
        type(lines.region)(x0, y0, columns.stop - columns.start, rows.stop - rows.start)
    )
    along, z = part.on_side(axis, at)
    down, right = np.gradient(z)
    share = covered(z, 0.0, depth, np.hypot(down, right) + np.float32(1e-6))
    low, high = (rect.bottom_mm, rect.top_mm) if axis == 0 else (rect.left_mm, rect.right_mm)
    down, right = np.gradient(along)
    share = share * covered(along, low, high, np.hypot(down, right) + np.float32(1e-6))
    out = np.zeros(lines.x_mm.shape, np.float32)
    out[rows, columns] = share * near[rows, columns]
    return out


def _side_tone(
    side: str, piece: Piece, print_light: LinearRgb, light: MainLight
) -> NDArray[np.float64]:
    """Light that a side of the box sends, from its colour and the way it faces."""
    ox, oy = _SIDES[side]
    if piece.moulding:
        colour = np.asarray(moulding_finish(piece.moulding).reflectance, float)
    else:
        # A wrapped canvas carries on its edge's colours.
        edge = {
            "left": print_light[:, 0], "right": print_light[:, -1],
            "bottom": print_light[-1], "top": print_light[0],
        }[side]  # fmt: skip
        colour = edge.mean(axis=0).astype(float)
    return np.asarray(colour * shade(np.array([ox, oy, 0.0]), light, _BOUNCE))
