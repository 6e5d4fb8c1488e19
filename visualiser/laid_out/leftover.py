"""What has square corners on a floor or wall and was not read as a piece: cut, covered, unclear.

A piece's corner has two straight legs, something other than floor between them and floor beyond.
Such corners that lie in no outline taken belong to pieces that the photo does not show whole: its
edge cuts them, another piece lies over them, or they stand out too little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.laid_out.outlines import Ground, floor_beside
from visualiser.laid_out.segments import Corners
from visualiser.laid_out.support import EdgeField, widened
from visualiser.laid_out.top_view import TopView

Array = NDArray[np.float64]
Reason = Literal["cut", "covered", "unclear"]

LEG_MM = 60.0
"""Shorter legs are those of things smaller than pieces, or of texture."""
BESIDE_MM = (7.0, 14.0)
"""How far beside its legs a corner is looked at: within, and without."""
STRANGE = -2.5
"""Log density of the floor's colours below which a strip is hardly floor."""
APART = 2.3
"""By so much the floor's density has to fall from without a leg to within."""
RARE = -2.8
"""Log density below which a single sample is not floor."""
FILLED = 0.86
"""Share of its smallest rectangle that a patch with straight sides fills."""
PATCH_MM = 110.0
"""Shortest side of a patch that may be a piece."""
OWN_MM = 60.0
"""What lies nearer to an outline is that piece's own: its side's foot, its shadow."""
TOGETHER_MM = 320.0
"""Corners closer than this are one thing's."""
LEAST_CORNERS = 2
RIM_MM = 70.0
"""A leg that ends nearer to the photo's edge runs out of the photo."""


@dataclass(frozen=True, slots=True, eq=False)
class Leftover:
    """A thing with square corners that was not read: its middle (2,), in samples, and why."""

    middle: Array
    reason: Reason


def find_leftovers(
    view: TopView, corners: Corners, ground: Ground, outlines: Array, sheet: Array
) -> list[Leftover]:
    """Find things with square corners that no outline taken accounts for.

    Parameters
    ----------
    view, ground
        The top view and how likely its colours are the floor's.
    corners
        Square corners of the view's segments.
    outlines
        (N, 4, 2) outlines taken for pieces.
    sheet
        (4, 2) corners of the reference.
    """
    step = view.step_mm
    legs = np.minimum(corners.first_length, corners.second_length)
    at, first, second = corners.at, corners.first, corners.second
    own = [widened(quad[None], np.full((1, 4), OWN_MM / step))[0] for quad in [*outlines, sheet]]
    lone = legs > LEG_MM / step
    for quad in own:
        lone &= ~_within(at, quad)
    at, first, second = at[lone], first[lone], second[lone]
    reach = np.linspace(0.15, 0.9, 12)[:, None, None] * (LEG_MM / step)
    near, far = BESIDE_MM
    sides = ((first, second), (second, first))
    inner = np.stack([at + reach * leg + near / step * other for leg, other in sides])
    outer = np.stack([at + reach * leg - far / step * other for leg, other in sides])
    within, without = (
        np.asarray(EdgeField.look_up(ground.image, strip)[..., 0].mean(axis=1).max(axis=0))
        for strip in (inner, outer)
    )
    good = (within < STRANGE) & (without - within > APART)
    at, first, second = at[good], first[good], second[good]
    ends = np.concatenate(
        [
            at + corners.first_length[lone][good][:, None] * first,
            at + corners.second_length[lone][good][:, None] * second,
        ]
    ).reshape(2, -1, 2)
    out: list[Leftover] = []
    for members in _together(at, TOGETHER_MM / step):
        distinct = np.unique(np.round(at[members] / (30.0 / step)), axis=0)
        tips = ends[:, members].reshape(-1, 2)
        cut = _near_rim(view, tips, RIM_MM / step)
        if len(distinct) < LEAST_CORNERS and not cut.any():
            continue
        covered = any(_within(tips, quad).any() for quad in own[:-1])
        reason: Reason = "cut" if cut.any() else "covered" if covered else "unclear"
        out.append(Leftover(np.concatenate([at[members], tips]).mean(axis=0), reason))
    patches = _patches(view, ground, own)
    return out + [
        Leftover(middle, "unclear")
        for middle in patches
        if all(np.hypot(*(middle - one.middle)) > TOGETHER_MM / step for one in out)
    ]


