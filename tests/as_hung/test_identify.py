"""When a piece is taken for seen, and when others are tried in its place."""

import pytest

from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.identify import Sighting
from visualiser.as_hung.search import Located

FRAME = HungFrame(250.0, 300.0, 20.0, 0.0, 0.0)


def sighting(support, agreement, likeness):
    located = Located(FRAME, support, 5.0, 4.8, agreement, FRAME)
    return Sighting(0, 0, located, likeness)


@pytest.mark.parametrize(
    ("support", "agreement", "sure"),
    [
        # A faint outline, all of its mat and picture seen: it hangs there.
        ((0.4, 0.4, 0.5, 0.6), 0.75, True),
        # Two courses of bricks for sides, and something like its picture beside them.
        ((0.8, 0.6, 0.1, 0.0), 0.42, False),
    ],
)
def test_a_picture_that_is_like_it_is_not_enough_without_its_frame(support, agreement, sure):
    """Both cases are as seen on a rendered wall of bricks."""
    seen = sighting(support, agreement, 0.77)
    assert seen.recognised
    assert seen.sure is sure


def test_where_no_picture_tells_the_outline_has_to_agree():
    assert sighting((0.8, 0.8, 0.8, 0.8), 0.7, None).sure
    assert not sighting((0.8, 0.8, 0.8, 0.8), 0.5, None).sure
