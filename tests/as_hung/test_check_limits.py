"""What a photo cannot show is said, and no number is made of it."""

import pytest

from visualiser.as_hung.check import refuse_partial_view
from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.identify import Sighting
from visualiser.as_hung.search import Located
from visualiser.errors import MeasurementError

FRAME = HungFrame(360.0, 480.0, 20.0, 0.0, 0.0)


def sighting(likeness, support=(0.8, 0.55, 0.7, 0.2), agreement=0.45):
    located = Located(FRAME, support, 2.0, 1.0, agreement, FRAME)
    return Sighting(0, 0, located, likeness)


def test_one_frame_of_three_that_hardly_looks_like_its_piece_is_another_wall():
    with pytest.raises(MeasurementError, match="another wall"):
        refuse_partial_view([sighting(0.35)], {"b": "no edge", "c": "no edge"}, 3)


def test_one_frame_of_three_that_is_recognised_is_told():
    refuse_partial_view([sighting(0.9)], {"b": "no edge", "c": "no edge"}, 3)


def test_a_single_piece_needs_no_company():
    refuse_partial_view([sighting(0.35)], {}, 1)
