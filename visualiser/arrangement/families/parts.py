"""Parts of a box that is cut again and again, across or upright, until each holds one piece.

Gaps may open or close between their limits, so the size of a part is a range, and two parts fit
side by side exactly where their ranges meet (a slicing tree).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.setting import Centres

Span = tuple[float, float]
Gaps = tuple[float, float, float]
"""The least gap, the one aimed at and the greatest, mm."""


@dataclass(frozen=True, slots=True)
class Part:
    """A piece, or parts in a line along an axis (0 across, 1 upright).

    ``spans`` are the ranges of width and height, ``want`` the size that it has at the gap aimed
    at; ``waste`` is the area left open, mm².
    """

    spans: tuple[Span, Span]
    want: tuple[float, float]
    waste: float = 0.0
    piece: int = -1
    axis: int = 0
    parts: tuple[Part, ...] = ()


def leaf(index: int, width: float, height: float) -> Part:
    """Make a part of one piece."""
    return Part(((width, width), (height, height)), (width, height), piece=index)


def joined(a: Part, b: Part, axis: int, gaps: Gaps) -> Part:
    """Put two parts side by side along an axis, lines along that axis run together.

    ``gaps`` are the least, the wanted and the greatest.
    """
    parts = tuple(
        part for item in (a, b) for part in (item.parts if _runs(item, axis) else (item,))
    )
    along = (
        a.spans[axis][0] + b.spans[axis][0] + gaps[0],
        a.spans[axis][1] + b.spans[axis][1] + gaps[2],
    )
    one, two = a.spans[1 - axis], b.spans[1 - axis]
    low, high = max(one[0], two[0]), min(one[1], two[1])
    waste = a.waste + b.waste
    if low > high:
        shorter = a if one[1] < two[1] else b
        waste += (low - high) * shorter.spans[axis][0]
        across = one if one[1] > two[1] else two
    else:
        across = (low, high)
    spans = (along, across) if axis == 0 else (across, along)
    length = a.want[axis] + b.want[axis] + gaps[1]
    breadth = _near(across, (a.want[1 - axis] + b.want[1 - axis]) / 2)
    want = (length, breadth) if axis == 0 else (breadth, length)
    return Part(spans, want, waste, -1, axis, parts)


def _runs(part: Part, axis: int) -> bool:
    return bool(part.parts) and part.axis == axis


def place(
    part: Part,
    target: tuple[float, float],
    gaps: Gaps,
    outward: float = 0.0,
    pull: tuple[float, float] = (0.0, 0.0),
) -> Centres:
    """Centres (N, 3) as piece, x, y of a part brought to a size about the origin.

    Parameters
    ----------
    part
        What is placed.
    target
        Width and height to fill, mm.
    gaps
        The least, the wanted and the greatest gap, mm.
    outward
        Where a part is smaller than its room: 1 keeps it to the outside of the whole, so that
        the outline is straight; -1 to the inside, so that the inner gaps are even; 0 centres it.
    pull
        The side that is outside here, along x and y: -1, 0 or 1.
    """
    if not part.parts:
        return np.array([[float(part.piece), 0.0, 0.0]])
    axis, count = part.axis, len(part.parts)
    least, _, most = gaps
    lengths = [p.want[axis] for p in part.parts]
    gap = (target[axis] - sum(lengths)) / (count - 1)
    gap = min(max(gap, least), most)
    slack = target[axis] - sum(lengths) - gap * (count - 1)
    lengths = _stretched([p.spans[axis] for p in part.parts], lengths, slack)
    total = sum(lengths) + gap * (count - 1)
    along, out = -total / 2, []
    for number, (child, length) in enumerate(zip(part.parts, lengths, strict=True)):
        across = _near(child.spans[1 - axis], target[1 - axis])
        side = 2.0 * number / (count - 1) - 1.0
        side = pull[axis] if abs(side) < 1 else side
        own = (side, pull[1]) if axis == 0 else (pull[0], side)
        size = (length, across) if axis == 0 else (across, length)
        rows = place(child, size, gaps, outward, own)
        rows[:, 1 + axis] += along + length / 2
        rows[:, 2 - axis] += outward * pull[1 - axis] * (target[1 - axis] - across) / 2
        along += length + gap
        out.append(rows)
    return np.concatenate(out)


def _near(span: Span, want: float) -> float:
    return min(max(want, span[0]), span[1])


def _stretched(spans: list[Span], lengths: list[float], slack: float) -> list[float]:
    """Give what is left over to the parts that can take it."""
    out = []
    for span, length in zip(spans, lengths, strict=True):
        new = _near(span, length + slack)
        slack -= new - length
        out.append(new)
    return out
