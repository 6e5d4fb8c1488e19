"""Where pieces may hang on one wall, as plain rectangles that a search can test quickly.

The outline and the zones may be any simple polygon. Sloping sides are covered by upright strips
that lie on the safe side, so whatever this module allows the exact rules allow too.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import ArrangementError
from visualiser.geometry import Polygon, Rect, frozen
from visualiser.survey.survey import Furniture, Survey

Boxes = NDArray[np.float64]
"""(N, 4) rectangles as left, bottom, right, top, mm."""

HAIR = 1e-6
TOLERANCE_MM = 0.01
"""Lengths closer than this to a limit count as at the limit."""
STAIR_SLOPES = (15.0, 60.0)
"""Slopes, degrees, of an outline's lower side that are taken for a stair."""
STRIPS = 48
"""Strips that a sloping side's polygon is cut into at most, each way."""


@dataclass(frozen=True, slots=True, eq=False)
class WallSpace:
    """Free part of a wall.

    Parameters
    ----------
    bounds
        Rectangle that pieces must stay in: outline's bounds, less the clearance.
    blocks
        (M, 4) rectangles that no piece may enter; clearances are already added.
    axis_mm
        X on which a group is best centred.
    furniture
        Furniture that the group hangs above; None when there is none.
    """

    bounds: Rect
    blocks: Boxes
    axis_mm: float
    furniture: Furniture | None

    def blocked(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether boxes (..., 4) leave the bounds or enter a block."""
        limits = self.bounds
        out = (
            (boxes[..., 0] < limits.left_mm - HAIR)
            | (boxes[..., 1] < limits.bottom_mm - HAIR)
            | (boxes[..., 2] > limits.right_mm + HAIR)
            | (boxes[..., 3] > limits.top_mm + HAIR)
        )
        for left, bottom, right, top in self.blocks:
            out |= (
                (boxes[..., 0] < right - HAIR)
                & (boxes[..., 2] > left + HAIR)
                & (boxes[..., 1] < top - HAIR)
                & (boxes[..., 3] > bottom + HAIR)
            )
        return np.asarray(out)

    def _is_free(self, boxes: Boxes) -> bool:
        """Whether a group (N, 4) is wholly in free space."""
        limits = self.bounds
        inside = (
            boxes[:, 0].min() >= limits.left_mm - HAIR
            and boxes[:, 1].min() >= limits.bottom_mm - HAIR
            and boxes[:, 2].max() <= limits.right_mm + HAIR
            and boxes[:, 3].max() <= limits.top_mm + HAIR
        )
        if not inside or not len(self.blocks):
            return bool(inside)
        own, blocks = boxes[:, None], self.blocks[None]
        meets = (own[..., :2] < blocks[..., 2:] - HAIR) & (own[..., 2:] > blocks[..., :2] + HAIR)
        return not bool(meets.all(axis=-1).any())

    def settle(self, boxes: Boxes, dx_mm: float, dy_mm: float) -> tuple[float, float] | None:
        """Shift nearest to a wanted one that brings a rigid group into free space.

        Parameters
        ----------
        boxes
            (N, 4) the group as it stands.
        dx_mm, dy_mm
            Shift that would be best.

        Returns
        -------
        The shift, or None when the group fits nowhere.

        Notes
        -----
        In the plane of shifts each pair of piece and block forbids an open rectangle. The free
        shift nearest to the wanted one is that one itself, or lies on an edge straight across
        from it, or in a corner where two edges' lines meet; these are tried in order of distance.
        """
        low_x = self.bounds.left_mm - boxes[:, 0].min()
        high_x = self.bounds.right_mm - boxes[:, 2].max()
        low_y = self.bounds.bottom_mm - boxes[:, 1].min()
        high_y = self.bounds.top_mm - boxes[:, 3].max()
        if low_x > high_x + HAIR or low_y > high_y + HAIR:
            return None
        if self._is_free(boxes + (dx_mm, dy_mm, dx_mm, dy_mm)):
            return dx_mm, dy_mm
        want_x = float(min(max(dx_mm, low_x), max(high_x, low_x)))
        want_y = float(min(max(dy_mm, low_y), max(high_y, low_y)))
        if not len(self.blocks):
            return want_x, want_y
        left = (self.blocks[None, :, 0] - boxes[:, None, 2]).ravel()
        right = (self.blocks[None, :, 2] - boxes[:, None, 0]).ravel()
        bottom = (self.blocks[None, :, 1] - boxes[:, None, 3]).ravel()
        top = (self.blocks[None, :, 3] - boxes[:, None, 1]).ravel()
        reach = (right > low_x) & (left < high_x) & (top > low_y) & (bottom < high_y)
        left, right, bottom, top = left[reach], right[reach], bottom[reach], top[reach]
        xs = _stops(np.concatenate([left, right]), want_x, low_x, high_x)
        ys = _stops(np.concatenate([bottom, top]), want_y, low_y, high_y)
        free = ~_covered(xs, ys, left, bottom, right, top)
        away = np.where(free, np.hypot(xs[:, None] - want_x, ys - want_y), np.inf)
        i, j = divmod(int(away.argmin()), len(ys))
        return (float(xs[i]), float(ys[j])) if free[i, j] else None


def _covered(
    xs: NDArray[np.float64],
    ys: NDArray[np.float64],
    left: NDArray[np.float64],
    bottom: NDArray[np.float64],
    right: NDArray[np.float64],
    top: NDArray[np.float64],
) -> NDArray[np.bool_]:
    """Which crossings (X, Y) of two sets of lines lie inside any of many rectangles (R,).

    Each rectangle adds one to a stretch of rows and columns; sums along both axes then count them
    all at once (a summed-area table: F. C. Crow, SIGGRAPH 1984, run backwards).
    """
    count = np.zeros((len(xs) + 1, len(ys) + 1), np.int64)
    across, upright = np.sort(xs), np.sort(ys)
    x1 = np.searchsorted(across, left + HAIR, side="right")
    x2 = np.maximum(np.searchsorted(across, right - HAIR, side="left"), x1)
    y1 = np.searchsorted(upright, bottom + HAIR, side="right")
    y2 = np.maximum(np.searchsorted(upright, top - HAIR, side="left"), y1)
    for x, y, step in ((x1, y1, 1), (x2, y2, 1), (x1, y2, -1), (x2, y1, -1)):
        np.add.at(count, (x, y), step)
    inside = count.cumsum(axis=0).cumsum(axis=1) > 0
    return np.asarray(inside[np.searchsorted(across, xs)[:, None], np.searchsorted(upright, ys)])


def _stops(edges: Boxes, want: float, low: float, high: float) -> NDArray[np.float64]:
    """Shifts along one axis worth trying, nearest first, at most 96 of them."""
    inside = edges[(edges >= low) & (edges <= high)]
    stops = np.unique(np.concatenate([inside, [want, low, max(low, high)]]))
    return stops[np.argsort(np.abs(stops - want), kind="stable")][:96]


def wall_space(survey: Survey, guidelines: Guidelines) -> WallSpace:
    """Work out where pieces may hang.

    Raises
    ------
    ArrangementError
        If the outline or a zone crosses itself, or the clearances leave nothing of the wall.
    """
    check_outlines(survey)
    clear = guidelines.edge_clearance_mm if guidelines.is_hard("edge-clearance") else 0.0
    outer = survey.outline.bounds
    width, height = outer.width_mm - 2 * clear, outer.height_mm - clear
    if width <= 0 or height <= 0:
        raise ArrangementError(
            f"The wall is {outer.width_mm:.0f} x {outer.height_mm:.0f} mm: {clear:.0f} mm of "
            "clearance at its ends and top leave nothing to hang on.",
            hint="Correct the outline or lower the clearance from the wall's ends.",
        )
    bounds = Rect(outer.left_mm + clear, outer.bottom_mm, width, height)
    blocks: list[tuple[float, float, float, float]] = []
    if not survey.outline.is_upright_rect:
        blocks += [
            (left - clear, bottom - clear, right + clear, top)
            for left, bottom, right, top in strips(survey.outline, inside=False)
        ]
    zone_clear = guidelines.zone_clearance_mm
    for zone in survey.zones:
        blocks += [
            (left - zone_clear, bottom - zone_clear, right + zone_clear, top + zone_clear)
            for left, bottom, right, top in strips(zone.polygon, inside=True)
        ]
    for item in survey.furniture:
        rect = item.rect
        beside = 0.0 if is_ledge(item) else zone_clear
        blocks.append((rect.left_mm - beside, rect.bottom_mm, rect.right_mm + beside, rect.top_mm))
    array = frozen(np.array(blocks, dtype=np.float64).reshape(-1, 4), (None, 4))
    below = main_furniture(survey)
    stair = stair_side(survey.outline)
    if below is not None:
        axis = below.rect.centre_mm[0]
    elif stair is not None:
        axis = (stair[0][0] + stair[1][0]) / 2
    else:
        axis = _free_axis(bounds, array, guidelines)
    return WallSpace(bounds, array, axis, below)


def check_outlines(survey: Survey) -> None:
    """Refuse an outline or a zone that crosses itself.

    Raises
    ------
    ArrangementError
        Naming the two sides that meet.
    """
    shapes = [("The wall's outline", survey.outline)]
    shapes += [(f"The zone {zone.name or zone.kind}", zone.polygon) for zone in survey.zones]
    for what, polygon in shapes:
        if sides := polygon.crossing():
            raise ArrangementError(
                f"{what} crosses itself: side {sides[0] + 1} meets side {sides[1] + 1}.",
                hint="Mark its corners again, in order around it.",
            )


def stair_side(
    outline: Polygon,
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Give the longest lower side that rises like a stair, left end first; None without one."""
    points = outline.points_mm
    turn = sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in outline.edges())
    sides = outline.edges() if turn > 0 else Polygon(points[::-1]).edges()
    best, longest = None, 0.0
    for a, b in sides:
        length = math.dist(a, b)
        steep = math.degrees(math.atan2(abs(b[1] - a[1]), b[0] - a[0]))
        if STAIR_SLOPES[0] <= steep <= STAIR_SLOPES[1] and length > longest:
            best, longest = (a, b), length
    return best


