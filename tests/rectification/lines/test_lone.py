"""Lone lines: drawn before a wall straight ahead, the axis known or open."""

from tests.rectification.test_fit_lines import STRAY, fitted, trimmed_prior
from visualiser.rectification.lines.lone import lone_lines


def test_what_two_edges_tell_each_is_checked():
    fit = fitted(STRAY)
    assert lone_lines(fit.solution, fit.directions) == []


def test_the_one_edge_away_from_the_wall_is_lone_where_the_axis_is_open():
    fit = fitted(STRAY, trimmed_prior())
    assert [fit.lines[i].name for i in lone_lines(fit.solution, fit.directions)] == ["stray"]
