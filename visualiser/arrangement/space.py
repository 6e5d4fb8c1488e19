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

from visualiser.arrangement.furnishings import (
    is_ledge,
    is_rail,
    ledges,
    main_furniture,
    rail_height,
)
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.slopes import stair_side
from visualiser.errors import ArrangementError
from visualiser.geometry import Polygon, Rect, frozen
from visualiser.survey.survey import Furniture, Survey, Zone
from visualiser.wording import Length, Lengths, sentence

Boxes = NDArray[np.float64]
"""(N, 4) rectangles as left, bottom, right, top, mm."""

HAIR = 1e-6
STRIPS = 48
"""Strips that a sloping side's polygon is cut into at most, each way."""


DEVICES = ("switch", "socket", "thermostat")
"""Kinds of zones that take no stretch of wall."""
EYE_BAND = 0.2
"""Share of the centre height, either way of it, that a group at eye level takes."""
NEAR_MIDDLE = 0.1
"""Share of the wall's width by which a thermostat may be off its middle and still be flanked."""
MOST_STOPS = 96
"""Shifts tried along each axis when a group is brought into free wall."""
NOWHERE = Rect(0.0, 0.0, 0.0, 0.0)


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
    ceiling_mm
        Top of the wall.
    whole
        The bounds down to the floor, below the lowest edge too.
    """

    bounds: Rect
    blocks: Boxes
    axis_mm: float
    furniture: Furniture | None
    ceiling_mm: float = math.inf
    whole: Rect = NOWHERE

    def blocked(self, boxes: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether boxes (..., 4) leave the bounds or enter a block."""
        limits = self.bounds
        out = (
            (boxes[..., 0] < limits.left_mm - HAIR)
            | (boxes[..., 1] < limits.bottom_mm - HAIR)
            | (boxes[..., 2] > limits.right_mm + HAIR)
            | (boxes[..., 3] > limits.top_mm + HAIR)
        )
        if not boxes.size:
            return np.asarray(out)
        every = boxes.reshape(-1, 4)
        low, high = every[:, :2].min(axis=0), every[:, 2:].max(axis=0)
        met = (low < self.blocks[:, 2:] - HAIR) & (high > self.blocks[:, :2] + HAIR)
        for left, bottom, right, top in self.blocks[met.all(axis=1)]:
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

    def settle(
        self, boxes: Boxes, dx_mm: float, dy_mm: float, most_y_mm: float = math.inf
    ) -> tuple[float, float] | None:
        """Shift nearest to a wanted one that brings a rigid group into free space.

        Parameters
        ----------
        boxes
            (N, 4) the group as it stands.
        dx_mm, dy_mm
            Shift that would be best.
        most_y_mm
            Greatest shift upwards.

        Returns
        -------
        The shift, or None when none of those tried is free. Of the lines on each axis the
        nearest `MOST_STOPS` are tried, so that on a crowded wall a place far off is passed over.

        Notes
        -----
        In the plane of shifts each pair of piece and block forbids an open rectangle. The free
        shift nearest to the wanted one is that one itself, or lies on an edge straight across
        from it, or in a corner where two edges' lines meet; these are tried in order of distance.
        """
        low_x = self.bounds.left_mm - boxes[:, 0].min()
        high_x = self.bounds.right_mm - boxes[:, 2].max()
        low_y = self.bounds.bottom_mm - boxes[:, 1].min()
        high_y = min(self.bounds.top_mm - boxes[:, 3].max(), most_y_mm)
        if low_x > high_x + HAIR or low_y > high_y + HAIR:
            return None
        if dy_mm <= high_y + HAIR and self._is_free(boxes + (dx_mm, dy_mm, dx_mm, dy_mm)):
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
        span = max(high_x - low_x, high_y - low_y, HAIR)
        i, j = divmod(int(np.round(away / span, 9).argmin()), len(ys))
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
    """Shifts along one axis worth trying, nearest first, at most `MOST_STOPS` of them."""
    inside = edges[(edges >= low) & (edges <= high)]
    stops = np.unique(np.concatenate([inside, [want, low, max(low, high)]]))
    # Rounded, so that of two just as near the first is taken, whatever the unit.
    away = np.round(np.abs(stops - want) / max(high - low, HAIR), 9)
    return stops[np.argsort(away, kind="stable")][:MOST_STOPS]


