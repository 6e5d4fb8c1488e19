"""Lines that a piece moved by hand falls into: edges, centres, equal gaps, the centre line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from visualiser.arrangement.furnishings import main_furniture
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.slopes import floor_height
from visualiser.geometry import Rect
from visualiser.survey.survey import Survey

GuideKind = Literal["gap", "edge", "centre", "centre line", "wall middle", "tape"]
Axis = Literal["x", "y"]

REACH_MM = 15.0
"""How near a piece must come before it falls into a line; the app scales it with its zoom."""


@dataclass(frozen=True, slots=True)
class Guide:
    """A line that a moved piece fell into.

    Parameters
    ----------
    kind
        What the line is.
    axis
        ``x`` for a plumb line at x = ``at_mm``, ``y`` for a level one.
    at_mm
        Where it is.
    shift_mm
        How much farther the piece had to move to meet it.
    piece_ids
        Pieces that make the line.
    """

    kind: GuideKind
    axis: Axis
    at_mm: float
    shift_mm: float
    piece_ids: tuple[str, ...] = ()


_RANK: dict[GuideKind, int] = {
    "gap": 0,
    "edge": 1,
    "centre line": 2,
    "centre": 3,
    "wall middle": 4,
    "tape": 5,
}


def snap(
    moving: Rect,
    others: dict[str, Rect],
    survey: Survey,
    guidelines: Guidelines,
    *,
    reach_mm: float = REACH_MM,
    tape_mm: float | None = None,
) -> tuple[float, float, tuple[Guide, ...]]:
    """Find the lines a rectangle falls into.

    Parameters
    ----------
    moving
        The piece, or the outline of several that move together.
    others
        The pieces that stay.
    survey, guidelines
        For the wall's middle, the centre line and the gap.
    reach_mm
        How far it may be drawn.
    tape_mm
        Step of a tape's marks that the left and lower edges fall on; None without.

    Returns
    -------
    Extra shift along x and y, and the guides met, one an axis at most.
    """
    guides = []
    shift = {"x": 0.0, "y": 0.0}
    for axis in ("x", "y"):
        found = [
            guide
            for guide in _lines(moving, others, survey, guidelines, axis)
            if abs(guide.shift_mm) <= reach_mm
        ]
        # At the same distance a stronger kind of line wins; a hair decides nothing.
        best = min(
            found, key=lambda g: (round(abs(g.shift_mm), 1), _RANK[g.kind], g.at_mm), default=None
        )
        if best is None and tape_mm:
            best = _tape(moving, axis, tape_mm)
        if best is not None:
            shift[axis] = best.shift_mm
            guides.append(best)
    return shift["x"], shift["y"], tuple(guides)


def _span(rect: Rect, axis: Axis) -> tuple[float, float]:
    return (rect.left_mm, rect.right_mm) if axis == "x" else (rect.bottom_mm, rect.top_mm)


def _lines(
    moving: Rect, others: dict[str, Rect], survey: Survey, guidelines: Guidelines, axis: Axis
) -> Iterator[Guide]:
    low, high = _span(moving, axis)
    middle = (low + high) / 2
    for piece_id, rect in others.items():
        start, end = _span(rect, axis)
        for line, own in ((start, low), (end, high), (start, high), (end, low)):
            yield Guide("edge", axis, line, line - own, (piece_id,))
        centre = (start + end) / 2
        yield Guide("centre", axis, centre, centre - middle, (piece_id,))
        if _faces(moving, rect, axis):
            for gap in _gaps(others, guidelines, axis):
                yield Guide("gap", axis, end + gap, end + gap - low, (piece_id,))
                yield Guide("gap", axis, start - gap, start - gap - high, (piece_id,))
    yield from _between(moving, others, axis)
    if axis == "y":
        height = guidelines.centre_height_mm + floor_height(survey.outline, moving.centre_mm[0])
        yield Guide("centre line", axis, height, height - middle)
    else:
        furniture = main_furniture(survey, guidelines)
        bounds = furniture.rect if furniture else survey.outline.bounds
        at = bounds.centre_mm[0]
        yield Guide("wall middle", axis, at, at - middle)


def _faces(a: Rect, b: Rect, axis: Axis) -> bool:
    """Whether two rectangles face each other along an axis."""
    across, up = a.gap_to(b)
    return (up if axis == "x" else across) < 0


def _gaps(others: dict[str, Rect], guidelines: Guidelines, axis: Axis) -> Iterable[float]:
    """Give the gap of the rules, and those that hang already along this axis."""
    gaps = {round(guidelines.gap_mm, 2)}
    rects = list(others.values())
    for i, a in enumerate(rects):
        for b in rects[i + 1 :]:
            gap = a.gap_to(b)[0 if axis == "x" else 1]
            if _faces(a, b, axis) and guidelines.gap_min_mm <= gap <= 2 * guidelines.gap_max_mm:
                gaps.add(round(gap, 2))
    return sorted(gaps)


def _between(moving: Rect, others: dict[str, Rect], axis: Axis) -> Iterator[Guide]:
    """Give the place midway between two pieces that face the moved one."""
    low, high = _span(moving, axis)
    facing = [(i, _span(r, axis)) for i, r in others.items() if _faces(moving, r, axis)]
    for one, (_, end) in facing:
        for two, (start, _) in facing:
            if end < start and start - end > high - low:
                at = (end + start) / 2
                yield Guide("gap", axis, at, at - (low + high) / 2, (one, two))


def _tape(moving: Rect, axis: Axis, tape_mm: float) -> Guide:
    low = _span(moving, axis)[0]
    at = round(low / tape_mm) * tape_mm
    return Guide("tape", axis, at, at - low)
