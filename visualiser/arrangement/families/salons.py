"""Mixed pieces as one mass: the salon hang and its symmetrical form, and around an object."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from visualiser.arrangement.building import build_groups
from visualiser.arrangement.families.boxes import MOST_SLICED, realised, sliced
from visualiser.arrangement.families.dissections import dissected
from visualiser.arrangement.families.family import Family, Layout, same_size
from visualiser.arrangement.growing import Unit
from visualiser.arrangement.measures import MeasuringContext
from visualiser.arrangement.problem import Effort, SearchProblem
from visualiser.arrangement.setting import Centres, Setting, host_of, objects

LEAST_DISSECTED = 6
"""Pieces from which blocks of them are tried."""
FITTED_ORDERS = 12
"""Orders drawn by lot in which pieces are fitted to a wall."""
MOST_ON_AXIS = 3
"""Pieces that may hang on the axis of a symmetrical group."""
MOST_STACKED = 3
"""Sizes of which a pair is tried on the axis, the smallest first."""


def one_mass(
    setting: Setting, rng: np.random.Generator, effort: Effort | None = None
) -> list[Centres]:
    """Build the pieces to one mass, best first: from boxes where they can be sliced, and freely."""
    units: list[Unit] = [(i,) for i in range(setting.count)]
    return build_groups(SearchProblem(setting), units, rng, effort, seeds=_boxes(setting))


def _salon(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    free = [Layout(centres, "one mass") for centres in one_mass(setting, rng)]
    yield from free
    if len(setting.space.blocks) and not any(_rests(layout, setting) for layout in free):
        yield from _one_mass_on_the_wall(setting, rng)


def _one_mass_on_the_wall(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    """Build groups where they hang, about the free place nearest to the middle."""
    first = _apart(setting, range(1), setting.gap_mm)
    if first is None:
        return
    problem = SearchProblem(setting, absolute=True, origin=(float(first[0, 0]), float(first[0, 1])))
    for centres in build_groups(problem, [(i,) for i in range(setting.count)], rng):
        yield Layout(centres, "fitted to the wall", fixed=True)
        yield Layout(centres, "fitted to the wall")


def _fitted(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    """One mass, and pieces one after another each where it is free nearest to the middle."""
    yield from _one_mass_on_the_wall(setting, rng)
    for centres in fitted_apart(setting, rng):
        yield Layout(centres, "where there is room", fixed=True)
        # Piece by piece they may end up higher than the whole may hang.
        yield Layout(centres, "where there is room")


def fitted_apart(
    setting: Setting, rng: np.random.Generator, lots: int = FITTED_ORDERS
) -> Iterator[Centres]:
    """Hang pieces one after another, each where it is free nearest to the middle, in some orders.

    They need not be neighbours, only a gap apart. Where that leaves no room they hang at the least
    gap that is allowed, and then as near to the lower left corner as they can (bottom-left packing:
    Baker, Coffman and Rivest, SIAM J. Comput. 9(4):846, 1980).
    """
    falling = np.argsort(-setting.sizes, axis=0, kind="stable").T
    every_way = [np.arange(setting.count), *falling]
    every_way += [rng.permutation(setting.count) for _ in range(lots)]
    for order in every_way:
        least = setting.guidelines.gap_min_mm
        for gap, corner in ((setting.gap_mm, False), (least, False), (least, True)):
            centres = _apart(setting, order.tolist(), gap, corner=corner)
            if centres is not None:
                yield centres
                break


def _apart(
    setting: Setting, order: Iterable[int], gap_mm: float, *, corner: bool = False
) -> Centres | None:
    """Hang pieces in an order, each in the free place nearest to the middle; None: one finds none.

    With ``corner``, nearest to the lower left corner instead.

    Pieces that are not in the order have no place in what is given.
    """
    space, centres = setting.space, np.full((setting.count, 2), np.nan)
    for index in order:
        half = setting.sizes[index] / 2
        wanted = space.axis_mm, setting.rest_height(float(2 * half[1]))
        if corner:
            wanted = space.bounds.left_mm + half[0], space.bounds.bottom_mm + half[1]
        place = space.settle(np.concatenate([-half, half])[None], *wanted)
        if place is None:
            return None
        centres[index] = place
        taken = np.concatenate([place - half - gap_mm, place + half + gap_mm])
        space = replace(space, blocks=np.concatenate([space.blocks, taken[None]]))
    return centres


def _boxes(setting: Setting) -> list[Centres]:
    """Boxes to start from: sliced in every way for small sets, from blocks for larger ones."""
    blocks = list(dissected(setting)) if setting.count >= LEAST_DISSECTED else []
    if not 4 <= setting.count <= MOST_SLICED:
        return blocks
    return [
        *blocks,
        *(centres for part in sliced(setting)[:8] for centres in realised(part, setting)),
    ]


def _rests(layout: Layout, setting: Setting) -> bool:
    """Whether a group as it settles is within two gaps of where it should rest."""
    centres = layout.settled(setting)
    if centres is None:
        return False
    boxes = setting.boxes(centres)
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    rest = setting.rest_height(float(high[1] - low[1]))
    off = (low + high) / 2 - (setting.space.axis_mm, rest)
    return bool(np.abs(off).max() <= 2 * setting.gap_mm)


def mirror_units(setting: Setting) -> list[Unit]:
    """Pieces of one size two by two, and those left over for the axis; the largest first."""
    units: list[Unit] = []
    waiting: dict[tuple[float, float], int] = {}
    for index, (width, height) in enumerate(np.round(setting.sizes, 1).tolist()):
        if (width, height) in waiting:
            units.append((waiting.pop((width, height)), index))
        else:
            waiting[width, height] = index
    units += [(index,) for index in waiting.values()]
    return sorted(units, key=lambda unit: (len(unit), unit))


def mirror_ways(setting: Setting) -> list[list[Unit]]:
    """Units as in `mirror_units`, and again with one pair hung on the axis, one over the other."""
    units = mirror_units(setting)
    pairs = [unit for unit in units if len(unit) == 2]
    room = len(pairs) > 1 and len(units) - len(pairs) + 2 <= MOST_ON_AXIS
    sizes = setting.sizes.tolist()
    kinds = {tuple(sizes[pair[0]]): pair for pair in pairs} if room else {}
    ways = [units]
    for stacked in list(kinds.values())[::-1][:MOST_STACKED]:
        apart: list[Unit] = [(index,) for index in stacked]
        rest = [unit for unit in units if unit != stacked]
        ways.append(sorted(apart + rest, key=lambda unit: (len(unit), unit)))
    return ways


def _symmetric(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    for units in mirror_ways(setting):
        for centres in build_groups(SearchProblem(setting), units, rng):
            yield Layout(centres, "mirrored about its axis")


def _could_mirror(setting: Setting) -> bool:
    units = mirror_units(setting)
    single = sum(len(unit) == 1 for unit in units)
    return setting.count >= 4 and single <= MOST_ON_AXIS and single < len(units)


def _around(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    for item in objects(setting, screens=False):
        host = host_of(item, setting)
        x, y = item.centre_mm
        context = MeasuringContext(host, kind="around")
        problem = SearchProblem(setting, host=host, absolute=True, origin=(x, y))
        free: list[Unit] = [(i,) for i in range(setting.count)]
        if _could_mirror(setting):
            for units in mirror_ways(setting):
                for centres in build_groups(problem, units, rng):
                    yield Layout(centres, "mirrored about its axis", fixed=True, context=context)
        for centres in build_groups(problem, free, rng):
            yield Layout(centres, "as one mass", fixed=True, context=context)


def _around_kept(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    """Grow the group from the pieces that stay."""
    xs, ys = [x for _, x, _ in setting.kept], [y for _, _, y in setting.kept]
    origin = (sum(xs) / len(xs), sum(ys) / len(ys))
    problem = SearchProblem(setting, absolute=True, origin=origin, kept=setting.kept)
    if setting.count == len(setting.kept):
        centres = np.zeros((setting.count, 2))
        for index, x, y in setting.kept:
            centres[index] = x, y
        yield Layout(centres, "as it hangs", fixed=True)
        return
    for centres in build_groups(problem, [(i,) for i in range(setting.count)], rng):
        yield Layout(centres, "the others about them", fixed=True)


AROUND_KEPT = Family(
    "around kept pieces",
    "any pieces where some stay where they hang",
    lambda s: bool(s.kept),
    _around_kept,
)
SALON = Family(
    "salon hang",
    "four pieces or more of mixed sizes",
    lambda s: s.count >= 4 and not same_size(s),
    _salon,
    loose=True,
)
FITTED = Family(
    "fitted group",
    "two pieces or more, where a wall leaves no room for anything more orderly",
    lambda s: s.count >= 2,
    _fitted,
)
SYMMETRIC_SALON = Family(
    "symmetric salon",
    "four pieces or more of mixed sizes, all but three in pairs of one size",
    lambda s: _could_mirror(s) and not same_size(s),
    _symmetric,
)
AROUND = Family(
    "around an object",
    "two pieces or more, with a mirror, window or fireplace at eye level, but no screen",
    lambda s: s.count >= 2 and bool(objects(s, screens=False)),
    _around,
)
