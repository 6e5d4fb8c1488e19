"""Which edges are straight: space lines at every angle, seen through a lens of known distortion."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.straightness import vote_on_distortion
from visualiser.rectification.reference import EdgeSamples

LENS = Lens(1850.0, 1279.5, 959.5, 0.0, 0.0)
K1_SIGMA = 0.04


def seen(name, start_px, end_px, k1, bend_px=0.0, backwards=False):
    """A line between two ideal pixels, bent in space by ``bend_px``, through Brown's k1."""
    t = np.linspace(0, 1, 24)[:, None]
    start, end = np.asarray(start_px, float), np.asarray(end_px, float)
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([-along[1], along[0]])
    ideal = start + t * (end - start) + bend_px * 4 * t * (1 - t) * normal
    ray = (ideal - [LENS.centre_x_px, LENS.centre_y_px]) / LENS.focal_px
    ray = ray * (1 + k1 * (ray**2).sum(axis=1, keepdims=True))
    points = ray * LENS.focal_px + [LENS.centre_x_px, LENS.centre_y_px]
    if backwards:
        points = points[::-1]
    return RoomLine(name, EdgeSamples(points, np.tile(normal, (24, 1)), np.full(24, 0.1)))


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow], max_examples=40)
@given(k1=st.floats(-0.08, 0.08), turn_deg=st.floats(0, 180), backwards=st.booleans())
def test_straight_edges_at_every_angle_are_straight_and_tell_the_lens(k1, turn_deg, backwards):
    """Eight edges well off the middle, crossed either way: all say the same."""
    lines = []
    for i in range(8):
        a = np.radians(turn_deg + 45 * i)
        out = np.array([np.cos(a), np.sin(a)])
        foot = np.array([1279.5, 959.5]) + 700 * out
        run = 500 * np.array([-out[1], out[0]])
        lines.append(seen(f"line-{i}", foot - run, foot + run, k1, backwards=backwards ^ (i % 2)))
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.all()
    assert found == pytest.approx(k1, abs=0.004)


def test_an_edge_that_is_bent_itself_does_not_count():
    """Edges of real buildings bow by 0.1 % of their length, one sigma; this one by 0.6 %."""
    frame = [(200, 250), (2350, 250), (2350, 1700), (200, 1700)]
    lines = [
        seen(f"line-{i}", frame[i], frame[(i + 1) % 4], 0.05, bend_px=12.0 * (i == 2))
        for i in range(4)
    ]
    found, straight = vote_on_distortion(lines, LENS, K1_SIGMA)
    assert straight.tolist() == [True, True, False, True]
    assert found == pytest.approx(0.05, abs=0.006)
