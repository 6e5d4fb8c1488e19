"""Doubtful finds kept as questions: plain references, no picture."""

import numpy as np
import pytest

from visualiser.rectification.finder.find import convincing
from visualiser.rectification.finder.questions import questions
from visualiser.rectification.reference import Reference

SQUARE = np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 100.0], [0.0, 100.0]])


def guess(confidence, x_px=0.0, kind="a4", sides=(210.0, 297.0), **more):
    return Reference(kind, SQUARE + [x_px, 0.0], *sides, confidence=confidence, **more)


def test_the_likeliest_are_asked_first_and_hopeless_ones_not_at_all():
    found = [guess(0.5), guess(0.2, 300), guess(0.1, 600), guess(0.09, 900), guess(0.01, 1200)]
    asked = questions(found)
    assert [round(one.probability, 2) for one in asked] == [0.5, 0.2, 0.1]
    assert len(questions([guess(0.01), guess(0.01, 300)])) == 1
    assert questions([]) == ()


def test_a_shape_that_fits_two_sizes_is_offered_as_both():
    """US Letter is 215.9 by 279.4 mm (ANSI/ASME Y14.1 size A)."""
    one = questions([guess(0.5, may_be=("letter",))])[0]
    assert one.kinds == ("a4", "letter")
    letter = one.confirmed("letter")
    assert (letter.kind, letter.width_mm) == ("letter", pytest.approx(215.9))
    lying = questions([guess(0.5, sides=(297.0, 210.0), may_be=("letter",))])[0]
    assert lying.confirmed("letter").width_mm == pytest.approx(279.4)
    with pytest.raises(ValueError, match="a4, letter"):
        one.confirmed("card")


def test_one_outline_found_as_two_kinds_is_one_question():
    found = [guess(0.4), guess(0.3, kind="letter", sides=(215.9, 279.4)), guess(0.2, 300)]
    assert [one.kinds for one in questions(found)] == [("a4", "letter"), ("a4",)]


def test_an_answer_is_trusted_and_keeps_the_edges():
    answer = questions([guess(0.3, doubt="it is not white")])[0].confirmed()
    assert convincing([answer]) is answer
    assert answer.origin == "clicked"
    assert answer.doubt == ""
    np.testing.assert_array_equal(answer.corners_px, SQUARE)
