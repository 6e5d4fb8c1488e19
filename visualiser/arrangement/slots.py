"""Places of a group without its artworks, and how they are spaced anew at other sizes or gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.frame_sizes import next_size
from visualiser.arrangement.rules import TOUCH_MM, neighbour_gaps
from visualiser.errors import ArrangementError
from visualiser.geometry import Rect, bounding_rect
from visualiser.wording import Length, sentence

MOST_SLOTS = 200


@dataclass(frozen=True, slots=True)
class Slot:
    """One place: its centre from the middle of the group, and its size, mm."""

    id: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        numbers = (self.x_mm, self.y_mm, self.width_mm, self.height_mm)
        if not all(math.isfinite(v) for v in numbers) or min(numbers[2:]) <= 0:
            raise ArrangementError(
                f"Slot {self.id} of the plan has no proper place or size.",
                hint="Give numbers in mm, width and height above 0.",
            )

    @property
    def rect(self) -> Rect:
        """Rectangle about the group's middle."""
        return Rect.from_centre(self.x_mm, self.y_mm, self.width_mm, self.height_mm)


@dataclass(frozen=True, slots=True)
class Plan:
    """Slots of a group, to be hung again with other pieces.

    Parameters
    ----------
    slots
        The places.
    gap_mm
        The gap it was made with.
    family, name
        What it was.
    centre_height_mm
        Height of its middle above the floor.
    """

    slots: tuple[Slot, ...]
    gap_mm: float
    family: str = "by hand"
    name: str = ""
    centre_height_mm: float = 1524.0

    def __post_init__(self) -> None:
        if not 1 <= len(self.slots) <= MOST_SLOTS:
            raise ArrangementError(
                f"The plan has {len(self.slots)} slots.",
                hint=f"Give it one slot at least and {MOST_SLOTS} at most.",
            )
        if len({slot.id for slot in self.slots}) < len(self.slots):
            raise ArrangementError(
                "Two slots of the plan share an id.", hint="Give each slot an id of its own."
            )
        if not (0 <= self.gap_mm < math.inf and math.isfinite(self.centre_height_mm)):
            raise ArrangementError(
                sentence("The plan's gap is ", Length(self.gap_mm, None), "."),
                hint="Give a gap of 0 or more.",
            )

    @property
    def bounds(self) -> Rect:
        """Rectangle around all slots, about the group's middle."""
        return bounding_rect(slot.rect for slot in self.slots)


def plan_of(arrangement: Arrangement, gap_mm: float) -> Plan:
    """Take the plan out of an arrangement.

    Raises
    ------
    ArrangementError
        If nothing hangs.
    """
    rects = arrangement.rects()
    if not rects:
        raise ArrangementError("Nothing hangs yet.", hint="Place a piece first.")
    slots, (_, y) = _about_middle(rects)
    return Plan(slots, gap_mm, arrangement.family, arrangement.name, y)


def _about_middle(rects: dict[str, Rect]) -> tuple[tuple[Slot, ...], tuple[float, float]]:
    """Take the places of pieces about the middle of them all, and that middle."""
    x, y = bounding_rect(rects.values()).centre_mm
    slots = tuple(
        Slot(i, r.centre_mm[0] - x, r.centre_mm[1] - y, r.width_mm, r.height_mm)
        for i, r in rects.items()
    )
    return slots, (x, y)


def scaled(plan: Plan, factor: float, gap_mm: float | None = None) -> Plan:
    """Make all sizes larger or smaller by a factor, and set the gap apart from that.

    Every distance in the plan is made of sizes and gaps. Sizes grow by the factor; distances
    between slots change so that slots at the plan's gap stand at the new one.

    Raises
    ------
    ArrangementError
        If the factor is not above 0.
    """
    if not 0 < factor < math.inf:
        raise ArrangementError(
            f"The plan cannot be scaled by {factor:g}.", hint="Give a factor above 0."
        )
    sizes = {s.id: (s.width_mm * factor, s.height_mm * factor) for s in plan.slots}
    return resized(plan, sizes, plan.gap_mm if gap_mm is None else gap_mm)


DIAGONAL = 0.85
"""Gaps that what lies diagonally must keep at least."""
NEAR_GAPS = 2.5
"""Gaps up to so many times the plan's are set to the new one where gaps are to be even."""


def resized(
    plan: Plan,
    sizes: dict[str, tuple[float, float]],
    gap_mm: float,
    *,
    even: bool = False,
) -> Plan:
    """Give slots other sizes and the group another gap, keeping who is beside and above whom.

    Along each axis the slots are pushed apart, in the order in which they follow each other, to
    the new gap or to as much more than it as they stood apart before; with ``even`` to the new
    gap wherever they stood about a gap apart.

    Raises
    ------
    ArrangementError
        If a size is given for an unknown slot, or slots that lie diagonally would overlap.
    """
    if unknown := sorted(set(sizes) - {s.id for s in plan.slots}):
        raise ArrangementError(
            f"The plan has no slot {unknown[0]}.", hint="Give sizes for its own slots."
        )
    new = {s.id: sizes.get(s.id, (s.width_mm, s.height_mm)) for s in plan.slots}
    slots = _respaced(plan, new, gap_mm, even=even, diagonals=False)
    crowded = any(
        one.rect.distance_to(two.rect) < DIAGONAL * gap_mm for one, two in combinations(slots, 2)
    )
    if crowded:
        # What lies diagonally keeps apart too, so that columns and rows stay what they are.
        slots = _respaced(plan, new, gap_mm, even=even, diagonals=True)
    for one, two in combinations(slots, 2):
        if one.rect.overlaps(two.rect):
            raise ArrangementError(
                f"At these sizes slots {one.id} and {two.id} of the plan would overlap.",
                hint="Choose sizes nearer to the plan's own proportions.",
            )
    x, y = bounding_rect(s.rect for s in slots).centre_mm
    centred = tuple(replace(s, x_mm=s.x_mm - x, y_mm=s.y_mm - y) for s in slots)
    return replace(plan, slots=centred, gap_mm=gap_mm)


