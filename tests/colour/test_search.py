"""Search among many palettes: the same answer as measuring them all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.colour.colorimetry import lab_to_din99, lab_to_srgb, srgb_to_lab
from visualiser.colour.distance import earth_movers_distance, palette_distance
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.search import PaletteIndex, nearest_palettes, search_distance


def synthetic(count, seed):
    """Palettes of 3 to 8 colours strewn about one random sRGB colour each."""
    rng = np.random.default_rng(seed)
    about = srgb_to_lab(rng.random((count, 1, 3)))
    lab = about + rng.normal(0, 1, (count, 8, 3)) * [20, 18, 18]
    lab = srgb_to_lab(lab_to_srgb(lab.reshape(-1, 3))).reshape(count, 8, 3)
    shares = rng.gamma(1.2, size=(count, 8))
    shares[np.arange(8) >= rng.integers(3, 9, count)[:, None]] = 0
    return lab, shares / shares.sum(1, keepdims=True)


@pytest.fixture(scope="module")
def index():
    return PaletteIndex.of(*synthetic(4000, 1))


def targets(count, seed):
    lab, shares = synthetic(count, seed)
    return [palette_from_lab(lab[i], shares[i]) for i in range(count)]


@pytest.mark.parametrize("seed", [2, 3, 4])
@pytest.mark.parametrize("together", [1, 2])
def test_agrees_with_measuring_them_all(index, seed, together):
    goals = targets(together, seed)
    everything = search_distance(index, np.arange(len(index)), goals)
    best = np.lexsort((np.arange(len(index)), everything))[:20]
    rows, distances = nearest_palettes(index, goals, 20)
    assert rows.tolist() == best.tolist()
    assert distances == pytest.approx(everything[best], abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 60))
def test_agrees_among_a_few_with_ties(seed, count):
    lab, shares = synthetic(30, seed)
    lab[10:15], shares[10:15] = lab[3], shares[3]  # the same palette several times
    index = PaletteIndex.of(lab, shares)
    goals = targets(1, seed + 1)
    everything = search_distance(index, np.arange(30), goals)
    best = np.lexsort((np.arange(30), everything))[:count]
    assert nearest_palettes(index, goals, count)[0].tolist() == best.tolist()


def test_only_among_some_rows(index):
    some = np.arange(0, len(index), 7)
    rows, _ = nearest_palettes(index, targets(1, 5), 10, among=some)
    assert set(rows) <= set(some)
    assert nearest_palettes(index, targets(1, 5), 10, among=np.empty(0, int))[0].size == 0


def test_the_search_distance_is_the_earth_movers_on_din99o(index):
    goal = targets(1, 6)[0]
    lab, shares = synthetic(4000, 1)
    used = shares[17] > 0
    ground = np.linalg.norm(lab_to_din99(lab[17][used])[:, None] - lab_to_din99(goal.lab), axis=2)
    expected = earth_movers_distance(shares[17][used], goal.shares, ground)
    measured = search_distance(index, np.array([17]), [goal])
    assert measured[0] == pytest.approx(expected, abs=1e-4)  # stored in single precision


def test_it_follows_the_ciede2000_distance(index):
    """Of the 20 nearest by CIEDE2000, the 40 nearest by the search distance hold nearly all."""
    lab, shares = synthetic(4000, 1)
    palettes = [palette_from_lab(lab[i], shares[i]) for i in range(150)]
    small = PaletteIndex.of(lab[:150], shares[:150])
    goal = targets(1, 8)[0]
    exact = np.argsort([palette_distance(p, goal) for p in palettes])[:20]
    shortlist, _ = nearest_palettes(small, [goal], 40)
    assert len(set(exact) & set(shortlist)) >= 18


def test_wrong_use():
    index = PaletteIndex.of(*synthetic(5, 0))
    with pytest.raises(ValueError, match="at least one"):
        nearest_palettes(index, [])
    with pytest.raises(ValueError, match="weight"):
        nearest_palettes(index, targets(1, 1), weights=[0.0])
