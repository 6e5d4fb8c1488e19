"""Counting what looks alike: by hand-made patterns whose count is known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.rectification.finder.likeness import Looks, apart, crowding, likenesses


def looks(middles: list[tuple[float, float]], size: float = 20.0, light: float = 0.0) -> Looks:
    count = len(middles)
    return Looks(
        np.full(count, size),
        np.array(middles, float).reshape(-1, 2),
        np.full((count, 3), light),
        np.tile([0.5, 0.0, 0.0], (count, 1)),
    )


def square(x: float, y: float, size: float = 20.0) -> np.ndarray:
    return np.array([[x, y], [x + size, y], [x + size, y + size], [x, y + size]])


@given(st.integers(1, 6), st.integers(1, 6))
def test_every_other_motif_of_a_pattern_counts(columns: int, rows: int) -> None:
    pattern = looks([(40.0 * i, 40.0 * j) for i in range(columns) for j in range(rows)])
    assert likenesses(pattern, pattern).tolist() == [columns * rows - 1] * (columns * rows)


def test_several_outlines_of_one_thing_count_once() -> None:
    sheet = looks([(0, 0)])
    twice = looks([(1, 1), (100, 100), (101, 99), (99, 101)])
    assert likenesses(sheet, twice).tolist() == [1]


@pytest.mark.parametrize("other", [looks([(100, 0)], size=30), looks([(100, 0)], light=0.3)])
def test_another_size_or_colour_is_not_alike(other: Looks) -> None:
    assert likenesses(looks([(0, 0)]), other).tolist() == [0]


def test_two_sheets_are_usual_and_two_cards_are_not() -> None:
    pair = looks([(0, 0), (100, 0)])
    assert crowding(pair, pair, any_colour=False).tolist() == [0, 0]
    assert crowding(pair, pair, any_colour=True).tolist() == [1, 1]


def test_the_better_of_two_guesses_at_one_thing_is_kept() -> None:
    quads = np.array([square(0, 0), square(0.3, 0.3), square(60, 0), square(0, 0, 24)])
    assert apart(quads, np.array([1, 0, 2, 3])).tolist() == [1, 2, 3]


def test_none_of_none_is_kept() -> None:
    assert len(apart(np.empty((0, 4, 2)), np.array([], np.intp))) == 0


def test_joined_looks_keep_their_order() -> None:
    both = looks([(0, 0)]).joined(looks([(50, 0), (90, 0)]))
    assert both[np.array([2, 0])].middle[:, 0].tolist() == [90, 0]
