"""What a family of arrangements is: a trade name, the sets it suits, and its exact geometry."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.measures import PLAIN, MeasuringContext
from visualiser.arrangement.setting import Centres, Setting


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
        shift = setting.space.settle(boxes, *self.shift_wanted(setting))
        return None if shift is None else self.centres + np.array(shift)


def settle_all(layouts: Sequence[Layout], setting: Setting) -> list[Centres | None]:
    """Settle many layouts; those that are free where they want to be take no search."""
    if not layouts:
        return []
    wanted = np.array([layout.shift_wanted(setting) for layout in layouts])
    there = np.stack([layout.centres for layout in layouts]) + wanted[:, None]
    free = ~np.any(setting.space.blocked(setting.boxes(there)), axis=1)
    return [
        centres if is_free else layout.settled(setting)
        for layout, centres, is_free in zip(layouts, there, free, strict=True)
    ]


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
    """

    name: str
    suits: str
    fits: Callable[[Setting], bool]
    lay_out: LayOut
    line: str = ""


def same_size(setting: Setting, tolerance_mm: float = 1.0) -> bool:
    """Whether all the pieces have one size, to within a tolerance."""
    spread = setting.sizes.max(axis=0) - setting.sizes.min(axis=0)
    return bool((spread <= tolerance_mm).all())