def floor_height(outline: Polygon, x_mm: float) -> float:
    """Height of the floor at a place: 0, or the line of a stair's nosings where one rises."""
    side = stair_side(outline)
    if side is None:
        return 0.0
    (x1, y1), (x2, y2) = side
    share = (min(max(x_mm, x1), x2) - x1) / (x2 - x1)
    return y1 + share * (y2 - y1)


def floor_rise(outline: Polygon) -> float:
    """Rise over run of the stair below a wall; 0 for a level floor."""
    side = stair_side(outline)
    return 0.0 if side is None else (side[1][1] - side[0][1]) / (side[1][0] - side[0][0])


def main_furniture(survey: Survey) -> Furniture | None:
    """Give the furniture a group belongs above: the widest that is not a chair."""
    items = [item for item in survey.furniture if item.kind != "chair" and not is_ledge(item)]
    return max(items, key=lambda item: (item.rect.width_mm, -item.rect.left_mm), default=None)


def is_ledge(item: Furniture) -> bool:
    """Whether pieces stand on it instead of hanging above it."""
    words = item.name.lower()
    return any(word in words for word in ("ledge", "shelf", "mantel"))


def _free_axis(bounds: Rect, blocks: Boxes, guidelines: Guidelines) -> float:
    """Middle of the widest stretch of wall that is free at eye level."""
    band = 0.2 * guidelines.centre_height_mm
    low, high = guidelines.centre_height_mm - band, guidelines.centre_height_mm + band
    cuts = blocks[(blocks[:, 1] < high) & (blocks[:, 3] > low)]
    best_width, best_axis, left = -1.0, bounds.centre_mm[0], bounds.left_mm
    for start, stop in sorted((float(b[0]), float(b[2])) for b in cuts) + [
        (bounds.right_mm, bounds.right_mm)
    ]:
        if min(start, bounds.right_mm) - left > best_width + HAIR:
            best_width = min(start, bounds.right_mm) - left
            best_axis = left + best_width / 2
        left = max(left, stop)
    return best_axis


