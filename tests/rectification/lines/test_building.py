"""How straight a building is, from what its edges are left with."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.rectification.lines.building import USUAL_COUNT, Building, scale_of


def test_without_edges_a_building_is_like_most():
    assert scale_of(np.zeros(0), np.zeros(0)) == 1.0
    assert Building().surprise == pytest.approx(0.0)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1000), st.sampled_from([0.2, 1.0, 2.5]))
def test_scale_follows_what_many_edges_stray_by(seed, true_scale):
    """Drawn strays, none of them unsure: the scale settles near the one that they were drawn with.

    A closed form: the posterior mean of an inverse gamma variance, from memory.
    """
    strays = true_scale * np.random.default_rng(seed).normal(size=400)
    scale = 1.0
    for _ in range(30):
        scale = scale_of(strays, np.ones(400), scale)
    expected = np.sqrt((USUAL_COUNT + 400 * true_scale**2) / (USUAL_COUNT + 400))
    assert scale == pytest.approx(expected, rel=0.2)


def test_one_bent_edge_is_no_bent_building():
    strays = np.zeros(12)
    strays[0] = 20.0
    assert scale_of(strays, np.ones(12)) < 1.0


def test_edges_that_tell_nothing_change_nothing():
    assert scale_of(np.zeros(12), np.zeros(12)) == 1.0


def test_unusual_buildings_are_less_likely_the_further_they_are_from_most():
    surprise = [Building(plumb=p).surprise for p in (0.25, 0.5, 1.0, 2.0, 4.0)]
    assert np.argmin(surprise) == 2
    assert (np.diff(surprise)[:2] < 0).all()
    assert (np.diff(surprise)[2:] > 0).all()