def _respaced(
    plan: Plan,
    sizes: dict[str, tuple[float, float]],
    gap_mm: float,
    *,
    even: bool,
    diagonals: bool,
) -> tuple[Slot, ...]:
    xs, ys = (
        _spaced(
            plan, {i: size[axis] for i, size in sizes.items()}, gap_mm, axis,
            even=even, diagonals=diagonals,
        )
        for axis in (0, 1)
    )  # fmt: skip
    return tuple(Slot(s.id, xs[s.id], ys[s.id], *sizes[s.id]) for s in plan.slots)


def _spaced(
    plan: Plan,
    lengths: dict[str, float],
    gap_mm: float,
    axis: int,
    *,
    even: bool,
    diagonals: bool,
) -> dict[str, float]:
    """Space centres along one axis anew, in the order that the slots have along it.

    Each slot takes the place that its neighbours before it allow, and in a second pass from the
    far end; the mean of both keeps centred what was centred.
    """
    old = {s.id: (s.x_mm, s.y_mm)[axis] for s in plan.slots}
    was = {s.id: (s.width_mm, s.height_mm)[axis] for s in plan.slots}
    rects = {s.id: s.rect for s in plan.slots}

    def spaced(gap: float) -> float:
        near = even and gap <= NEAR_GAPS * plan.gap_mm
        return gap_mm if near else gap + gap_mm - plan.gap_mm

    pairs = [
        (one, two, spaced(gap))
        for one, two, gap in neighbour_gaps(rects)
        if rects[one].gap_to(rects[two])[axis] > rects[one].gap_to(rects[two])[1 - axis]
    ]
    if diagonals:
        for one, two in combinations(rects, 2):
            gaps = rects[one].gap_to(rects[two])
            if min(gaps) > -TOUCH_MM:
                first = rects[one].centre_mm[axis] < rects[two].centre_mm[axis]
                pairs.append(
                    (one, two, spaced(gaps[axis])) if first else (two, one, spaced(gaps[axis]))
                )

    def pushed(sign: float) -> dict[str, float]:
        out: dict[str, float] = {}
        for i in sorted(old, key=lambda k: sign * old[k]):
            spots = [
                sign * out[one] + (lengths[one] + lengths[two]) / 2 + gap
                for one, two, gap in (p if sign > 0 else (p[1], p[0], p[2]) for p in pairs)
                if two == i
            ]
            edge = sign * old[i] - was[i] / 2 + lengths[i] / 2
            out[i] = sign * max(spots, default=edge)
        return out

    up, down = pushed(1.0), pushed(-1.0)
    shift = sum(up.values()) / len(up) - sum(down.values()) / len(down)
    merged = {i: (up[i] + down[i] + shift) / 2 for i in old}
    kept = all(
        merged[two] - merged[one] - (lengths[one] + lengths[two]) / 2 > gap - 1e-6
        for one, two, gap in pairs
    )
    return merged if kept else up


def one_size_up(plan: Plan, gap_mm: float | None = None) -> Plan:
    """Give every slot the next usual size.

    Raises
    ------
    ArrangementError
        If slots that lie diagonally would overlap.
    """
    sizes = {s.id: next_size((s.width_mm, s.height_mm)) for s in plan.slots}
    return resized(plan, sizes, plan.gap_mm if gap_mm is None else gap_mm)


def closed_up(
    rects: dict[str, Rect],
    sizes: dict[str, tuple[float, float]],
    gap_mm: float | None = None,
) -> dict[str, Rect] | None:
    """Space pieces anew with other sizes or another gap, about their middle.

    Parameters
    ----------
    rects
        Where they hang, by piece.
    sizes
        Other sizes, of some of them.
    gap_mm
        The gap wherever they stand about a gap apart; when None their own gaps are kept.

    Returns
    -------
    Rectangles by piece; None where pieces that lie diagonally would overlap.
    """
    gaps = [gap for _, _, gap in neighbour_gaps(rects)]
    if not gaps:
        return None
    own = float(np.median(gaps))
    slots, middle = _about_middle(rects)
    try:
        plan = resized(
            Plan(slots, max(own, 0.0)), sizes, own if gap_mm is None else gap_mm,
            even=gap_mm is not None,
        )  # fmt: skip
    except ArrangementError:
        return None
    return {s.id: s.rect.moved(*middle) for s in plan.slots}
