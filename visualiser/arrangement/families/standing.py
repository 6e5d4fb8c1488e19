"""Pieces that stand on picture ledges: side by side, or overlapping and leaning on the wall."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from visualiser.arrangement.contexts import standing_context
from visualiser.arrangement.families.family import Family, Layout
from visualiser.arrangement.families.lines import Order, orders
from visualiser.arrangement.furnishings import ledges
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.setting import LAYERED_SHARE, MOST_OVERLAP, Centres, Setting
from visualiser.geometry import Rect, bounding_rect

OVERLAP = 0.22
"""Share of the narrower of two neighbours by which they overlap: common practice, no source."""
LOW_ENOUGH = 0.8
"""Height of what stands in front over what is behind it, at most."""
LEAST_ON_EACH = 2
LAYERED_FROM = 4
"""Pieces on one ledge from which they are also offered overlapping."""


def _shared_out(setting: Setting, tops: list[Rect]) -> list[list[int]] | None:
    """Share pieces out to ledges, each next largest to the one with the most room; None: no room.

    A ledge takes as many as overlap by no more than is good, and none that would reach into what
    is above it.
    """
    out: list[list[int]] = [[] for _ in tops]
    lengths = [ledge.width_mm for ledge in tops]
    used = [0.0] * len(tops)
    for index, (width, height) in enumerate(setting.sizes.tolist()):
        fits = [
            k
            for k, ledge in enumerate(tops)
            if width <= ledge.width_mm
            and used[k] + width * LAYERED_SHARE <= ledge.width_mm
            and _room_over(ledge, tops, setting) >= height
        ]
        if not fits:
            return None
        best = min(fits, key=lambda k: (used[k] / lengths[k], -lengths[k]))
        out[best].append(index)
        used[best] += width * LAYERED_SHARE
    return out


def _room_over(ledge: Rect, tops: list[Rect], setting: Setting) -> float:
    """Height free above a ledge up to the next one, or to the ceiling's clearance."""
    above = [
        other.bottom_mm - setting.gap_mm
        for other in tops
        if other.bottom_mm > ledge.top_mm
        and other.left_mm < ledge.right_mm
        and other.right_mm > ledge.left_mm
    ]
    return min([*above, setting.space.bounds.top_mm]) - ledge.top_mm


def _stood(sizes: Floats, order: Order, steps: Floats) -> Centres:
    """Centres of pieces that stand side by side in an order, so far apart; about x = 0."""
    centres = np.zeros_like(sizes)
    at = 0.0
    for number, index in enumerate(order):
        if number:
            at += float(steps[number - 1])
        centres[index] = at + sizes[index, 0] / 2, sizes[index, 1] / 2
        at += sizes[index, 0]
    low = (centres[:, 0] - sizes[:, 0] / 2).min()
    high = (centres[:, 0] + sizes[:, 0] / 2).max()
    centres[:, 0] -= (low + high) / 2
    return centres


def _overlaps(sizes: Floats, order: Order, share: float) -> Floats:
    """Distance (N - 1,), below 0, between neighbours that overlap by a share of the narrower."""
    widths = sizes[list(order), 0]
    return np.asarray(-share * np.minimum(widths[1:], widths[:-1]))


