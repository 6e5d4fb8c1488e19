"""Balance measures against worked pictures and against a second way of summing."""

import numpy as np
import pytest

from visualiser.arrangement.balance import (
    assessment_of_balance,
    deviation_of_centre,
    weight_field,
)

SIDE = 400


def picture(rows, columns):
    field = np.zeros((SIDE, SIDE))
    field[rows, columns] = 1.0
    return field


HALF, EVERYTHING = slice(0, SIDE // 2), slice(None)
WORKED = [
    ("full", picture(EVERYTHING, EVERYTHING), 0.06, 0),
    ("left half", picture(EVERYTHING, HALF), 25.06, 50),
    ("top-left quarter", picture(HALF, HALF), 53.93, 70.71),
    ("centred square", picture(slice(100, 300), slice(100, 300)), 41.49, 0),
]


@pytest.mark.parametrize(("name", "field", "apb", "dcm"), WORKED, ids=[w[0] for w in WORKED])
def test_worked_pictures(name, field, apb, dcm):
    """Unit weight on 400 x 400, worked from the text of Wilson and Chatterjee (2005) and, for the
    deviation, Hübner and Fillinger (2016) with the distance over 0.5 as in the code of Redies et
    al. (2025). The two disagree on the last picture, as they are meant to."""
    assert assessment_of_balance(field) == pytest.approx(apb, abs=0.005)
    assert deviation_of_centre(field) == pytest.approx(dcm, abs=0.005)


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turning_the_picture_changes_nothing(turns):
    field = np.random.default_rng(1).random((60, 60))
    turned = np.rot90(field, turns)
    assert assessment_of_balance(turned) == pytest.approx(assessment_of_balance(field))
    assert deviation_of_centre(turned) == pytest.approx(deviation_of_centre(field))


def test_the_field_of_a_group_keeps_its_centre_of_mass():
    boxes = np.array([[0, 0, 400, 300], [457, 0, 700, 900], [0, 357, 400, 900.0]])
    weights = np.array([1.0, 3.0, 2.0])
    middle = (boxes[:, :2] + boxes[:, 2:]) / 2
    centre = (middle * weights[:, None]).sum(axis=0) / weights.sum()
    size = np.array([700.0, 900.0])
    expected = 100 * np.hypot(*((centre - size / 2) / size)) / 0.5
    assert deviation_of_centre(weight_field(boxes, weights)) == pytest.approx(expected, abs=0.5)


@pytest.mark.parametrize("wrong", [np.zeros((4, 4)), -np.ones((4, 4)), np.ones(4)])
def test_a_field_without_weight_is_refused(wrong):
    with pytest.raises(ValueError, match="weights"):
        assessment_of_balance(wrong)
