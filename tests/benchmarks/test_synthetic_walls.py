"""Position error, level and coverage on photographs drawn exactly, beside four good corners."""

import os

import pytest

from tests.synthetic.scoring import DRAWN, EXACT, format_table, score_scene, table

POSES = int(os.environ.get("VISUALISER_POSES", "200"))
LONG_SIDE_PX = 2000
SEEDS, SEEDS_BARE = range(1000, 1000 + POSES), range(3000, 3000 + POSES)


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
def test_with_room_lines(capsys):
    scores = [score_scene(s, lines=True, long_side=LONG_SIDE_PX) for s in SEEDS]
    with capsys.disabled():
        print(format_table("with room lines", scores))
    near, far = table(scores)
    assert near["median_mm"] <= 1.5
    assert near["p95_mm"] <= 5
    assert far["median_mm"] <= 3
    assert far["p95_mm"] <= 10
    assert far["ratio"] >= 8


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("lines", [True, False])
@pytest.mark.parametrize("imperfect", [True, False])
def test_coverage(lines, imperfect, capsys):
    """The region must fit what is drawn: bloom and stand-off at random as the terms say, or none.

    Held against terms that are not drawn it would cover nearly everything, and tell nothing.
    """
    seeds = range(5000, 5000 + POSES)
    terms = DRAWN if imperfect else EXACT
    scores = [
        score_scene(s, lines=lines, long_side=LONG_SIDE_PX, imperfect=imperfect, terms=terms)
        for s in seeds
    ]
    with capsys.disabled():
        print(format_table(f"imperfect {imperfect}, lines {lines}", scores))
    assert all(row["covered"] >= 0.92 for row in table(scores))
    assert all(row["photos_held"] >= 0.85 for row in table(scores))


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
def test_without_any_line(capsys):
    scores = [
        score_scene(s, lines=False, long_side=LONG_SIDE_PX) for s in range(3000, 3000 + POSES)
    ]
    with capsys.disabled():
        print(format_table("without any line", scores))
    assert table(scores)[0]["median_mm"] <= 6
