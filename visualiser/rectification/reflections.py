"""A second sheet that may be the first one again, in a mirror or window at the side.

A mirror square to the wall shows the wall's own plane running on behind it, so a sheet seen in it
measures right and fits. What gives it away is symmetry: it hangs as crooked as the first, the
other way, and the line between the two is square to the mirror.
"""

from __future__ import annotations

import numpy as np

from visualiser.findings import Finding
from visualiser.rectification.adjustment import Solution
from visualiser.rectification.kinds import kind_in_words
from visualiser.rectification.observed_reference import TURN, X, Y
from visualiser.rectification.reference import Reference

CROOKED_DEG = 0.6
"""Two sheets turned alike to this look the same in a mirror and out of it."""
SYMMETRY_DEG = 0.2
"""How nearly the line between them halves their turns: 3 mm of height in a metre."""
SAME_SIZE = 0.01
"""A sheet and its image have one size to this share."""


def reflection_finding(
    solution: Solution, first: Reference, index: int, further: Reference
) -> Finding | None:
    """Say so where a further reference may be the first one's image.

    Parameters
    ----------
    solution
        The fit that both took part in, the first reference as its first observation.
    first
        First reference.
    index
        Place of the further reference among the observations.
    further
        Further reference.
    """
    sizes = (first.width_mm / further.width_mm, first.height_mm / further.height_mm)
    if first.kind != further.kind or max(abs(np.log(sizes))) > SAME_SIZE:
        return None
    turns = np.degrees([float(solution.own[i][TURN]) for i in (0, index)])
    across, up = solution.own[index][X], solution.own[index][Y]
    line_deg = float(np.degrees(np.arctan(up / across))) if abs(across) > 1.0 else 90.0
    if abs(turns[0] - turns[1]) < CROOKED_DEG or abs(line_deg - turns.mean()) > SYMMETRY_DEG:
        return None
    return Finding(
        "advice",
        f"The second {kind_in_words(further.kind)} hangs as the first one's image in a mirror or "
        "window square to the wall would.",
        "If it is a reflection, cover it or move it out of the picture.",
        "maybe-reflection",
    )
