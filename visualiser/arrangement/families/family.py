"""What a family of arrangements is: a trade name, the sets it suits, and its exact geometry."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.measures import PLAIN, Frame
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
    frame
        What it is measured with.
    """

    centres: Centres
    variant: str = ""
    fixed: bool = False
    frame: Frame = PLAIN

    def settled(self, setting: Setting) -> Centres | None:
        """Centres where the group rests, or in the free place nearest to that; None: nowhere."""
        boxes = setting.boxes(self.centres)
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        want = np.zeros(2)
        if not self.fixed:
            rest = setting.rest_height(float(high[1] - low[1]))
            want = np.array([setting.space.axis_mm, rest]) - (low + high) / 2
        shift = setting.space.settle(boxes, float(want[0]), float(want[1]))
        return None if shift is None else self.centres + np.array(shift)


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
    """

    name: str
    suits: str
    fits: Callable[[Setting], bool]
    lay_out: LayOut


def same_size(setting: Setting, tolerance_mm: float = 1.0) -> bool:
    """Whether all the pieces have one size, to within a tolerance."""
    spread = setting.sizes.max(axis=0) - setting.sizes.min(axis=0)
    return bool((spread <= tolerance_mm).all())
