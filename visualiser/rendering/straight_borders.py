"""Faint straight edges of a wall: where a white door, a radiator or the ceiling meets a white wall.

A door in the wall's own paint differs from it by less than the plaster's unevenness does, pixel by
pixel. But its edge runs plumb or level for a metre: averaged along a hand's breadth of it, what was
under the noise stands well above it. So light is looked at face on, and steps and ridges across a
plumb or level line are averaged along it, in tone and in two tints: a ceiling may be as light as
the wall and a little bluer. A shadow's soft edge and a lamp's glow have no such step.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LinearRgb, opponent_levels
from visualiser.raster import interpolated, node_places, resized_px
from visualiser.rendering.surface_regions import Labels
from visualiser.statistics import MAD_TO_SIGMA
from visualiser.survey.survey import Survey

Mask = NDArray[np.bool_]
Map = NDArray[np.float32]

_FARTHEST_MM, _MOST_CELLS = 6000.0, 1400
_ALONG_MM, _LOCAL_MM, _BRIDGE_MM = 240.0, 60.0, 60.0
"""Lengths over which an edge is averaged, must go on by itself, and may be hidden. Ours."""
_WIDEST = (9, 17, 17)
"""Cells that an edge may be wide, in tone and tints: cameras keep tints at half the resolution."""
_GOES_ON = 0.6
"""Of an edge's mean, what every stretch of it must have: at its end half the window is wall."""
_SLOW_MM = 90.0
"""What changes steadily across so much is light."""
LEAST_EDGE_MM = 330.0
"""Shorter edges are of things that hang on the wall: a sheet of A4 is 297 mm long (ISO 216)."""
_FAINT, _WEAK, _STRONG = 3.0, 4.0, 7.0
"""Steps in standard deviations of the same mean over the wall around the reference: to go on with
an edge, to join one, and to begin one."""
_ON_MM = 600.0
"""So far beyond its ends an edge may go on fainter."""
_BESIDE_PX, _ALONG_WALL = 5, 0.7
"""So far beside an edge, and along so much of it, is what it bounds: a lamp's pole may hide some of
it."""
_SOFT = 3.0
"""Larger changes, in standard deviations of the noise, count by their logarithm."""
_LEAST_STEP = (0.5, 1.3, 1.3)
"""Of tone and of two tints, in 8-bit levels: less is not seen, or is a step of the coding, which
is coarser for tints."""


_REFERENCE_MM = 25.0
"""So far around the reference lie its own sides, tape and pins, which bound no wall. Ours."""


class _FaceOn(NamedTuple):
    light: Map
    seen: Mask
    own: Mask
    left_mm: float
    top_mm: float
    cell_mm: float


class StraightBorders(NamedTuple):
    """Edges of the wall's plane.

    ``plumb`` and ``level`` (h, w) number those that run so, 0 for none; ``either`` (h, w) is where
    any is.
    """

    plumb: Labels
    level: Labels
    either: Mask

    def along(self, wall: Mask) -> Mask:
        """Edges (h, w) that have wall, or what is like it, along one of their sides.

        Among leaves there is always an edge that runs plumb for a hand's breadth, and would go on
        across the wall between them.
        """
        kept = np.zeros_like(wall)
        for labels, axis in ((self.plumb, 1), (self.level, 0)):
            size = np.maximum(np.bincount(labels.ravel()), 1)
            for by in (-_BESIDE_PX, _BESIDE_PX):
                beside = labels[np.roll(wall, by, axis)]
                clear = np.bincount(beside, minlength=len(size)) >= _ALONG_WALL * size
                clear[0] = False
                kept |= clear[labels]
        return kept & self.either


