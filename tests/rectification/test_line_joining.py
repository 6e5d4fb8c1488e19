"""Pieces of one edge are joined, edges that are not the same never: drawn through a known lens."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from visualiser.photo.photo import Photo
from visualiser.rectification import evidence, line_joining
from visualiser.rectification.edges import no_samples
from visualiser.rectification.lens import Lens
from visualiser.rectification.lens_profile import lens_prior
from visualiser.rectification.line_joining import join_pieces
from visualiser.rectification.marks import DrawnLine, Marks
from visualiser.rectification.model_terms import ModelTerms
from visualiser.rectification.observed_reference import ReferenceObservation
from visualiser.rectification.projection import CameraState
from visualiser.rectification.reference import EdgeSamples, Reference
from visualiser.rectification.room_lines import RoomLine
from visualiser.rectification.straightness import vote_on_distortion

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


def test_an_edge_joined_of_two_that_no_lens_straightens_is_taken_apart(monkeypatch):
    """The second piece lies 6 px off the first's line: half a moulding, beside straight edges."""
    k1 = -0.05
    found = [
        piece("a", [100, 1500], [1250, 1500], k1),
        piece("b", [1300, 1506], [1900, 1506], k1),
        piece("c", [100, 200], [2400, 200], k1),
        piece("d", [100, 1700], [2400, 1720], k1),
    ]
    joined = [line_joining._merged(found[:2]), *found[2:]]
    seen = []

    def voted(lines, lens, sigma):
        seen.append({line.name for line in lines})
        return vote_on_distortion(lines, lens, sigma)

    monkeypatch.setattr(evidence, "vote_on_distortion", voted)
    camera = CameraState(
        np.diag([1.0, -1, -1]), np.array([0, 0, 2000.0]), Lens(FOCAL, WIDTH / 2, HEIGHT / 2, 0, 0)
    )
    sheet = Reference(
        "a4",
        np.array([[-105, 148], [105, 148], [105, -148], [-105, -148.0]])
        * [FOCAL / 2000, -FOCAL / 2000]
        + [WIDTH / 2, HEIGHT / 2],
        210,
        297,
    )
    base = ReferenceObservation(
        sheet, tuple(no_samples() for _ in range(4)), True, True, ModelTerms()
    )
    photo = Photo(np.full((HEIGHT, WIDTH, 3), 128, np.uint8), FOCAL, 0.02)
    prior = lens_prior(photo, ModelTerms(), None)
    fit = evidence.fit_with_lines(camera, [base], joined, prior, WIDTH, ModelTerms())
    assert seen == [{"a", "c", "d"}, {"a", "b", "c", "d"}]
    assert {line.name for line in fit.lines} == {"a", "b", "c", "d"}
