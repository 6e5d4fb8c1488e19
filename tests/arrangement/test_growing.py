"""Scores from what one more piece changes, against the same groups measured whole."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import visualiser as vis
from visualiser.arrangement.joining import join
from visualiser.arrangement.places import normal_places, normal_places_of_each
from visualiser.arrangement.problem import GroupScorer, SearchProblem
from visualiser.arrangement.scoring import SEARCH_WEIGHTS
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

SIDES = (210, 250, 300, 350, 400, 500, 600, 700)
MIRROR = (0.0, 0.0, 500.0, 700.0)


def random_groups(seed, host, groups=4):
    """Groups put together at random, normal place by normal place, and the piece to join each."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 11))
    pieces = [vis.Piece(f"P{i}", *map(float, rng.choice(SIDES, 2))) for i in range(count)]
    setting = describe(pieces, Survey.from_size(6000, 4000), vis.Guidelines())
    hung = int(rng.integers(0 if host else 1, count))
    rows = np.argsort(rng.random((groups, count)), axis=1)[:, : hung + 1]
    centres = np.zeros((groups, hung, 2))
    there = [np.array(host)] if host else []
    for own, at in zip(rows, centres, strict=True):
        for k in range(0 if host else 1, hung):
            hosts = np.array([*(h[:2] for h in there), *at[:k]])
            half = np.array([*(h[2:] for h in there), *setting.sizes[own[:k]]]) / 2
            places = normal_places(hosts, half, setting.sizes[own[k]] / 2, 57.0, 50.0)
            at[k] = places[rng.integers(len(places))]
    return setting, rows, centres


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), host=st.sampled_from([None, MIRROR]))
def test_a_joined_piece_scores_as_the_whole_group_measured_anew(seed, host):
    setting, rows, centres = random_groups(seed, host)
    scorer = GroupScorer(SearchProblem(setting, host=host), dict(SEARCH_WEIGHTS))
    found = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6)
    whole = np.concatenate([centres[found.group], found.places.T[:, None]], axis=1)
    if len(whole):
        again = scorer.scores(rows[found.group], whole)
        assert found.scores == pytest.approx(again, abs=1e-9)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_places_beyond_what_is_wanted_are_left_out_and_no_others(seed):
    setting, rows, centres = random_groups(seed, None)
    scorer = GroupScorer(SearchProblem(setting), dict(SEARCH_WEIGHTS))
    every = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6)
    wanted = np.full(len(rows), float(np.median(every.scores)) if len(every.scores) else 0.0)
    some = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6, wanted=wanted)
    # Those that only their openings bring below it may stay.
    kept = set(map(tuple, some.places.T.round(6)))
    good = every.places[:, every.scores > wanted[0] + 1e-6]
    assert set(map(tuple, good.T.round(6))) <= kept
    assert len(kept) <= len(set(map(tuple, every.places.T.round(6))))


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), best=st.sampled_from([1, 2]))
def test_the_best_places_are_those_of_all_when_only_they_are_asked_for(seed, best):
    """Bounds leave out most places, and never one of the best."""
    setting, rows, centres = random_groups(seed, None)
    scorer = GroupScorer(SearchProblem(setting), dict(SEARCH_WEIGHTS))
    every = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6)
    some = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6, best=best)
    for group in range(len(rows)):
        own, few = (np.sort(found.scores[found.group == group])[::-1][:best]
                    for found in (every, some))  # fmt: skip
        assert few == pytest.approx(own, abs=1e-4)


def test_the_best_place_of_each_group_is_taken():
    setting, rows, centres = random_groups(7, None)
    scorer = GroupScorer(SearchProblem(setting), dict(SEARCH_WEIGHTS))
    found = join(scorer, rows[:, :-1], centres, rows[:, -1], most=10**6)
    places, scores = found.taken(found.best_of_each(len(rows)))
    for group in range(len(rows)):
        own = found.scores[found.group == group]
        assert scores[group] == pytest.approx(own.max() if len(own) else -1.0, abs=1e-6)
        if len(own):
            assert places[group] in found.places[:, found.group == group].T


def test_more_pieces_than_one_number_holds_keep_their_gaps():
    """A row of 120 leaves a new piece the places above, below and at its ends."""
    count, own = 120, np.array([[100.0, 100.0]])
    centres = np.column_stack([np.arange(count) * 257.0, np.zeros(count)])[None]
    half = np.full((1, count, 2), 100.0)
    _, at = normal_places_of_each(centres, half, own, 57.0, 50.0)
    clear = np.abs(at[:, None] - centres[0].T[:, :, None]) - 200
    assert (clear.max(axis=0) >= 50 - 1e-6).all()
    ends = {(round(x), round(y)) for x, y in at.T if abs(y) < 1}
    assert ends == {(-257, 0), (257 * count, 0)}
