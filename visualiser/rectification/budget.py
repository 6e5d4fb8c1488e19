"""Bound how long the search for the likeliest reading of a photo takes.

Two poses, several sortings of the lines, sides left out on trial and two lenses multiply. What is
likeliest is tried first, and each kind of trial has its share of what is left. Counted are steps of
adjustments, not seconds: the same photo gives the same answer on any machine.
"""

from __future__ import annotations

from visualiser.findings import Finding

MOST_STEPS = 1500
"""Steps of all adjustments of one photo: some 5 s of processor time. (Of 42 whole drawn and
rendered photos none takes more than 200. With 600 the search ended early in eight of 16 cropped
photos without Exif, to save half a second of processor time, and a metre away ± 57 and 16 mm were
stated in two where ± 7 and 6 are; with 1500 it does in one.)"""
LEAST_STEPS = 8
"""An adjustment that is made at all may take so many."""


class Budget:
    """Steps that are left to a search.

    Parameters
    ----------
    left
        How many.
    whole
        What it is a part of, and draws on as well.
    """

    def __init__(self, left: int = MOST_STEPS, whole: Budget | None = None) -> None:
        self.left, self.whole = left, whole
        self.untried = False

    def part(self, share: float) -> Budget:
        """Set a share of what is left apart for one kind of trial."""
        return Budget(int(max(self.left, 0) * share), self)

    def steps(self, share: float = 1.0) -> int:
        """How many steps one adjustment may take: a share of what is left, but never too few."""
        return max(int(self.left * share), LEAST_STEPS)

    def spend(self, steps: int) -> None:
        """Count what an adjustment took."""
        self.left -= steps
        if self.whole is not None:
            self.whole.spend(steps)

    def ended(self) -> bool:
        """Whether nothing is left; who asks has something to try, which then stays untried."""
        if self.left > 0:
            return False
        self._leave_untried()
        return True

    def _leave_untried(self) -> None:
        self.untried = True
        if self.whole is not None:
            self.whole._leave_untried()


def untried_findings(budget: Budget) -> list[Finding]:
    """Say so where the search ended before all was tried."""
    if not budget.untried:
        return []
    return [
        Finding(
            "note",
            "The edges in this photo can be read in more ways than were tried: ± is larger for "
            "those that were not.",
            "Draw one plumb and one level edge of the room, and reject lines that are neither.",
            "search-ended",
        )
    ]
