"""Mixed sizes that fill one rectangle: boxed group, and a stacked pair beside a large piece."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np

from visualiser.arrangement.appearance import void_scale, widest_void
from visualiser.arrangement.building import build_groups
from visualiser.arrangement.families.dissections import dissected
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.parts import Part, joined, leaf, place
from visualiser.arrangement.measures import measure
from visualiser.arrangement.problem import Effort, SearchProblem, search_weights
from visualiser.arrangement.setting import Centres, Setting

Span = tuple[float, float]
MOST_SLICED = 9
"""Sets up to this size are sliced in every way; larger ones are built piece by piece."""
MOST_DISSECTED = 40
FULL_STRAIGHT = 0.92
"""Share of the sides along which frames of a full rectangle lie flush at least."""
FULL_OPENING = 0.25
"""Largest opening along them, in mean pieces."""
FULL_VOID = 1.0
"""Gaps more than one, that an empty place within it is broad, at most."""
MOST_BUILT = 14
"""Larger sets that no full rectangle takes are left to the salon hang."""
KEPT, KEPT_OF_MANY = 5, 2
"""Ways kept for each subset: the work trebles with every piece, so fewer of more than `FEW`."""
FEW = 7


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
        found = dissected(setting)
        for centres in found:
            words = "a full rectangle" if _is_full(centres, setting) else "nearly a rectangle"
            yield Layout(centres, words)
        if found or setting.count > MOST_BUILT:
            return
        weights = {**search_weights(setting), "compact outline": 0.6, "balance": 0.1}
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


def _is_full(centres: Centres, setting: Setting) -> bool:
    """Whether frames lie flush along all four sides of a group (N, 2), with no gaps or holes."""
    gap, sizes = setting.gap_mm, setting.sizes
    m = measure(centres[None], sizes, setting.masses, gap)
    void = widest_void((centres - sizes / 2)[None], (centres + sizes / 2)[None])[0]
    whole = void - gap <= FULL_VOID * void_scale(sizes, gap)
    return bool(m.straight[0] >= FULL_STRAIGHT and m.opening[0] <= FULL_OPENING and whole)


def _beside(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    gaps = _gaps(setting)
    leaves = [leaf(i, w, h) for i, (w, h) in enumerate(setting.sizes.tolist())]
    stack = joined(leaves[1], leaves[2], 1, gaps)
    whole = joined(leaves[0], stack, 0, gaps)
    for centres in realised(whole, setting):
        yield Layout(centres, "stack justified" if whole.waste == 0 else "stack centred")


BOXED = Family(
    "boxed group",
    "three pieces or more of mixed sizes whose edges can meet in one rectangle",
    lambda s: 3 <= s.count <= MOST_DISSECTED and bool(np.ptp(s.sizes, axis=0).max() > 1.0),
    _boxed,
    loose=True,
)
STACKED_PAIR = Family(
    "stacked pair",
    "one large piece and two smaller ones that stack to about its height",
    lambda s: s.count == 3 and bool(s.sizes[0, 1] > 1.2 * s.sizes[1:, 1].max()),
    _beside,
)