def strips(polygon: Polygon, *, inside: bool) -> list[tuple[float, float, float, float]]:
    """Upright rectangles that together cover a polygon, or all of its bounds outside it."""
    bounds = polygon.bounds
    if polygon.is_upright_rect:
        box = (bounds.left_mm, bounds.bottom_mm, bounds.right_mm, bounds.top_mm)
        return [box] if inside else []
    stops = {x for x, _ in polygon.points_mm}
    for (x1, y1), (x2, y2) in polygon.edges():
        if x1 != x2 and y1 != y2:
            stops |= set(np.linspace(x1, x2, STRIPS // 4 + 1))
    xs = sorted(stops)
    out: list[tuple[float, float, float, float]] = []
    for left, right in itertools.pairwise(xs):
        if right - left < HAIR:
            continue
        bands = _joined(_bands(polygon, left, right))
        covered = list(bands)
        edges = [bounds.bottom_mm, *(y for band in bands for y in band), bounds.top_mm]
        for low, high in zip(edges[::2], edges[1::2], strict=True):
            middle = polygon.contains_point((left + right) / 2, (low + high) / 2)
            if high > low and middle == inside:
                covered.append((low, high))
        out += [(left, low, right, high) for low, high in _joined(covered) if high > low]
    return out


def _bands(polygon: Polygon, left: float, right: float) -> list[tuple[float, float]]:
    """Heights that each side of the polygon sweeps between two plumb lines."""
    out = []
    for (x1, y1), (x2, y2) in polygon.edges():
        if x1 == x2 or max(x1, x2) <= left or min(x1, x2) >= right:
            continue
        at = [y1 + (min(max(x, min(x1, x2)), max(x1, x2)) - x1) * (y2 - y1) / (x2 - x1)
              for x in (left, right)]  # fmt: skip
        out.append((min(at), max(at)))
    return out


def _joined(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Merge spans that touch or overlap."""
    out: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if out and low <= out[-1][1] + HAIR:
            out[-1] = (out[-1][0], max(high, out[-1][1]))
        else:
            out.append((low, high))
    return out
