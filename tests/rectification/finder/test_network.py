import hashlib
import re
from importlib.resources import files
from pathlib import Path

import cv2
import numpy as np
import pytest

from visualiser.rectification.finder.acceptance import (
    ACCEPTANCE,
    CONTRADICTED,
    DOUBTS,
    EITHER,
    WEIGHTS,
    against,
    probability,
)
from visualiser.rectification.finder.network import evidence, look, look_at, sightings
from visualiser.rectification.finder.weighing import overlap

CORNERS = np.array([[420.0, 180.0], [790.0, 205.0], [770.0, 720.0], [405.0, 690.0]])


@pytest.fixture(scope="module")
def wall():
    """A pale blank quadrilateral on a wall of paint that is a third as light."""
    pixels = np.full((960, 1280, 3), (140, 128, 110), np.uint8)
    shade = np.full((960, 1280), 0.0, np.float32)
    cv2.fillConvexPoly(shade, np.rint(CORNERS + [4, 6]).astype(np.int32), 0.3)
    shade = cv2.GaussianBlur(shade, (0, 0), 4)[..., None]
    pixels = (pixels * (1 - shade)).astype(np.uint8)
    cv2.fillConvexPoly(pixels, np.rint(CORNERS * 16).astype(np.int32), (240, 240, 236), 16, 4)
    noise = np.random.default_rng(3).normal(0, 2, pixels.shape)
    return np.clip(cv2.GaussianBlur(pixels, (0, 0), 0.8) + noise, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("side_px", [512, 896])
def test_a_blank_sheet_on_a_wall_is_sighted_where_it_is_drawn(wall, side_px):
    best = sightings(look(wall, side_px))[0]
    assert overlap(best.corners_px, CORNERS) > 0.95
    # A cell of the maps covers 10 px of this picture at the coarser look.
    assert np.abs(best.corners_px - CORNERS).max() < 10


def test_the_close_look_agrees_with_the_sheet_and_not_with_the_wall_beside_it(wall):
    close = look_at(wall, CORNERS, 2.6, 512)
    assert evidence(close, CORNERS).overlap > 0.9
    assert evidence(close, CORNERS).inside > 0.8
    assert evidence(close, CORNERS + [-330, 0]).inside < 0.2


def test_a_bare_wall_shows_nothing():
    noise = np.random.default_rng(4).normal(150, 3, (600, 800, 3))
    maps = look(np.clip(noise, 0, 255).astype(np.uint8), 512)
    assert all(one.evidence.inside < 0.6 for one in sightings(maps))


def test_places_in_a_part_of_a_picture_are_those_of_the_picture(wall):
    maps = look(wall[100:800, 300:900], 512, (300, 100))
    np.testing.assert_allclose(maps.to_photo(maps.to_input(CORNERS)), CORNERS, atol=1e-9)


def test_no_feature_speaks_against_its_own_meaning():
    assert min(WEIGHTS.values()) >= 0
    assert set(WEIGHTS) <= set(DOUBTS)


def test_what_speaks_most_against_a_find_is_said():
    worst = dict.fromkeys(WEIGHTS, 0.0) | {"overlap from afar": 0.9, "card or sheet": 4.0}
    worst |= {"sides up close": 0.9, "corners up close": 0.5}
    assert against(worst | {"flat": -6.0, "facing": -0.5}) == DOUBTS["flat"]


def test_a_small_sheet_is_seen_up_close_though_enlarging_blurs_it():
    rng = np.random.default_rng(7)
    for long_px in (50, 70, 95):
        scene = np.full((600, 800, 3), (68, 78, 60), float)
        corners = np.array([[400, 300], [400 + long_px / 2**0.5, 303]])
        corners = np.concatenate([corners, corners[::-1] + [0, long_px]])
        mask = np.zeros((2400, 3200))
        cv2.fillConvexPoly(mask, np.rint(corners * 4).astype(np.int32), 1.0)
        paper = cv2.resize(mask, (800, 600), interpolation=cv2.INTER_AREA)[..., None]
        scene = scene * (1 - paper) + 205 * paper + rng.normal(0, 2, scene.shape)
        seen = look_at(np.clip(scene, 0, 255).astype(np.uint8), corners, 2.6, 512)
        found = evidence(seen, corners)
        assert found.overlap > 0.8
        assert found.inside > 0.5


def test_a_kind_that_another_fits_better_is_never_taken():
    assert probability(9.0) > ACCEPTANCE
    assert probability(9.0, kind_gain=-0.1) < ACCEPTANCE
    assert max(CONTRADICTED, EITHER) < ACCEPTANCE < 0.9  # 0.9 and more: printed patterns
    # The likelier the other kind, the less sure.
    assert probability(2.0, 0.0) < probability(2.0, 2.0) < probability(2.0)


def test_the_network_is_the_one_whose_training_is_written_down():
    data = (files("visualiser.rectification.finder") / "finder.onnx").read_bytes()
    page = (Path(__file__).parents[2] / "training" / "README.md").read_text()
    assert hashlib.sha256(data).hexdigest() == re.search(r"[0-9a-f]{64}", page).group()
    assert len(data) < 4_000_000
