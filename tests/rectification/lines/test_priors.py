"""How much of a witness each edge is."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.lines.test_detect import FINE_WIDTH, piece
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.priors import COMPANION_CORRELATION, LinePriors, companions
from visualiser.rectification.marks import DrawnLine

LINES = [
    piece("sill", [500, 500], [1500, 500]),
    piece("board", [500, 510], [1500, 510]),
    piece("rail", [500, 1700], [1500, 1700]),
    piece("post", [500, 500], [500, 1500]),
]


def test_edges_beside_each_other_stray_alike_and_others_by_themselves():
    alike = companions(LINES, FINE_WIDTH)
    assert alike == pytest.approx(alike.T)
    assert np.diag(alike) == pytest.approx(1)
    assert 0.9 * COMPANION_CORRELATION < alike[0, 1] <= COMPANION_CORRELATION
    assert alike[0, 2] < 0.02
    assert (alike[3, :3] == 0).all()
    assert np.linalg.eigvalsh(alike).min() > 0


def test_companions_share_one_witness_and_a_drawn_line_is_its_own():
    share = LinePriors.of(LINES, FINE_WIDTH, ModelTerms()).own_share
    assert share[:2] == pytest.approx(1 / (1 + COMPANION_CORRELATION), rel=0.05)
    assert share[2:] == pytest.approx(1, abs=0.03)
    drawn = DrawnLine((500.0, 500.0), (1500.0, 500.0), "level")
    known = [replace(LINES[0], drawn=drawn), *LINES[1:]]
    assert LinePriors.of(known, FINE_WIDTH, ModelTerms()).own_share == pytest.approx(1, abs=0.03)


def joint(*misfit):
    return float(LinePriors.of(LINES, FINE_WIDTH, ModelTerms()).joint_misfit(np.array(misfit)))


def test_what_two_edges_of_one_thing_share_counts_as_one_witness_s():
    share = 2 / (1 + COMPANION_CORRELATION)
    assert joint(8, 8, 0, 0) == pytest.approx(8 * share, rel=0.05)
    assert joint(0, 0, 8, 8) == pytest.approx(16, rel=0.01)


def test_an_edge_that_strays_where_its_companion_does_not_counts_in_full():
    assert joint(8, 0, 0, 0) == pytest.approx(8, rel=0.01)
    assert joint(8, 3, 0, 0) == pytest.approx(5 + 3 * 2 / (1 + COMPANION_CORRELATION), rel=0.05)


def test_joint_misfits_of_many_sortings_are_each_their_own():
    priors = LinePriors.of(LINES, FINE_WIDTH, ModelTerms())
    misfits = np.random.default_rng(4).normal(2, 3, (5, len(LINES)))
    each = [float(priors.joint_misfit(misfit)) for misfit in misfits]
    assert priors.joint_misfit(misfits) == pytest.approx(each)


def test_straying_further_never_makes_a_sorting_likelier():
    """Of edges in a row each resembles its neighbours most: what all say outweighs any of them."""
    row = [piece(f"{y}", [500, 500 + y], [1500, 500 + y]) for y in range(0, 700, 50)]
    priors = LinePriors.of([*row, *LINES[2:]], FINE_WIDTH, ModelTerms())
    rng = np.random.default_rng(11)
    less = rng.uniform(0, 9, (200, len(row) + 2))
    more = less + rng.uniform(0, 4, less.shape) * (rng.random(less.shape) < 0.3)
    assert (priors.joint_misfit(more) >= priors.joint_misfit(less) - 1e-9).all()
    assert priors.joint_misfit(less).max() < less.sum(axis=1).max()


def test_strays_alike_as_none_can_be_are_made_proper():
    """One edge all but touches two that lie too far apart to be as like each other."""
    shared = [piece("long", [100, 500], [3900, 500])]
    shared += [piece(f"{x}", [x, 505], [x + 400, 505]) for x in range(100, 3600, 700)]
    assert np.linalg.eigvalsh(companions(shared, FINE_WIDTH)).min() >= 0.05 - 1e-9
