"""Edges that a lens has bent are found where they are; the lens model is the reference.

Pieces of one edge are joined, edges that are not the same never: drawn through a known lens.
"""

import cv2
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from visualiser.photo.photo import Photo
from visualiser.rectification import fit_lines
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.lines.detect import (
    MOST_OF_A_KIND,
    RoomLine,
    find_room_lines,
    join_pieces,
)
from visualiser.rectification.marks import DrawnLine, Marks
from visualiser.rectification.reference import EdgeSamples

WIDTH, HEIGHT = 2048, 1536


def ceiling_through(lens):
    """Photo of a light ceiling over a dark wall, and the edge between them (N, 2), px."""
    x = np.linspace(-0.9, 0.9, 4001)
    edge = lens.to_pixels(np.c_[x, -0.4 + 0.04 * x])
    sub = 4
    outline = np.vstack([edge, [[WIDTH + 400, edge[-1, 1]], [WIDTH + 400, -400], [-400, -400]]])
    big = np.full((HEIGHT * sub, WIDTH * sub), 60, np.uint8)
    corners = np.rint((outline + 0.5) * sub - 0.5).astype(np.int32)
    cv2.fillPoly(big, [corners], 200)
    grey = cv2.resize(big, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    noise = np.random.default_rng(3).normal(0, 1.5, grey.shape)
    grey = cv2.GaussianBlur(grey, (0, 0), 0.9).astype(float) + noise
    pixels = np.repeat(np.clip(np.rint(grey), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return Photo(pixels), edge


@pytest.mark.parametrize("k1", [-0.08, -0.04, 0.0, 0.05])
def test_a_bent_ceiling_line_is_found(k1):
    photo, edge = ceiling_through(Lens(1600.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, k1))
    lines = find_room_lines(photo)
    assert sum(line.length_px for line in lines) > 0.75 * WIDTH
    for line in lines:
        apart = np.linalg.norm(line.samples.points_px[:, None] - edge, axis=-1).min(axis=1)
        assert np.median(apart) < 0.5


def crossed(photo, at_px, first_px, every_px, wide_px):
    """Leaves of a wallpaper, little light and dark patches, across an edge at every so many px."""
    pixels, rng = photo.pixels.copy(), np.random.default_rng(2)
    for x in np.arange(first_px, WIDTH - wide_px, every_px):
        y = round(float(at_px(x + wide_px / 2)))
        leaves = rng.choice([70, 120, 190], (8, wide_px // 6)).astype(np.uint8)
        patch = cv2.resize(leaves, (wide_px, 48), interpolation=cv2.INTER_NEAREST)
        pixels[y - 24 : y + 24, int(x) : int(x) + wide_px] = patch[..., None]
    return Photo(cv2.GaussianBlur(pixels, (0, 0), 0.9))


def test_a_ceiling_line_crossed_by_leaves_over_half_its_length_is_found():
    photo, edge = ceiling_through(Lens(1600.0, (WIDTH - 1) / 2, (HEIGHT - 1) / 2, -0.02))
    leafy = crossed(photo, lambda x: np.interp(x, *edge.T), 60.0, 260.0, 144)
    longest = find_room_lines(leafy)[0]
    assert longest.length_px > 0.6 * WIDTH
    apart = np.linalg.norm(longest.samples.points_px[:, None] - edge, axis=-1).min(axis=1)
    assert np.median(apart) < 0.5


def test_rows_of_boards_leave_place_to_the_posts_below_them():
    """34 edges of boards, all longer than six edges of three posts: the posts tell plumb."""
    grey = np.full((1200, 1600), 150, np.uint8)
    for row in range(17):
        grey[40 + 50 * row : 65 + 50 * row] = 110
    for x in (300, 700, 1100):
        grey[940:1160, x : x + 90] = 80
    grey = cv2.GaussianBlur(grey, (0, 0), 0.9)
    noise = np.random.default_rng(4).normal(0, 1.0, (*grey.shape, 1))
    pixels = np.clip(np.rint(grey[..., None] + noise), 0, 255).astype(np.uint8)
    lines = find_room_lines(Photo(np.repeat(pixels, 3, axis=2), None, 0.3))
    posts = sorted(float(line.ends_px[:, 0].mean()) for line in lines if abs(line.heading[1]) > 0.9)
    assert posts == pytest.approx([299.5, 389.5, 699.5, 789.5, 1099.5, 1189.5], abs=0.3)
    assert len(lines) > 25
    assert len(lines) - len(posts) <= MOST_OF_A_KIND


def test_patches_in_a_row_are_no_edge():
    plain = np.full((HEIGHT, WIDTH, 3), 120, np.uint8)
    plain = plain + np.random.default_rng(1).normal(0, 1.5, plain.shape)
    photo = Photo(np.clip(plain, 0, 255).astype(np.uint8))
    assert find_room_lines(crossed(photo, lambda x: 500.0, 60.0, 120.0, 48)) == []


FINE_WIDTH, FINE_HEIGHT, FOCAL = 2560, 1920, 1850


def through_lens(ideal_px, k1):
    """Brown's first radial term, about the picture's middle."""
    ray = (ideal_px - [FINE_WIDTH / 2, FINE_HEIGHT / 2]) / FOCAL
    return ray * (1 + k1 * (ray**2).sum(axis=1, keepdims=True)) * FOCAL + [
        FINE_WIDTH / 2,
        FINE_HEIGHT / 2,
    ]


def piece(name, start, end, k1=0.0, noise_px=0.1, drawn=None):
    rng = np.random.default_rng(sum(map(ord, name)))
    start, end = np.asarray(start, float), np.asarray(end, float)
    t = np.linspace(0, 1, 24)[:, None]
    along = (end - start) / np.hypot(*(end - start))
    normal = np.array([-along[1], along[0]])
    points = through_lens(start + t * (end - start), k1) + rng.normal(0, noise_px, (24, 1)) * normal
    return RoomLine(name, EdgeSamples(points, np.tile(normal, (24, 1)), np.full(24, 0.1)), drawn)


def names(lines):
    return [line.name for line in join_pieces(lines, FINE_WIDTH)]


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    k1=st.floats(-0.08, 0.08),
    height=st.floats(0.0, 1.0),
    slope=st.floats(-0.25, 0.25),
    cuts=st.sets(st.sampled_from([0.22, 0.35, 0.48, 0.61, 0.74]), min_size=1, max_size=3),
)
def test_a_straight_edge_seen_through_a_lens_is_one_line_however_it_is_cut(k1, height, slope, cuts):
    # All of it lies in the picture: beyond it there is nothing to see, and the lens bends more.
    rise = abs(slope) * FINE_WIDTH / 2
    y = 60 + rise + height * (FINE_HEIGHT - 120 - 2 * rise)
    ends = np.array([0.03, *sorted(cuts), 0.97])
    lines = []
    for i, (a, b) in enumerate(zip(ends[:-1], ends[1:] - 0.012, strict=True)):
        if b - a < 0.08:
            continue
        x = np.array([a, b]) * FINE_WIDTH
        lines.append(piece(f"line-{i}", *np.c_[x, y + slope * (x - FINE_WIDTH / 2)], k1))
    (joined,) = join_pieces(lines, FINE_WIDTH)
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
    monkeypatch.setattr(fit_lines, "find_room_lines", lambda *_: found)
    photo = Photo(np.full((FINE_HEIGHT, FINE_WIDTH, 3), 128, np.uint8))
    assert [line.name for line in fit_lines.gather_lines(photo, Marks(), [])] == ["a", "c"]
    left = fit_lines.gather_lines(photo, Marks(rejected_lines=(rejected,)), [])
    assert [line.name for line in left] == ["c"]
