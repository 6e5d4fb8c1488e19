"""How high a group hangs: its centre at eye height, and higher where it and the wall are tall."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.guidelines import Guidelines
from visualiser.survey.survey import Survey

TALL_WALL = 2700 / 1524
"""Height of a wall, over the centre height, from which tall groups rest higher."""
RISE_OF_TALL = 0.15
"""Share by which they rise with what the wall has more: common practice, no source."""


def eye_height(guidelines: Guidelines, height_mm: float, ceiling_mm: float) -> float:
    """Height above the floor at which the centre of a group so tall rests on a free wall."""
    return float(eye_heights(guidelines, np.array(height_mm), ceiling_mm))


def eye_heights(
    guidelines: Guidelines, heights_mm: NDArray[np.float64], ceiling_mm: float
) -> NDArray[np.float64]:
    """Heights (K,) at which the centres of groups so tall rest on a free wall.

    Up to two thirds of the centre height tall it rests at the centre height. A taller one on a
    wall higher than 2.7 m rises with the wall; none comes below the lowest edge.
    """
    centre = guidelines.centre_height_mm
    spare = 0.0 if math.isinf(ceiling_mm) else max(ceiling_mm - TALL_WALL * centre, 0.0)
    lift = np.minimum(RISE_OF_TALL * spare, np.maximum(heights_mm - centre * 2 / 3, 0.0) / 3)
    lowest = guidelines.lowest_edge if guidelines.is_hard("lowest-edge") else 0.0
    return np.maximum(centre + lift, lowest + heights_mm / 2)


def highest_centre(survey: Survey, guidelines: Guidelines) -> float:
    """Greatest height of a group's centre above the floor; on a high wall it rises with it."""
    centre = guidelines.centre_height_mm
    spare = max(survey.outline.bounds.top_mm - TALL_WALL * centre, 0.0)
    return guidelines.highest_centre + RISE_OF_TALL * spare
