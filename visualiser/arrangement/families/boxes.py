"""Mixed sizes that fill one rectangle: boxed group, and a stacked pair beside a large piece.

A box is cut again and again, across or upright, until each part holds one piece (a slicing tree).
Gaps may open or close between their limits, so the size of a part is a range, and two parts fit
side by side exactly where their ranges of height meet.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np

from visualiser.arrangement.building import build_groups
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.problem import Effort, SearchProblem
from visualiser.arrangement.scoring import SEARCH_WEIGHTS
from visualiser.arrangement.setting import Centres, Setting

Span = tuple[float, float]
MOST_SLICED = 9
"""Sets up to this size are sliced in every way; larger ones are built piece by piece."""
KEPT, KEPT_OF_MANY = 5, 2
"""Ways kept for each subset: the work trebles with every piece, so fewer of more than `FEW`."""
FEW = 7


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


def joined(a: Part, b: Part, axis: int, gaps: tuple[float, float, float]) -> Part:
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
    gaps: tuple[float, float, float],
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


def _gaps(setting: Setting) -> tuple[float, float, float]:
    rules = setting.guidelines
    return rules.gap_min_mm, rules.gap_mm, rules.gap_max_mm


@lru_cache(maxsize=8)
def sliced(setting: Setting) -> list[Part]:
    """Ways to cut a box for all the pieces, those that leave least open first."""
    gaps, kept = _gaps(setting), KEPT if setting.count <= FEW else KEPT_OF_MANY
    ways: dict[int, list[Part]] = {}
    for index, (width, height) in enumerate(setting.sizes.tolist()):
        ways[1 << index] = [leaf(index, width, height)]
    kinds = [tuple(size) for size in setting.sizes.tolist()]
    codes = [(setting.count + 1) ** kinds.index(kind) for kind in kinds]
    first: dict[int, int] = {}
    same: dict[int, int] = {}
    for subset in range(1, 1 << setting.count):
        code = sum(codes[i] for i in range(setting.count) if subset >> i & 1)
        same[subset] = first.setdefault(code, subset)
    everything = (1 << setting.count) - 1
    for subset in sorted(same, key=lambda s: (s.bit_count(), s)):
        if subset in ways:
            continue
        found: dict[tuple[float, ...], Part] = {}
        cuts: set[tuple[int, int]] = set()
        part = (subset - 1) & subset
        while part:
            rest = subset ^ part
            pair = (min(same[part], same[rest]), max(same[part], same[rest]))
            if part < rest and pair not in cuts:
                cuts.add(pair)
                for a, b in product(ways[part], ways[rest]):
                    for axis in (0, 1):
                        item = joined(a, b, axis, gaps)
                        size = tuple(round(v, 1) for span in item.spans for v in span)
                        if size not in found or item.waste < found[size].waste:
                            found[size] = item
            part = (part - 1) & subset
        limit = 8 * kept if subset == everything else kept
        ways[subset] = sorted(found.values(), key=lambda p: (p.waste, p.spans))[:limit]
    return ways[everything]


@lru_cache(maxsize=128)
def realised(part: Part, setting: Setting) -> tuple[Centres, ...]:
    """Centres (N, 2) of a way to cut, in every order of the two outer levels' parts."""
    out = []
    for item in _turns(part, 2):
        for outward in (0.0,) if part.waste < 1.0 else (0.0, 1.0, -1.0):
            rows = place(item, item.want, _gaps(setting), outward)
            centres = np.empty((setting.count, 2))
            centres[rows[:, 0].astype(int)] = rows[:, 1:]
            out.append(centres)
    return tuple(out)


def _turns(part: Part, depth: int) -> Iterator[Part]:
    """Orders of the parts in a line worth trying, down to a depth."""
    if not part.parts or depth == 0:
        yield part
        return
    for children in product(*(list(_turns(p, depth - 1)) for p in part.parts)):
        for order in _line_orders(len(children)):
            yield replace(part, parts=tuple(children[i] for i in order))


def _line_orders(count: int) -> list[tuple[int, ...]]:
    """Every order of two or three, without mirror images of three; a few of more."""
    if count == 2:
        return [(0, 1), (1, 0)]
    if count == 3:
        return [(0, 1, 2), (1, 0, 2), (0, 2, 1)]
    line = tuple(range(count))
    return [line, line[::-1], (*line[1::2][::-1], *line[::2])]


def _boxed(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    if setting.count > MOST_SLICED:
        weights = {**SEARCH_WEIGHTS, "compact outline": 0.6, "balance": 0.1}
        units = [(i,) for i in range(setting.count)]
        effort = replace(Effort.for_count(setting.count), renewals=20)
        for centres in build_groups(SearchProblem(setting), units, rng, effort, weights=weights):
            yield Layout(centres, "nearly a rectangle")
        return
    area = float(np.prod(setting.sizes, axis=1).sum())
    parts = [p for p in sliced(setting) if any(child.parts for child in p.parts)]
    for number, part in enumerate(parts):
        if part.waste > 0.12 * area and number >= 6:
            break
        words = "a full rectangle" if part.waste < 1e-6 * area else "nearly a rectangle"
        for centres in realised(part, setting):
            yield Layout(centres, words)


def _beside(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    gaps = _gaps(setting)
    leaves = [leaf(i, w, h) for i, (w, h) in enumerate(setting.sizes.tolist())]
    stack = joined(leaves[1], leaves[2], 1, gaps)
    whole = joined(leaves[0], stack, 0, gaps)
    for centres in realised(whole, setting):
        yield Layout(centres, "stack justified" if whole.waste == 0 else "stack centred")


BOXED = Family(
    "boxed group",
    "three to fourteen pieces of mixed sizes whose edges can meet in one rectangle",
    lambda s: 3 <= s.count <= 14 and bool(np.ptp(s.sizes, axis=0).max() > 1.0),
    _boxed,
)
STACKED_PAIR = Family(
    "stacked pair",
    "one large piece and two smaller ones that stack to about its height",
    lambda s: s.count == 3 and bool(s.sizes[0, 1] > 1.2 * s.sizes[1:, 1].max()),
    _beside,
)
