import pytest

from visualiser.survey.light_choice import LightChoice


def test_the_light_comes_from_where_it_was_said():
    left = LightChoice("left", "level", "crisp").main_light()
    right = LightChoice("right", "above", "soft").main_light()
    assert left.slope_x == -right.slope_x < 0
    assert left.slope_y < right.slope_y
    assert left.radius < right.radius
    assert left.known


def test_an_unknown_side_is_named():
    with pytest.raises(ValueError, match=r"side is one of .*got 'behind'"):
        LightChoice(side="behind")
