"""Rules of what hangs beside what: pieces that overlap, crowd or lose each other."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.space import TOLERANCE_MM
from visualiser.findings import Finding
from visualiser.geometry import Rect


def between(arrangement: Arrangement, guidelines: Guidelines) -> Iterator[Finding]:
    """Hold gaps between pieces against the rules."""
    rects = arrangement.rects()
    for (one, a), (two, b) in combinations(rects.items(), 2):
        distance = a.distance_to(b)
        if a.overlaps(b, TOLERANCE_MM):
            yield Finding(
                "broken",
                f"{arrangement.called(one)} and {arrangement.called(two)} overlap by "
                f"{-distance:.0f} mm.",
                "Move one of them aside.",
                "overlap",
                (one, two),
            )
        elif distance < guidelines.gap_min_mm - TOLERANCE_MM:
            yield Finding(
                guidelines.severity("gap-min"),
                f"{arrangement.called(one)} and {arrangement.called(two)} are {distance:.0f} mm "
                f"apart, less than {guidelines.gap_min_mm:.0f} mm.",
                "Move them apart or lower the least gap.",
                "gap-min",
                (one, two),
            )
    for one, two, gap in neighbour_gaps(rects):
        if gap > guidelines.gap_max_mm + TOLERANCE_MM:
            yield Finding(
                guidelines.severity("gap"),
                f"The gap between {arrangement.called(one)} and {arrangement.called(two)} is "
                f"{gap:.0f} mm; {guidelines.gap_min_mm:.0f} to {guidelines.gap_max_mm:.0f} mm "
                "holds a group together.",
                "Close it up, if no line of the group asks for it.",
                "gap",
                (one, two),
            )


def neighbour_gaps(rects: dict[str, Rect]) -> list[tuple[str, str, float]]:
    """Clear gaps between pieces that face each other with nothing in between, mm.

    Each is (left or lower piece, right or upper piece, gap).
    """
    out = []
    for (one, a), (two, b) in combinations(rects.items(), 2):
        across, up = a.gap_to(b)
        if (across > 0) == (up > 0):
            continue
        between = _between_rect(a, b)
        if any(r.overlaps(between) for i, r in rects.items() if i not in (one, two)):
            continue
        first = a.left_mm < b.left_mm if across > 0 else a.bottom_mm < b.bottom_mm
        out.append((one, two, max(across, up)) if first else (two, one, max(across, up)))
    return out


def _between_rect(a: Rect, b: Rect) -> Rect:
    """Rectangle that fills the space between two facing rectangles."""
    xs = sorted([a.left_mm, a.right_mm, b.left_mm, b.right_mm])[1:3]
    ys = sorted([a.bottom_mm, a.top_mm, b.bottom_mm, b.top_mm])[1:3]
    return Rect(xs[0], ys[0], xs[1] - xs[0], ys[1] - ys[0])
