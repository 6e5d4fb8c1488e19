"""How high a group hangs: at eye height, common practice, no source."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.heights import eye_height, highest_centre
from visualiser.survey.survey import Survey

RULES = Guidelines()


@pytest.mark.parametrize("ceiling_mm", [2400, 2700, 3600, math.inf])
@pytest.mark.parametrize("height_mm", [0, 400, 1000])
def test_a_group_of_usual_height_is_centred_60_inches_up(height_mm, ceiling_mm):
    """60 in, 1524 mm: common practice, no source."""
    assert eye_height(RULES, height_mm, ceiling_mm) == pytest.approx(1524)


@given(st.floats(0, 2500), st.floats(2200, 6000))
def test_a_tall_group_rises_with_a_tall_wall_and_never_below_the_lowest_edge(height_mm, ceiling_mm):
    centre = eye_height(RULES, height_mm, ceiling_mm)
    assert centre >= 1524 - 1e-9
    assert centre - height_mm / 2 >= RULES.lowest_edge - 1e-9
    assert eye_height(RULES, height_mm, ceiling_mm + 500) >= centre - 1e-9
    if ceiling_mm <= 2700 and centre > 1524:
        assert centre == pytest.approx(RULES.lowest_edge + height_mm / 2)


def test_the_highest_centre_rises_with_the_wall():
    low, high = (highest_centre(Survey.from_size(4000, h), RULES) for h in (2500, 4000))
    assert low == RULES.highest_centre
    assert high > low
