"""A moulding's four rails seen from the front, shaded by their profile and mitred."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Rect
from visualiser.inventory.moulding_section import face_section
from visualiser.inventory.piece import Moulding, Piece
from visualiser.photo.linear_light import LinearRgb
from visualiser.rendering.finishes import Finish, wood_figure
from visualiser.rendering.glazing import coat_mirrors, under_coat, view_of
from visualiser.rendering.shading import BOUNCE, SIDES, lit_beside, shade
from visualiser.rendering.sight_lines import Field, SightLines
from visualiser.survey.main_light import MainLight


def _slope(moulding: Moulding, s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Tilt of the face from outer edge (s = 0) to lip (1), radians; falling inwards is positive."""
    section = face_section(moulding)
    width = max(moulding.width_mm, 1e-3)
    runs = np.arctan2(-np.diff(section[:, 1]), np.maximum(np.diff(section[:, 0]), 1e-6))
    middles = (section[:-1, 0] + section[1:, 0]) / 2 / width
    if moulding.profile == "rounded":
        return np.interp(s, middles, runs)
    return np.asarray(runs[np.clip(np.searchsorted(section[1:, 0] / width, s), 0, len(runs) - 1)])


def _eased(
    moulding: Moulding, s: NDArray[np.float64], tilt: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Ease sharp edges by a millimetre, as all but metal mouldings are."""
    if moulding.profile == "rounded":
        return tilt
    eased = min(1.0 / max(moulding.width_mm, 1e-3), 0.25)
    tilt = np.where(s < eased, -math.pi / 4, tilt)
    return np.asarray(np.where(s > 1 - eased, np.maximum(tilt, math.pi / 4), tilt))


def draw_rails(
    piece: Piece,
    rect: Rect,
    lines: SightLines,
    finish: Finish,
    light: MainLight,
    glare: bool = True,
    ground: tuple[float, float] = (BOUNCE, BOUNCE),
) -> LinearRgb:
    """Moulding's four rails with mitred corners, shaded by their profile.

    A coat mirrors the room by the tilt of each part of the profile, brightest where that shows it
    the main light: ``glare`` is whether that is drawn. ``ground`` is the reflectance of the wall
    and of what the frame holds, which light what is turned towards them.
    """
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
    tone, sheen = np.ones_like(s), np.zeros_like(s)
    view = tuple(round(v, 2) for v in view_of(lines, rect))
    figure = wood_figure(piece.id) if finish.grain else None
    for name, (ox, oy) in SIDES.items():
        here = edges[name][on_rail] <= nearest[on_rail]
        shading = _shading(moulding, (ox, oy), finish, light, view, ground)
        tone[here], shown = _profile_means(shading, s[here], blur[here])
        sheen[here] = shown if glare else 0
        if figure is not None:
            along = (from_bottom if ox else from_left)[on_rail][here]
            across = s[here] * np.float32(min(width, 60.0)) + np.float32(1 + abs(ox))
            tone[here] *= np.exp(np.float32(finish.grain) * _looked_up(figure, across, along))
    # The mitre: a hair line where two rails meet.
    horizontal = np.minimum(edges["left"], edges["right"])[on_rail]
    vertical = np.minimum(edges["bottom"], edges["top"])[on_rail]
    line = np.clip(1 - np.abs(horizontal - vertical) / (pitch[on_rail] * 1.4), 0, 1)
    tone *= 1 - np.float32(0.12) * line
    out[on_rail] = out[on_rail] * tone[:, None] + sheen[:, None]
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


_Shading = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _profile_means(shading: _Shading, s: Field, blur: Field) -> tuple[Field, Field]:
    """Shading and sheen across one rail, averaged over each pixel's breadth."""
    places, *sums = shading
    low = np.clip(s - blur / 2, 0, 1 - 1e-3)
    high = np.clip(s + blur / 2, 1e-3, 1)
    high = np.maximum(high, low + np.float32(1e-3))
    tone, sheen = (
        np.asarray((np.interp(high, places, t) - np.interp(low, places, t)) / (high - low))
        for t in sums
    )
    return tone.astype(np.float32), sheen.astype(np.float32)


@lru_cache(maxsize=256)
def _shading(
    moulding: Moulding,
    outwards: tuple[int, int],
    finish: Finish,
    light: MainLight,
    view: tuple[float, float, float],
    ground: tuple[float, float],
) -> _Shading:
    """Places across a rail, 0 to 1; up to each, the integrals of its shading and of its sheen."""
    steps = 128
    s = (np.arange(steps) + 0.5) / steps
    face = _slope(moulding, s)

    def normals(tilt: NDArray[np.float64]) -> NDArray[np.float64]:
        sin, cos = np.sin(tilt), np.cos(tilt)
        return np.stack([-outwards[0] * sin, -outwards[1] * sin, cos], axis=-1)

    eased = _eased(moulding, s, face)
    ox, oy = outwards
    outside, inside = ground[0] * lit_beside(ox, oy, light), ground[1] * lit_beside(-ox, -oy, light)
    beside = np.where(eased < 0, outside, inside)
    lit = shade(normals(eased), light, beside)
    tones = np.maximum(1 + finish.gloss * (lit - 1), 0.05)
    sheen = np.zeros(steps)
    if finish.coated:
        # An eased edge is too fine to tell what it mirrors: it counts as the face beside it.
        part, room = coat_mirrors(view, normals(face), light, beside)
        tones, sheen = under_coat(tones, part), part * room
    return (
        np.linspace(0, 1, steps + 1),
        np.r_[0, np.cumsum(tones)] / steps,
        np.r_[0, np.cumsum(sheen)] / steps,
    )
