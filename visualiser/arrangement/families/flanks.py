"""Pieces placed by an object: equal groups either side of it, round a corner, or over a door."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from visualiser.arrangement.contexts import (
    Flanked,
    door_context,
    flank_context,
    flanked_objects,
    level_beside,
)
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.lines import line_up, orders
from visualiser.arrangement.families.salons import mirror_units, one_mass
from visualiser.arrangement.setting import Centres, Setting
from visualiser.arrangement.slopes import floor_rise
from visualiser.geometry import Rect

TALLEST_COLUMN = 4
"""Pieces in one column beside an object at most."""
NEAR_OBJECT = (1.0, 2.0, 3.5)
"""Distances from an object that are tried, in gaps."""
ALCOVE_HEIGHT = 0.9
"""Share of the wall's height from which an object parts it into alcoves."""
MOST_OVER_DOOR = 3
OVER_DOOR = 1.6
"""Width of a group over a door, over the door's, at most."""


def pairs_of_all(setting: Setting) -> list[tuple[int, int]] | None:
    """Pair pieces of one size, the largest first; None where one is left over."""
    units = mirror_units(setting)
    pairs = [(unit[0], unit[1]) for unit in units if len(unit) == 2]
    return pairs if len(pairs) == len(units) else None


def _columns(setting: Setting, halves: list[int]) -> Iterator[tuple[Centres, str]]:
    """Columns, rows and blocks of one half of the pieces, about (0, 0)."""
    sizes, gap = setting.sizes[halves], setting.gap_mm
    count = len(halves)
    upward = tuple(sorted(range(count), key=lambda k: (-sizes[k].prod(), k)))
    if count <= TALLEST_COLUMN:
        yield centred_half(line_up(sizes, upward, gap, 1, 0.0), setting, halves), "columns"
    if 2 <= count <= 3:
        yield centred_half(line_up(sizes, upward, gap, 0, 0.0), setting, halves), "rows"
    if count >= 4 and count % 2 == 0 and np.ptp(sizes, axis=0).max() <= 1.0:
        for across in (2, count // 2):
            index = np.arange(count)
            cells = np.column_stack([index % across, -(index // across)])
            yield centred_half(cells * (sizes[0] + gap), setting, halves), "blocks"


def centred_half(centres: Centres, setting: Setting, halves: list[int]) -> Centres:
    """Move some pieces so that their outline is centred on (0, 0)."""
    half = setting.sizes[halves] / 2
    low, high = (centres - half).min(axis=0), (centres + half).max(axis=0)
    return np.asarray(centres - (low + high) / 2)


def distances_to_try(item: Flanked, setting: Setting, width: float) -> list[float]:
    """Give distances from an object's sides: near it, and the middle of the wall either side."""
    rules, bounds = setting.guidelines, setting.space.bounds
    least = max(rules.zone_clearance_mm, rules.gap_mm)
    if item.corner or item.small:
        return [least]
    out = [least * k for k in NEAR_OBJECT]
    left, right = item.rect.left_mm - bounds.left_mm, bounds.right_mm - item.rect.right_mm
    alcove = (min(left, right) - width) / 2
    if parts_alcoves(item, setting):
        # Beside a chimney breast each half has an alcove of its own, and hangs in its middle.
        return [alcove] if alcove >= least else []
    if least < alcove < 4 * least + width / 2 and abs(left - right) < 0.25 * max(left, right):
        out.append(alcove)
    return out


def parts_alcoves(item: Flanked, setting: Setting) -> bool:
    """Whether an object, like a chimney breast, parts the wall into alcoves of their own."""
    tall = item.rect.height_mm > ALCOVE_HEIGHT * setting.survey.outline.bounds.height_mm
    return tall and not item.corner and not item.small


def _placed(
    half: Centres, pairs: list[tuple[int, int]], item: Flanked, setting: Setting, words: str
) -> Iterator[Layout]:
    """One half to the left of an object and its mirror image to the right."""
    lefts = [pair[0] for pair in pairs]
    own = setting.sizes[lefts] / 2
    width, height = ((half + own).max(axis=0) - (half - own).min(axis=0)).tolist()
    x = item.rect.centre_mm[0]
    for away in distances_to_try(item, setting, width):
        for y in [level_beside(item, setting, height)]:
            shift = item.rect.width_mm / 2 + away + width / 2
            centres = np.zeros((setting.count, 2))
            for (left, right), (dx, dy) in zip(pairs, half.tolist(), strict=True):
                centres[left] = x - shift + dx, y + dy
                centres[right] = x + shift - dx, y + dy
            rects = [Rect(float(a), float(b), float(c - a), float(d - b))
                     for a, b, c, d in setting.boxes(centres)]  # fmt: skip
            context = flank_context(rects, setting)
            yield Layout(centres, f"{words} either side of the {item.name}", True, context)


def _flanking(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    pairs = pairs_of_all(setting)
    if pairs is None:
        return
    for item in flanked_objects(setting):
        if not item.corner:
            for half, words in _columns(setting, [pair[0] for pair in pairs]):
                yield from _placed(half, pairs, item, setting, words)


def _corner(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    pairs = pairs_of_all(setting)
    if pairs is None:
        return
    for item in flanked_objects(setting):
        if item.corner:
            for half, words in _columns(setting, [pair[0] for pair in pairs]):
                yield from _placed(half, pairs, item, setting, words)
            yield from _masses(setting, pairs, item, rng)


def _two_groups(setting: Setting, rng: np.random.Generator) -> Iterator[Layout]:
    pairs = pairs_of_all(setting)
    if pairs is None:
        return
    for item in flanked_objects(setting):
        if not item.corner:
            yield from _masses(setting, pairs, item, rng)


def _masses(
    setting: Setting, pairs: list[tuple[int, int]], item: Flanked, rng: np.random.Generator
) -> Iterator[Layout]:
    """Each half as a mass of its own, mirrored about an object."""
    lefts = [pair[0] for pair in pairs]
    if len(lefts) < 3:
        return
    half_setting = replace(
        setting,
        pieces=tuple(setting.pieces[k] for k in lefts),
        sizes=setting.sizes[lefts],
        masses=setting.masses[lefts] / setting.masses[lefts].mean(),
        labs=None,
    )
    for half in one_mass(half_setting, rng)[:2]:
        yield from _placed(centred_half(half, setting, lefts), pairs, item, setting, "masses")


def _over_door(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    """Lay out a short row centred between a door's head and the ceiling."""
    rules, top = setting.guidelines, setting.space.bounds.top_mm
    for zone in setting.survey.zones:
        if zone.kind != "door":
            continue
        door = zone.polygon.bounds
        least = max(rules.zone_clearance_mm, rules.gap_mm)
        for order in orders(setting.sizes):
            centres = line_up(setting.sizes, order, setting.gap_mm, 0, 0.0)
            boxes = setting.boxes(centres)
            low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
            width, height = (high - low).tolist()
            spare = top - door.top_mm - least - height
            if width > OVER_DOOR * door.width_mm or spare < 0:
                continue
            # Nearer to the door than to the ceiling, so that it belongs to the door.
            y = door.top_mm + least + min(spare / 2, least) + height / 2
            at = centres - (low + high) / 2 + (door.centre_mm[0], y)
            b = setting.boxes(at)
            bounds = Rect(float(b[:, 0].min()), float(b[:, 1].min()), width, height)
            yield Layout(at, "centred", fixed=True, context=door_context(bounds, setting))


def _level_and_flanked(setting: Setting, *, corner: bool) -> bool:
    if setting.count < 2 or setting.count % 2 or floor_rise(setting.survey.outline):
        return False
    return any(item.corner == corner for item in flanked_objects(setting))


FLANKING = Family(
    "flanking",
    "pairs of one size either side of a television, bed, mirror, window, door or chimney breast",
    lambda s: _level_and_flanked(s, corner=False),
    _flanking,
)
TWO_GROUPS = Family(
    "two groups",
    "six pieces or more in pairs of one size, with an object between two halves of the wall",
    lambda s: s.count >= 6 and _level_and_flanked(s, corner=False),
    _two_groups,
)
CORNER = Family(
    "around a corner",
    "pairs of one size either side of a corner of the room",
    lambda s: _level_and_flanked(s, corner=True),
    _corner,
)
OVER_A_DOOR = Family(
    "over a door",
    "one to three pieces about as wide as a door, where the wall over it is high enough",
    lambda s: s.count <= MOST_OVER_DOOR and any(z.kind == "door" for z in s.survey.zones),
    _over_door,
    "across",
)
