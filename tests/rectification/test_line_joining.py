"""Pieces of one edge are joined, edges that are not the same never: drawn through a known lens."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from visualiser.photo.photo import Photo
from visualiser.rectification import evidence
from visualiser.rectification.line_joining import join_pieces
from visualiser.rectification.marks import DrawnLine, Marks
from visualiser.rectification.reference import EdgeSamples
from visualiser.rectification.room_lines import RoomLine

WIDTH, HEIGHT, FOCAL = 2560, 1920, 1850


def through_lens(ideal_px, k1):
    """Brown's first radial term, about the picture's middle."""
    ray = (ideal_px - [WIDTH / 2, HEIGHT / 2]) / FOCAL
    return ray * (1 + k1 * (ray**2).sum(axis=1, keepdims=True)) * FOCAL + [WIDTH / 2, HEIGHT / 2]


def piece(name, start, end, k1=0.0, noise_px=0.1, drawn=None):
    rng = np.random.default_rng(sum(map(ord, name)))
    start, end = np.asarray(start, float), np.asarray(end, float)
    t = np.linspace(0, 1, 24)[:, None]
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([-along[1], along[0]])
    points = through_lens(start + t * (end - start), k1) + rng.normal(0, noise_px, (24, 1)) * normal
    return RoomLine(name, EdgeSamples(points, np.tile(normal, (24, 1)), np.full(24, 0.1)), drawn)


def names(lines):
    return [line.name for line in join_pieces(lines, WIDTH)]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    k1=st.floats(-0.08, 0.08),
    y=st.floats(60, 1860),
    slope=st.floats(-0.25, 0.25),
    cuts=st.sets(st.sampled_from([0.22, 0.35, 0.48, 0.61, 0.74]), min_size=1, max_size=3),
)
def test_a_straight_edge_seen_through_a_lens_is_one_line_however_it_is_cut(k1, y, slope, cuts):
    ends = np.array([0.03, *sorted(cuts), 0.97])
    lines = []
    for i, (a, b) in enumerate(zip(ends[:-1], ends[1:] - 0.012, strict=True)):
        if b - a < 0.08:
            continue
        x = np.array([a, b]) * WIDTH
        lines.append(piece(f"line-{i}", *np.c_[x, y + slope * (x - WIDTH / 2)], k1))
    (joined,) = join_pieces(lines, WIDTH)
    assert len(joined.samples) == 24 * len(lines)
    # In order along the edge, so that its ends are the edge's.
    assert (np.diff(joined.samples.points_px[:, 0]) > 0).all()
    assert joined.name == max(lines, key=lambda line: line.length_px).name


@pytest.mark.parametrize("offset_px", [2.5, 4.0, 9.0, 40.0])
def test_two_edges_side_by_side_stay_two(offset_px):
    left, right = [100, 500], [1250, 520]
    start = np.array([1300, 520.9]) + [0, offset_px]
    lines = [piece("a", left, right), piece("b", start, start + [1100, 19.1])]
    assert sorted(names(lines)) == ["a", "b"]


def test_pieces_that_run_beside_each_other_stay_two():
    lines = [piece("a", [100, 500], [1250, 500]), piece("b", [700, 500.2], [1900, 500.2])]
    assert sorted(names(lines)) == ["a", "b"]


def test_dark_on_the_other_hand_is_another_edge():
    lines = [piece("a", [100, 500], [1250, 500]), piece("b", [2400, 500], [1300, 500])]
    assert sorted(names(lines)) == ["a", "b"]


def test_two_short_pieces_far_apart_say_nothing_of_each_other():
    lines = [piece("a", [100, 500], [400, 500]), piece("b", [2000, 500], [2300, 500])]
    assert sorted(names(lines)) == ["a", "b"]


def test_edges_that_meet_at_an_angle_stay_two():
    lines = [piece("a", [100, 500], [1250, 500]), piece("b", [1270, 500], [2400, 515])]
    assert sorted(names(lines)) == ["a", "b"]


def test_what_a_person_drew_stays_as_drawn():
    drawn = DrawnLine((100, 500), (1250, 500), "level")
    lines = [piece("drawn-1", [100, 500], [1250, 500], drawn=drawn)]
    lines.append(piece("b", [1300, 500], [2400, 500]))
    assert names(lines) == ["drawn-1", "b"]


@pytest.mark.parametrize("rejected", ["a", "b"])
def test_an_edge_that_a_person_rejects_is_gone_with_all_its_pieces(rejected, monkeypatch):
    """By the name it is shown under, or by that of a piece, as an older job may hold it."""
    found = [
        piece("a", [100, 500], [1250, 500]),
        piece("b", [1300, 500], [2400, 500]),
        piece("c", [300, 100], [300, 1500]),
    ]
    monkeypatch.setattr(evidence, "find_room_lines", lambda *_: found)
    photo = Photo(np.full((HEIGHT, WIDTH, 3), 128, np.uint8))
    assert [line.name for line in evidence.gather_lines(photo, Marks(), [])] == ["a", "c"]
    left = evidence.gather_lines(photo, Marks(rejected_lines=(rejected,)), [])
    assert [line.name for line in left] == ["c"]
