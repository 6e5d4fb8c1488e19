"""Random numbers for many groups at once, of which the last few follow the person's seed.

The others follow a lot that is always the same, so that no seed leads to much less than another;
what the seed draws changes nothing for them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.neighbours import Floats

FIXED = 0
OWN_SHARE = 8
"""One in so many groups follows the person's seed."""


@dataclass(frozen=True, slots=True, eq=False)
class Lots:
    """Two sources of random numbers.

    Parameters
    ----------
    fixed, own
        What the first groups draw from, and the last ones.
    groups, own_groups
        How many there are, and how many of them are the last ones.
    """

    fixed: np.random.Generator
    own: np.random.Generator
    groups: int
    own_groups: int

    @classmethod
    def drawn(cls, own: np.random.Generator, groups: int) -> Lots:
        """Draw for so many groups."""
        return cls(np.random.default_rng(FIXED), own, groups, max(groups // OWN_SHARE, 1))

    @property
    def first_own(self) -> int:
        """Number of the first group that follows the seed."""
        return self.groups - self.own_groups

    def random(self, *each: int) -> Floats:
        """Draw numbers from 0 to 1, of the shape ``each`` for every group."""
        return np.concatenate(
            [self.fixed.random((self.first_own, *each)), self.own.random((self.own_groups, *each))]
        )

    def for_each(self, group: NDArray[np.intp]) -> Floats:
        """Draw a number for each row of ``group``, which group it is of, in rising order."""
        first = int(np.searchsorted(group, self.first_own))
        return np.concatenate([self.fixed.random(first), self.own.random(len(group) - first)])