def _layered(sizes: Floats, gap_mm: float) -> Centres | None:
    """Stand low ones before the joints of a row of tall ones; None where none is low enough.

    Tall ones stand half a gap apart, the tallest in the middle; each low one before a joint, or
    before the middle of an outer tall one.
    """
    by_height = sorted(range(len(sizes)), key=lambda k: (-sizes[k, 1], k))
    for many in range((len(sizes) + 1) // 2, len(sizes)):
        backs, fronts = by_height[:many], by_height[many:]
        line = _middle_out(backs)
        places = _stood(sizes[line], tuple(range(many)), np.full(many - 1, gap_mm / 2))
        edges = places[:, 0] + sizes[line, 0] / 2
        joints = [float(x) + gap_mm / 4 for x in edges[:-1]]
        spots = sorted(joints, key=abs) + [float(places[0, 0]), float(places[-1, 0])]
        centres = np.zeros_like(sizes)
        centres[line] = places
        taken: list[tuple[float, float]] = []
        for front in fronts:
            half = sizes[front, 0] / 2
            free = [
                x for x in spots
                if all(x + half + gap_mm / 2 <= a or x - half - gap_mm / 2 >= b for a, b in taken)
            ]  # fmt: skip
            if not free or sizes[front, 1] > LOW_ENOUGH * sizes[backs[-1], 1]:
                break
            centres[front] = free[0], sizes[front, 1] / 2
            taken.append((free[0] - half, free[0] + half))
        else:
            return centres
    return None


def _middle_out(numbers: list[int]) -> list[int]:
    """Put the first in the middle and the others outward to both sides in turn."""
    line: list[int] = []
    for place, number in enumerate(numbers):
        line = [*line, number] if place % 2 == 0 else [number, *line]
    return line


def _on_one(setting: Setting, chosen: list[int], ledge: Rect) -> Iterator[tuple[Centres, str]]:
    """Ways in which some pieces stand on one ledge."""
    sizes = setting.sizes[chosen]
    at = ledge.centre_mm[0], ledge.top_mm
    spare = ledge.width_mm - sizes[:, 0].sum() - setting.gap_mm * (len(chosen) - 1)
    if spare >= 0:
        for order in orders(sizes):
            yield _stood(sizes, order, np.full(len(chosen), setting.gap_mm)) + at, "side by side"
    if len(chosen) >= LAYERED_FROM or spare < 0:
        layered = _layered(sizes, setting.gap_mm)
        if layered is not None:
            reach = np.abs(layered[:, 0]) + sizes[:, 0] / 2
            if 2 * reach.max() <= ledge.width_mm:
                yield layered + at, "overlapping"
        order = tuple(_middle_out(sorted(range(len(chosen)), key=lambda k: -sizes[k, 1])))
        for share in (OVERLAP, MOST_OVERLAP):
            steps = _overlaps(sizes, order, share)
            if sizes[:, 0].sum() + steps.sum() <= ledge.width_mm:
                yield _stood(sizes, order, steps) + at, "overlapping"
                break


def _ledge(setting: Setting, _: np.random.Generator) -> Iterator[Layout]:
    tops = sorted(ledges(setting.survey, setting.guidelines), key=lambda r: (-r.width_mm, r.y_mm))
    # All ledges where there are pieces for them all, else the longest that takes the pieces.
    several = len(tops) > 1 and setting.count >= LEAST_ON_EACH * len(tops)
    choices = ([tops] if several else []) + [[ledge] for ledge in tops]
    for some in choices:
        shared = _shared_out(setting, some)
        if shared is None or not all(shared):
            continue
        if len(some) == 1 and _room_over(some[0], tops, setting) < setting.sizes[:, 1].max():
            continue
        ways = [list(_on_one(setting, chosen, ledge))
                for chosen, ledge in zip(shared, some, strict=True)]  # fmt: skip
        for number in range(max(map(len, ways), default=0)):
            centres, words = np.zeros((setting.count, 2)), ""
            for chosen, own in zip(shared, ways, strict=True):
                if not own:
                    break
                centres[chosen], words = own[min(number, len(own) - 1)]
            else:
                boxes = setting.boxes(centres)
                context = standing_context(
                    bounding_rect(
                        [Rect(float(a), float(b), float(c - a), float(d - b))
                         for a, b, c, d in boxes]
                    ),
                    setting,
                )  # fmt: skip
                where = "standing" if len(some) == 1 else f"standing on {len(some)} ledges"
                yield Layout(centres, f"{where}, {words}", fixed=True, context=context)
        if ways and all(ways):
            return


LEDGE = Family(
    "ledge",
    "pieces that stand on shelves or ledges long enough for them all",
    lambda s: bool(ledges(s.survey, s.guidelines)),
    _ledge,
    "across",
)