def straight_borders(
    small: LinearRgb, survey: Survey, shrink: float, ring: Mask
) -> StraightBorders:
    """Find plumb and level edges of the wall's plane, however faint.

    Parameters
    ----------
    small
        (h, w, 3) linear light of the photo at reduced size.
    survey
        The wall.
    shrink
        Elements to one photo pixel.
    ring
        (h, w) wall around the reference, to measure its unevenness on.
    """
    height, width = small.shape[:2]
    x_mm, y_mm = wall_grid(survey, small.shape, shrink)
    view = _face_on(small, survey, shrink, x_mm, y_mm)
    u, v = (x_mm - view.left_mm) / view.cell_mm - 0.5, (view.top_mm - y_mm) / view.cell_mm - 0.5
    where = np.zeros(view.seen.shape, bool)
    at = np.c_[v[ring], u[ring]].round().astype(int)
    inside = ((at >= 0) & (at < view.seen.shape)).all(axis=1)
    where[at[inside, 0], at[inside, 1]] = True
    where = cv2.morphologyEx(where.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3))) > 0
    calm = where & view.seen & ~view.own
    plumb = _edges(view.light, view.seen, view.own, calm, view.cell_mm)
    turned = view.light.transpose(1, 0, 2)
    level = _edges(turned, view.seen.T, view.own.T, calm.T, view.cell_mm)

    at = u.astype(np.float32), v.astype(np.float32)
    square = np.ones((3, 3), np.uint8)

    def numbered(found: Mask) -> Labels:
        _, labels = cv2.connectedComponents(found.astype(np.uint8), connectivity=8)
        wide = cv2.dilate(labels.astype(np.float32), square)
        return np.asarray(cv2.remap(wide, *at, cv2.INTER_NEAREST), np.int32).reshape(height, width)

    drawn = cv2.dilate((plumb | level.T).astype(np.uint8), square).astype(np.float32)
    either = np.asarray(cv2.remap(drawn, *at, cv2.INTER_LINEAR) > 0.5).reshape(height, width)
    return StraightBorders(numbered(plumb), numbered(level.T), either)


