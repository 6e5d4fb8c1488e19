"""Branch and bound against building every group there is, and what its parts promise."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import visualiser as vis
from visualiser.arrangement.exhaustive import Task, _distinct, _Outlook, best_groups
from visualiser.arrangement.measures import measure
from visualiser.arrangement.places import normal_places
from visualiser.arrangement.problem import SearchProblem, group_score
from visualiser.arrangement.scoring import SEARCH_WEIGHTS
from visualiser.arrangement.setting import describe
from visualiser.survey.survey import Survey

LIMITS = np.array([4000.0, 2600.0])


def set_of(sides, survey=None):
    pieces = [vis.Piece(f"P{i}", float(w), float(h)) for i, (w, h) in enumerate(sides)]
    return describe(pieces, survey or Survey.from_size(*LIMITS), vis.Guidelines())


def task_of(sides, limits=LIMITS):
    return Task(set_of(sides), np.array(limits), SEARCH_WEIGHTS)


def every_group(setting):
    """Whole groups by plain recursion: each piece in turn at each normal place."""
    gap, least = setting.gap_mm, setting.guidelines.gap_min_mm

    def grow(index, centres):
        if len(index) == setting.count:
            whole = np.empty_like(centres)
            whole[list(index)] = centres
            yield whole
            return
        half = setting.sizes[list(index)] / 2
        for new in set(range(setting.count)) - set(index):
            for place in normal_places(centres, half, setting.sizes[new] / 2, gap, least):
                yield from grow((*index, new), np.concatenate([centres, place[None]]))

    for first in range(setting.count):
        yield from grow((first,), np.zeros((1, 2)))


@pytest.mark.parametrize(
    "sides",
    [
        [(300, 400), (500, 300)],
        [(400, 500), (400, 500), (210, 297)],
        [(700, 500), (300, 400), (250, 250)],
    ],
)
def test_the_best_of_all_is_found(sides):
    task = task_of(sides)
    best = task.scores(
        measure(
            np.stack(list(every_group(task.setting))),
            task.setting.sizes,
            task.setting.masses,
            task.setting.gap_mm,
        )
    ).max()
    (found, *_) = best_groups(task, 0.0, 3)
    assert group_score(SearchProblem(task.setting), found[None])[0] == pytest.approx(best, abs=1e-6)


SIDES = st.lists(
    st.tuples(st.sampled_from([200, 300, 400, 500]), st.sampled_from([200, 300, 450, 560])),
    min_size=3,
    max_size=4,
)


@settings(max_examples=8, deadline=None)
@given(SIDES)
def test_groups_are_apart_joined_and_come_best_first(sides):
    task = task_of(sides)
    groups = best_groups(task, 0.0, 4)
    scores = group_score(SearchProblem(task.setting), np.stack(groups))
    assert (np.diff(scores) <= 1e-9).all()
    half, gap = task.setting.sizes / 2, task.setting.gap_mm
    for centres in groups:
        clear = np.abs(centres[:, None] - centres) - half[:, None] - half
        apart = clear.max(axis=2)[~np.eye(len(sides), dtype=bool)]
        assert apart.min() >= task.setting.guidelines.gap_min_mm - 1e-6
        touching = (np.abs(clear - gap) < 1e-6).any(axis=2)
        assert touching.any(axis=1).all()


@settings(max_examples=8, deadline=None)
@given(SIDES, st.integers(0, 10**6))
def test_no_group_scores_more_than_its_outline_lets_hope(sides, seed):
    task = task_of(sides)
    outlook = _Outlook.of(task)
    rng = np.random.default_rng(seed)
    setting = task.setting
    centres = rng.uniform(-600, 600, (200, setting.count, 2))
    clear = np.abs(centres[:, None] - centres[:, :, None]) - (
        setting.sizes / 2 + setting.sizes[:, None] / 2
    )
    clear[:, np.arange(setting.count), np.arange(setting.count)] = 1e3
    centres = centres[clear.max(axis=3).min(axis=(1, 2)) >= 50]
    if not len(centres):
        return
    m = measure(centres, setting.sizes, setting.masses, setting.gap_mm)
    cell = [outlook.cells(m.size[:, axis], axis, LIMITS[axis]) for axis in (0, 1)]
    for whole in (True, False):
        hope = outlook.bounds(whole=whole).reshape(outlook.within.shape[0] + 1, -1)[*cell]
        if whole:
            hope = hope - task.lost_by_lean(*m.lean.T) - task.lost_by_opening(centres)
        assert (task.scores(m) <= hope + 1e-9).all()


def test_what_is_found_already_is_not_given_again():
    task = task_of([(400, 500), (300, 300), (500, 300)])
    found = best_groups(task, 0.0, 1)[0]
    above = float(group_score(SearchProblem(task.setting), found[None])[0])
    assert best_groups(task, above, 1) == []


def test_groups_stay_within_the_limits():
    task = task_of([(400, 500), (300, 300), (500, 300)], (450.0, 2600.0))
    assert best_groups(task, 0.0, 1) == []
    task = task_of([(400, 500), (300, 300), (500, 300)], (500.0, 2600.0))
    (found,) = best_groups(task, 0.0, 1)
    box = task.setting.boxes(found)
    assert np.ptp(box[:, [0, 2]]) <= 500 + 1e-6


def test_shifts_turns_and_exchanges_of_equal_sizes_are_one_group():
    sizes = np.array([[400.0, 500.0], [300.0, 300.0], [300.0, 300.0]])
    group = np.array([[0.0, 0.0], [407.0, 100.0], [407.0, -257.0]])
    same = [
        group,
        group + (123.4, -56.7),
        group * (-1, 1),
        group * (1, -1),
        group[[0, 2, 1]],
    ]
    assert len(_distinct(np.stack(same), sizes)) == 1
    assert len(_distinct(np.stack([*same, group + [[0, 1.0], [0, 0], [0, 0]]]), sizes)) == 2
