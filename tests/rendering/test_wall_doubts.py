"""Places in doubt: an outline to see, and a spot inside it that means that region."""

import cv2
import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.rendering.wall_doubts import doubtful_places


def test_two_boxes_by_hand():
    """A 100 × 50 mask for a photo of 400 × 200: an element is 4 px, its centre at 4 k + 1.5."""
    unsure = np.zeros((50, 100), bool)
    unsure[10:15, 20:25] = True  # 5 x 5
    unsure[30:41, 60:91] = True  # 31 x 11, the larger
    large, small = doubtful_places(unsure, (400, 200))
    assert large.outline_px.min(axis=0).tolist() == [60 * 4 + 1.5, 30 * 4 + 1.5]
    assert large.outline_px.max(axis=0).tolist() == [90 * 4 + 1.5, 40 * 4 + 1.5]
    assert large.inside_px[1] == 35 * 4 + 1.5
    assert small.inside_px == (22 * 4 + 1.5, 12 * 4 + 1.5)
    assert [len(p.outline_px) for p in (large, small)] == [4, 4]
    assert len(doubtful_places(unsure, (400, 200), most=1)) == 1


def test_nothing_in_doubt():
    assert doubtful_places(np.zeros((4, 4), bool), (40, 40)) == ()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(0.3, 0.7))
def test_each_spot_lies_in_its_own_region(seed, share):
    unsure = np.random.default_rng(seed).random((24, 32)) < share
    places = doubtful_places(unsure, (320, 240), most=1000)
    _, names = cv2.connectedComponents(unsure.astype(np.uint8))
    spots = np.round((np.array([p.inside_px for p in places]) + 0.5) / 10 - 0.5).astype(int)
    found = names[spots[:, 1], spots[:, 0]]
    assert (found > 0).all()
    assert len(set(found.tolist())) == len(places) == names.max()