def wall_space(survey: Survey, guidelines: Guidelines, *, standing: bool = False) -> WallSpace:
    """Work out where pieces may hang, or with ``standing`` where they may stand on ledges.

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
            sentence(
                "The wall is ",
                Lengths((outer.width_mm, outer.height_mm)),
                ": ",
                Length(clear),
                " of clearance at its ends and top leave nothing to hang on.",
            ),
            hint="Correct the outline or lower the clearance from the wall's ends.",
        )
    bottom = outer.bottom_mm
    stair = stair_side(survey.outline)
    if not standing and stair is None and survey.floor_known and guidelines.is_hard("lowest-edge"):
        bottom = max(bottom, guidelines.lowest_edge)
    top = outer.bottom_mm + height
    if top - bottom <= 0:
        raise ArrangementError(
            sentence(
                "Between the lowest edge, ",
                Length(bottom),
                " above the floor, and the ceiling's clearance nothing is left to hang on.",
            ),
            hint="Correct the outline or lower the lowest edge.",
        )
    bounds = Rect(outer.left_mm + clear, bottom, width, top - bottom)
    blocks: list[tuple[float, float, float, float]] = []
    if not survey.outline.is_upright_rect:
        blocks += [
            (left - clear, bottom - clear, right + clear, top)
            for left, bottom, right, top in strips(survey.outline, inside=False)
        ]
    zone_clear = guidelines.zone_clearance_mm
    zones = [
        [
            (left - zone_clear, bottom - zone_clear, right + zone_clear, top + zone_clear)
            for left, bottom, right, top in strips(zone.polygon, inside=True)
        ]
        for zone in survey.zones
    ]
    apart = [_parts_wall(zone, outer) for zone in survey.zones]
    blocks += [box for boxes, parts in zip(zones, apart, strict=True) if parts for box in boxes]
    above = (
        guidelines.furniture_clearance_min_mm if guidelines.is_hard("furniture-clearance") else 0.0
    )
    for item in survey.furniture:
        rect = item.rect
        if is_ledge(item):
            continue
        blocks.append(
            (
                rect.left_mm - zone_clear,
                rect.bottom_mm,
                rect.right_mm + zone_clear,
                rect.top_mm + (0.0 if is_rail(item) else above),
            )
        )
    rail = rail_height(survey, guidelines)
    if rail is not None:
        blocks.append((outer.left_mm, rail, outer.right_mm, max(outer.top_mm, rail)))
    if not standing:
        blocks += [
            (rect.left_mm, rect.bottom_mm - zone_clear, rect.right_mm, rect.top_mm + above)
            for rect in ledges(survey, guidelines)
        ]
    # What is small comes last: a group gives way to it, but it parts no wall in two.
    devices = [box for boxes, parts in zip(zones, apart, strict=True) if not parts for box in boxes]
    small = len(devices)
    array = frozen(np.array(blocks + devices, dtype=np.float64).reshape(-1, 4), (None, 4))
    below = main_furniture(survey, guidelines)
    if below is not None:
        axis = below.rect.centre_mm[0]
    elif stair is not None:
        axis = (stair[0][0] + stair[1][0]) / 2
    else:
        axis = _free_axis(bounds, array[: len(array) - small], guidelines)
    whole = Rect(bounds.left_mm, outer.bottom_mm, width, top - outer.bottom_mm)
    return WallSpace(bounds, array, axis, below, outer.top_mm, whole)


def _parts_wall(zone: Zone, wall: Rect) -> bool:
    """Whether a zone parts a wall in two: all do but a switch or thermostat off its middle."""
    off = abs(zone.polygon.bounds.centre_mm[0] - wall.centre_mm[0])
    return zone.kind not in DEVICES or off < NEAR_MIDDLE * wall.width_mm


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


def eye_band(guidelines: Guidelines) -> tuple[float, float]:
    """Heights between which what is on the wall parts it for a group at eye level."""
    band = EYE_BAND * guidelines.centre_height_mm
    return guidelines.centre_height_mm - band, guidelines.centre_height_mm + band


def _free_axis(bounds: Rect, blocks: Boxes, guidelines: Guidelines) -> float:
    """Middle of the widest stretch of wall that is free at eye level."""
    low, high = eye_band(guidelines)
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
