"""The chart of a score: every term's whole sentence is on it."""

from dataclasses import replace

import numpy as np

import visualiser as vis
from visualiser.arrangement.arrangement import ScoreTerm
from visualiser.rendering.score_chart import PAPER, draw_score
from visualiser.survey.survey import Survey


def test_no_sentence_runs_off_the_chart():
    """The last of a wrapped sentence is drawn: a longer one changes rows, never the right edge."""
    made = vis.propose(
        [vis.Piece(f"P{i}", 300, 400) for i in range(3)], Survey.from_size(4000, 2600), count=1
    )[0]
    long = ScoreTerm("balance", 0.5, 0.0, "The visual weight lies to the side of it. " * 3)
    chart = draw_score(replace(made, terms=(*made.terms, long))).astype(int)
    edge = np.abs(chart[:, -8:] - PAPER).max()
    assert edge < 12
    short = replace(long, sentence="It does.")
    other = draw_score(replace(made, terms=(*made.terms, short))).astype(int)
    assert np.abs(chart - other).max() > 100
