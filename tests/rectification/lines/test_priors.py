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