def wall_grid(
    survey: Survey, shape: tuple[int, ...], shrink: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Work out survey mm across and up (h, w) of each element, at every eighth of them."""
    height, width = shape[:2]
    step = 8
    x, y = np.meshgrid(node_places(width, step), node_places(height, step))
    nodes = survey.to_wall(resized_px(np.c_[x.ravel(), y.ravel()], 1 / shrink))
    at = interpolated(np.clip(nodes, -1e5, 1e5).reshape(*x.shape, 2), step, width, height)
    return np.asarray(at[..., 0], np.float64), np.asarray(at[..., 1], np.float64)


def _face_on(
    small: LinearRgb,
    survey: Survey,
    shrink: float,
    x_mm: NDArray[np.float64],
    y_mm: NDArray[np.float64],
) -> _FaceOn:
    """Draw tone and tints of the wall's plane face on, at the scale of its reference."""
    assert survey.plane is not None
    sheet_px = survey.plane.reference_corners_px
    sheet = survey.to_wall(sheet_px)
    middle = sheet.mean(axis=0)
    near = np.hypot(x_mm - middle[0], y_mm - middle[1]) < _FARTHEST_MM
    left, right = (float(v) for v in np.percentile(x_mm[near], (0, 100)))
    low, high = (float(v) for v in np.percentile(y_mm[near], (0, 100)))
    side_px = np.linalg.norm(np.diff(sheet_px, axis=0), axis=1).mean() * shrink
    side_mm = np.linalg.norm(np.diff(sheet, axis=0), axis=1).mean()
    cell = max(float(side_mm / max(side_px, 1e-6)), max(right - left, high - low) / _MOST_CELLS)
    columns, rows = (max(round(n / cell), 8) for n in (right - left, high - low))
    every = 8
    gu, gv = np.meshgrid(node_places(columns, every), node_places(rows, every))
    points = np.c_[left + (gu.ravel() + 0.5) * cell, high - (gv.ravel() + 0.5) * cell]
    nodes = resized_px(survey.to_photo(points), shrink).reshape(*gu.shape, 2)
    way = interpolated(np.clip(nodes, -1e4, 1e4), every, columns, rows)
    light = cv2.remap(
        opponent_levels(small),
        way[..., 0],
        way[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    seen = ((way > 1) & (way < [small.shape[1] - 2, small.shape[0] - 2])).all(axis=2)
    outline = np.c_[sheet[:, 0] - left, high - sheet[:, 1]] / cell - 0.5
    drawn = np.zeros((rows, columns), np.uint8)
    cv2.fillPoly(drawn, [np.clip(outline, -3e4, 3e4).round().astype(np.int32)], 1)
    reach = 2 * round(_REFERENCE_MM / cell) + 1
    own = np.asarray(cv2.dilate(drawn, np.ones((reach, reach), np.uint8)) > 0)
    return _FaceOn(np.asarray(light, np.float32), np.asarray(seen), own, left, high, cell)


def _edges(light: Map, seen: Mask, own: Mask, calm: Mask, cell_mm: float) -> Mask:
    """Find edges that run down the columns of a picture (H, W, 3), but for the reference's own."""
    if calm.sum() < 200:
        return np.zeros_like(seen)
    seen = np.ascontiguousarray(seen)
    bridge, least, on = (max(round(n / cell_mm), 3) for n in (_BRIDGE_MM, LEAST_EDGE_MM, _ON_MM))
    best: Map = np.zeros(seen.shape, np.float32)
    for k, (least_step, widest) in enumerate(zip(_LEAST_STEP, _WIDEST, strict=True)):
        score = _contrast(np.ascontiguousarray(light[..., k]), own, calm, cell_mm, least_step)
        score[~seen | own] = 0
        # An edge is narrow; what stays high across several cells is grain or print.
        score -= cv2.morphologyEx(score, cv2.MORPH_OPEN, np.ones((1, widest), np.uint8))
        best = np.maximum(best, score)
    around = cv2.dilate(best, np.ones((1, 5), np.uint8))
    peak = best >= around
    close = np.ones((bridge, 3), np.uint8)
    joined = cv2.morphologyEx(((best >= _WEAK) & peak).astype(np.uint8), cv2.MORPH_CLOSE, close)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    strongest = np.zeros(count, np.float32)
    np.maximum.at(strongest, np.asarray(labels, np.int32).ravel(), best.ravel())
    kept = (stats[:, cv2.CC_STAT_HEIGHT] >= least) & (strongest >= _STRONG)
    kept[0] = False
    clear = (kept[labels] & (joined > 0)).astype(np.uint8)
    beyond = cv2.dilate(clear, np.ones((2 * on + 1, 1), np.uint8)) > 0
    whole = clear | ((best >= _FAINT) & peak & beyond).astype(np.uint8)
    return np.asarray(cv2.morphologyEx(whole, cv2.MORPH_CLOSE, close) > 0)


def _contrast(light: Map, own: Mask, calm: Mask, cell_mm: float, least_step: float) -> Map:
    """Measure steps and ridges across columns, averaged along them, in the wall's unevenness."""
    along, local, slow = (max(round(n / cell_mm), 3) for n in (_ALONG_MM, _LOCAL_MM, _SLOW_MM))
    step = cv2.filter2D(light, -1, np.array([[-0.5, -0.5, 0, 0.5, 0.5]], np.float32))
    ridge = cv2.filter2D(light, -1, np.array([[-0.5, 0.0, 1.0, 0.0, -0.5]], np.float32))
    best: Map = np.zeros(light.shape, np.float32)
    for change in (step, ridge):
        noise = np.maximum(MAD_TO_SIGMA * np.median(np.abs(change[calm])), least_step / 2)
        # One leaf across a line is no line: what counts is how much of it differs.
        held = np.asarray(noise * _SOFT * np.arcsinh(change / (noise * _SOFT)), np.float32)
        held -= cv2.GaussianBlur(held, (0, 0), slow, sigmaY=1e-3)
        spread = MAD_TO_SIGMA * np.median(np.abs(cv2.blur(held, (1, along))[calm]))
        spread = np.maximum(spread, least_step / _WEAK)
        # The reference's sides count to the unevenness beside it, but go on in no edge.
        held[own] = 0
        mean = cv2.blur(held, (1, along))
        near = cv2.blur(held, (1, local))
        goes_on = near * np.sign(mean) > _GOES_ON * np.abs(mean)
        score = np.where(goes_on, np.abs(mean) / spread, 0)
        best = np.maximum(best, np.asarray(score, np.float32))
    return best
