"""The committed samples: readable, small, consistent with their truth."""

import json
from pathlib import Path

import numpy as np
import pytest

import visualiser as vis
from visualiser.project.document import read_document

SAMPLES = Path(__file__).parents[2] / "sample_photos"
PHOTOS = sorted(p for p in (SAMPLES / "photos").glob("*.*") if p.suffix in (".jpg", ".heic"))
ARTWORKS = sorted((SAMPLES / "artworks").glob("*.jpg"))
JOBS = sorted((SAMPLES / "jobs").glob("*.json"))


def truth_of(path):
    return json.loads(path.with_suffix(".json").read_text())


def test_there_are_enough_and_they_are_small():
    assert len(ARTWORKS) >= 10
    assert len(JOBS) >= 2
    files = [p for p in SAMPLES.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert sum(p.stat().st_size for p in files) < 20_000_000


@pytest.mark.parametrize("path", PHOTOS, ids=lambda p: p.stem)
def test_photo_is_upright_and_its_focal_prior_holds(path):
    photo, truth = vis.load_photo(path.read_bytes()), truth_of(path)
    assert (photo.width_px, photo.height_px) == (truth["width"], truth["height"])
    focal = truth["camera"]["k_matrix"][0][0]
    assert abs(photo.focal_px / focal - 1) < 2 * photo.focal_relative_sigma
    assert photo.findings == ()


@pytest.mark.parametrize("path", PHOTOS, ids=lambda p: p.stem)
def test_truth_follows_from_its_own_camera(path):
    """Pinhole and Brown-Conrady, worked here from the numbers in the file."""
    truth = truth_of(path)
    reference, lens = truth["references"][0], truth["distortion"]
    wall = np.c_[reference["corners_wall_mm"], np.ones(4)]
    ideal = wall @ np.array(truth["homography_wall_mm_to_pinhole_px"]).T
    k = np.array(truth["camera"]["k_matrix"])
    centre, focal = k[:2, 2], k[0, 0]
    x = (ideal[:, :2] / ideal[:, 2:] - centre) / focal
    r2 = (x**2).sum(1, keepdims=True)
    observed = x * (1 + lens["k1"] * r2 + lens["k2"] * r2**2) * focal + centre
    assert np.array(reference["corners_px"]) == pytest.approx(observed, abs=0.01)


@pytest.mark.parametrize("path", ARTWORKS, ids=lambda p: p.stem)
def test_artwork_decodes(path):
    photo = vis.load_photo(path.read_bytes())
    assert 1000 <= max(photo.width_px, photo.height_px) <= 1600


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_job_is_valid_and_its_files_are_there(path):
    job = read_document(path.read_bytes())
    assert job.photo is not None
    assert (SAMPLES / job.photo.path).exists()
    for piece in job.pieces:
        assert piece.artwork is not None
        assert (SAMPLES / piece.artwork.path).exists()
    assert {p.piece_id for p in job.option().placements} == {p.id for p in job.pieces}