def cut_outlines(view: TopView, ground: Ground, outlines: Array) -> NDArray[np.bool_]:
    """Which outlines (N,) lie within a piece that the photo's edge cuts: its mat, its picture.

    Something else than floor surrounds them on three sides or more, and a moulding's width on the
    photo ends.
    """
    if not len(outlines):
        return np.zeros(0, bool)
    around = widened(outlines, np.full((len(outlines), 4), RIM_MM / view.step_mm))
    beside = floor_beside(ground, outlines, BESIDE_MM[1] / view.step_mm)
    height, width = view.inside.shape
    at = np.rint(around).astype(int)
    held = ((at >= 0) & (at < [width, height])).all(axis=2)
    at = np.clip(at, 0, [width - 1, height - 1])
    out_of_photo = ~(held & view.inside[at[..., 1], at[..., 0]])
    return np.asarray(((beside < STRANGE).sum(axis=1) >= 3) & out_of_photo.any(axis=1))


def _patches(view: TopView, ground: Ground, own: Sequence[Array]) -> list[Array]:
    """Middles of patches with straight sides and none of the floor's colours, within the photo."""
    odd = ((ground.image[..., 0] < RARE) & view.inside).astype(np.uint8)
    for quad in own:
        cv2.fillPoly(odd, [np.rint(quad).astype(np.int32)], 0)
    odd = cv2.morphologyEx(odd, cv2.MORPH_CLOSE, np.ones((9, 9), np.uint8))
    odd = cv2.morphologyEx(odd, cv2.MORPH_OPEN, np.ones((15, 15), np.uint8))
    found = []
    for outline in cv2.findContours(odd, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        middle, sides, _ = cv2.minAreaRect(outline)
        filled = cv2.contourArea(outline) / max(sides[0] * sides[1], 1.0)
        if min(sides) * view.step_mm < PATCH_MM or filled < FILLED:
            continue
        if not _near_rim(view, outline[:, 0].astype(float), 6.0).any():
            found.append(np.array(middle))
    return found


def leftover_findings(view: TopView, leftovers: Sequence[Leftover]) -> list[Finding]:
    """Say of each leftover where it lies and what would let it be read."""
    findings = []
    for one in leftovers:
        where = place_in_words(view, one.middle)
        if one.reason == "cut":
            text = f"Something with square corners {where} runs out of the photo: it was left out."
            hint = "Step back or move it in, so that all of it shows, and photograph again."
            code = "piece-cut-off"
        elif one.reason == "covered":
            text = f"A piece {where} seems to lie over or under another: it was left out."
            hint = "Lay them apart and photograph them again."
            code = "pieces-overlap"
        else:
            text = f"Something with square corners {where} does not stand out enough: left out."
            hint = "If it is a piece, such as a bare canvas, lay it on something of another colour."
            code = "piece-unclear"
        findings.append(Finding("advice", text, hint, code))
    return findings


def place_in_words(view: TopView, at: Array) -> str:
    """Name the part of the photo that a place of its view lies in."""
    inside = np.argwhere(view.inside)[:, ::-1]
    low, high = inside.min(axis=0), inside.max(axis=0)
    across, down = np.clip((at - low) / np.maximum(high - low, 1), 0, 1)
    column = "left" if across < 0.36 else "right" if across > 0.64 else ""
    row = "upper" if down < 0.36 else "lower" if down > 0.64 else ""
    if not column and not row:
        return "in the middle"
    if not column:
        return f"in the {row} middle"
    return f"at the {row} {column}" if row else f"at the {column}"


def _within(points: Array, quad: Array) -> NDArray[np.bool_]:
    """Which points (N, 2) lie within a clockwise quadrilateral (4, 2), y down."""
    run = np.roll(quad, -1, axis=0) - quad
    apart = points[:, None] - quad
    return np.asarray((run[:, 0] * apart[..., 1] - run[:, 1] * apart[..., 0] >= 0).all(axis=1))


def _near_rim(view: TopView, points: Array, reach: float) -> NDArray[np.bool_]:
    """Which points (N, 2) have the photo's edge within reach in some direction."""
    turns = np.arange(16) * np.pi / 8
    around = points[:, None] + reach * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    height, width = view.inside.shape
    x, y = np.rint(around[..., 0]).astype(int), np.rint(around[..., 1]).astype(int)
    held = (x >= 0) & (y >= 0) & (x < width) & (y < height)
    seen = np.zeros(held.shape, bool)
    seen[held] = view.inside[y[held], x[held]]
    return np.asarray(~seen.all(axis=1))


def _together(points: Array, reach: float) -> list[NDArray[np.intp]]:
    """Group points (N, 2) linked by steps of at most ``reach``."""
    from scipy.sparse.csgraph import connected_components

    if not len(points):
        return []
    apart = np.linalg.norm(points[:, None] - points, axis=2)
    count, label = connected_components(apart <= reach, directed=False)
    return [np.flatnonzero(label == k) for k in range(count)]
