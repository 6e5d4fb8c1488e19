"""What a family of arrangements is: a trade name, the sets it suits, and its exact geometry."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.measures import PLAIN, MeasuringContext
from visualiser.arrangement.setting import Centres, Setting
from visualiser.arrangement.space import wall_space


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Centres (N, 2) of the setting's pieces, in its order.

    Parameters
    ----------
    centres
        Positions; relative ones are moved as a group to where they rest on the wall.
    variant
        What sets it apart within its family, such as ``tops level``.
    fixed
        Whether the positions are meant as they stand on the wall.
    context
        What it is measured with.
    """

    centres: Centres
    variant: str = ""
    fixed: bool = False
    context: MeasuringContext = PLAIN

    def shift_wanted(self, setting: Setting) -> tuple[float, float]:
        """Shift that brings it to where it rests on the wall; none where it is fixed."""
        if self.fixed:
            return 0.0, 0.0
        boxes = setting.boxes(self.centres)
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        x, y = ((low + high) / 2).tolist()
        return setting.space.axis_mm - x, setting.rest_height(float(high[1] - low[1])) - y

    def settled(self, setting: Setting) -> Centres | None:
        """Centres where the group rests, or in the free place nearest to that; None: nowhere."""
        boxes = setting.boxes(self.centres)
        if self.fixed:
            return None if setting.space.blocked(boxes).any() else self.centres
        most = setting.highest_centre - (boxes[:, 1].min() + boxes[:, 3].max()) / 2
        shift = setting.space.settle(boxes, *self.shift_wanted(setting), most)
        return None if shift is None else self.centres + np.array(shift)


def settle_all(layouts: Sequence[Layout], setting: Setting) -> list[Centres | None]:
    """Settle many layouts; those that are free where they want to be take no search."""
    if not layouts:
        return []
    if setting.kept:
        return [_settled_on_kept(layout, setting) for layout in layouts]
    wanted = np.array([layout.shift_wanted(setting) for layout in layouts])
    there = np.stack([layout.centres for layout in layouts]) + wanted[:, None]
    boxes = setting.boxes(there)
    free = ~np.any(setting.space.blocked(boxes), axis=1)
    middle = (boxes[..., 1].min(axis=1) + boxes[..., 3].max(axis=1)) / 2
    low = middle <= setting.highest_centre + 1e-6
    stands = [layout.context.kind == "standing" for layout in layouts]
    if any(stands):
        ledge_space = wall_space(setting.survey, setting.guidelines, standing=True)
        free[stands] = ~np.any(ledge_space.blocked(boxes[stands]), axis=1)
    out: list[Centres | None] = []
    for k, layout in enumerate(layouts):
        if free[k] and (low[k] or layout.fixed):
            out.append(there[k])
        else:
            out.append(None if layout.fixed else layout.settled(setting))
    return out


SAME_MM = 0.5
"""Sizes or places that differ by no more count as the same."""


def _settled_on_kept(layout: Layout, setting: Setting) -> Centres | None:
    """Bring a layout to where the pieces that stay have their places; None where it cannot be."""
    first, x, y = setting.kept[0]
    wanted = np.array(layout.shift_wanted(setting))
    best, least = None, np.inf
    kept = [index for index, _, _ in setting.kept]
    free = [k for k in range(setting.count) if k not in kept]
    same = np.abs(setting.sizes - setting.sizes[first]).max(axis=1) <= SAME_MM
    for other in map(int, np.flatnonzero(same)):
        centres = _exchanged(layout.centres, first, other)
        shift = np.array((x, y)) - centres[first]
        if layout.fixed and np.abs(shift).max() > SAME_MM:
            continue
        there = _with_others_kept(centres + shift, setting)
        if there is None or setting.space.blocked(setting.boxes(there)[free]).any():
            continue
        far = float(np.hypot(*(shift - wanted)))
        if far < least:
            best, least = there, far
    return best


def _exchanged(centres: Centres, one: int, other: int) -> Centres:
    out = centres.copy()
    out[one], out[other] = centres[other], centres[one]
    return out


def _with_others_kept(centres: Centres, setting: Setting) -> Centres | None:
    """Exchange equal sizes so that all pieces that stay are in their places; None: they cannot."""
    done: list[int] = []
    for index, x, y in setting.kept:
        near = np.abs(centres - (x, y)).max(axis=1) <= SAME_MM
        same = np.abs(setting.sizes - setting.sizes[index]).max(axis=1) <= SAME_MM
        there = [int(k) for k in np.flatnonzero(near & same) if k not in done]
        if not there:
            return None
        centres = _exchanged(centres, index, there[0])
        centres[index] = x, y
        done.append(index)
    return centres


LayOut = Callable[[Setting, np.random.Generator], Iterator[Layout]]


@dataclass(frozen=True, slots=True)
class Family:
    """One way of hanging.

    Parameters
    ----------
    name
        Its trade name.
    suits
        The sets it suits, in words.
    fits
        Whether it suits a setting.
    lay_out
        Its layouts, the plainest first.
    line
        Which way its one line runs, ``across`` or ``upright``; empty where it is no line. Layouts
        in one line differ by the order of the pieces alone.
    loose
        Whether single pieces of it may be moved and leave it what it is.
    """

    name: str
    suits: str
    fits: Callable[[Setting], bool]
    lay_out: LayOut
    line: str = ""
    loose: bool = False


def same_size(setting: Setting, tolerance_mm: float = 1.0) -> bool:
    """Whether all the pieces have one size, to within a tolerance."""
    spread = setting.sizes.max(axis=0) - setting.sizes.min(axis=0)
    return bool((spread <= tolerance_mm).all())
