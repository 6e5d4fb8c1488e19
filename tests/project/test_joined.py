"""A wall joined from several photos as a job holds it: saved, read back, measured, sent on."""

import hashlib
from dataclasses import replace

import numpy as np
import pytest
from pydantic import ValidationError

import visualiser as vis
from visualiser.arrangement.arrangement import Placement
from visualiser.findings import Finding
from visualiser.inventory.piece import Moulding, Piece
from visualiser.project.document import (
    Document,
    MarksEntry,
    OptionEntry,
    read_document,
    write_document,
)
from visualiser.project.exchange import export_zip, import_zip
from visualiser.project.joined import JoinedFiles, with_joined_photos
from visualiser.project.joined_entry import JoinedEntry
from visualiser.project.measuring import measure_plane
from visualiser.project.store import create_project
from visualiser.project.views import mockup_in_photo
from visualiser.rectification.camera.projection import FLIP, Lens, rotation_from_vector
from visualiser.rectification.plane import WallPlane
from visualiser.wording import BothUnits, sentence


def straight_plane():
    """A picture of 480 x 240 px, 10 mm a pixel, as joined walls have it."""
    rng = np.random.default_rng(3)
    half = rng.normal(0, 1, (11, 11)) * ([1e-4] * 3 + [2.0] * 3 + [1e-3] * 3 + [0.5] * 2)
    drift = Finding(
        "advice", sentence("Far off: ", BothUnits(31.0), "."), "A sheet.", "joint-drift"
    )
    return WallPlane(
        lens=Lens(300.0, 239.5, 119.5),
        rotation=FLIP,
        translation_mm=np.array([-1500.0, 40.0, 3000.0]),
        reference_corners_px=np.array([[79.0, 120], [100, 120], [100, 150], [79, 150]]),
        reference_tilt_deg=0.4,
        parameter_covariance=half.T @ half,
        findings=(drift,),
        level_sigma_deg=0.05,
        flatness_sigma_mm=0.0,
        left_over_px=0.2,
    )


def grey(value):
    return vis.encode_png(np.full((240, 480, 3), value, np.uint8))


def in_photo(x_mm):
    """The wall as a photo taken from 3 m shows it, turned a little and through a bent lens."""
    turn = rotation_from_vector(np.array([0.02, 0.1, 0.01])) @ FLIP
    lens = Lens(400.0, 239.0, 121.0, k1=0.02, k2=-0.01)
    at = -turn @ np.array([x_mm, 0.0, 3000.0])
    return replace(straight_plane(), lens=lens, rotation=turn, translation_mm=at)


JOINED = (straight_plane(), (in_photo(0.0), in_photo(2600.0)))
PHOTOS = [("left.png", grey(90)), ("right.png", grey(120))]


@pytest.fixture
def filled(tmp_path):
    job = create_project(tmp_path / "hall")
    joined = JoinedFiles(grey(100), *JOINED)
    return job.save(with_joined_photos(job.document, job.add_file, PHOTOS, joined))


def test_the_wall_read_back_is_the_one_that_was_joined(filled):
    plane = straight_plane()
    document = read_document(write_document(filled.document))
    again = measure_plane(filled.photo(), document.marks)
    points = np.array([[0.0, 0.0], [2500.0, 300.0]])
    assert again.to_photo(points) == pytest.approx(plane.to_photo(points))
    assert again.covariance(points) == pytest.approx(plane.covariance(points))
    assert again.reference_corners_px == pytest.approx(plane.reference_corners_px)
    assert (again.reference_tilt_deg, again.level_sigma_deg) == (0.4, 0.05)
    (said,) = again.findings
    assert (said.code, said.severity, str(said.hint)) == ("joint-drift", "advice", "A sheet.")
    assert "31 mm" in again.findings[0].text


def test_each_photo_shows_the_same_wall(filled):
    points = np.array([[100.0, 0.0], [1900.0, 300.0]])
    for number, x_mm in ((1, 0.0), (2, 2600.0)):
        photo, plane = filled.view(number)
        assert photo.width_px == 480
        assert plane.to_photo(points) == pytest.approx(in_photo(x_mm).to_photo(points))
    with pytest.raises(vis.ProjectError, match="no number 3"):
        filled.view(3)


def test_a_mockup_is_drawn_in_each_photo_that_shows_its_pieces(filled):
    """The left piece is seen in the left photo alone, where its corners project to."""
    survey = filled.survey()
    piece = Piece("p1", 400, 300, moulding=Moulding(20, 25, "black"))
    job = filled.add_pieces([piece])
    x, y = -survey.datum_mm[0], -survey.datum_mm[1] + 200
    option = OptionEntry(id="a", placements=(Placement("p1", x, y),))
    job = job.save(job.document.changed(options=(option,), chosen="a"))
    drawn = mockup_in_photo(job, 1)
    wall = np.array([[-200.0, 350.0], [200, 350], [200, 50], [-200, 50]])
    assert drawn.corners_px["p1"] == pytest.approx(
        in_photo(0.0).project(np.c_[wall, np.full(4, 25.0)]), abs=1.0
    )
    middle = drawn.corners_px["p1"].mean(axis=0).round().astype(int)
    assert (drawn.pixels[middle[1], middle[0]] != job.view(1)[0].pixels[0, 0]).any()
    with pytest.raises(vis.ProjectError, match="Nothing of this option"):
        mockup_in_photo(job, 2)


def test_the_job_surveys_the_picture_by_the_joined_wall(filled):
    plane = filled.survey().plane
    assert plane.half_width(np.array([[2500.0, 0.0]])) == pytest.approx(
        straight_plane().half_width(np.array([[2500.0, 0.0]]))
    )


def test_a_job_sent_on_brings_its_photos(filled, tmp_path):
    sent = import_zip(export_zip(filled), tmp_path / "elsewhere")
    photos = sent.document.marks.joined.photos
    assert len(photos) == 2
    for entry in (*photos, sent.document.photo):
        content = sent.read_file(entry.path)
        assert hashlib.sha256(content).hexdigest() == entry.sha256
    assert {entry.path for entry in photos} <= {e.path for e in sent.document.pictures}


def test_another_photo_of_the_wall_ends_what_was_joined(filled):
    other = filled.add_photo(vis.encode_png(np.full((300, 640, 3), 80, np.uint8)))
    assert other.document.marks.joined is None


def test_a_covariance_that_cannot_be_is_refused():
    entry = JoinedEntry.from_plane(straight_plane(), tuple(
        {"path": f"photos/{k}.png"} for k in range(2)
    ))  # fmt: skip
    rows = np.array(entry.covariance)
    rows[2, 2] = -1.0
    with pytest.raises(ValidationError, match="covariance"):
        JoinedEntry.model_validate({**dict(entry), "covariance": rows.tolist()})


def test_a_straight_on_picture_is_made_of_one_photo_at_least():
    """Of one photo where its wall lies beyond a corner."""
    assert JoinedEntry.from_plane(straight_plane(), ({"path": "photos/a.png"},)).photos
    with pytest.raises(ValidationError):
        JoinedEntry.from_plane(straight_plane(), ())


def test_marks_of_the_photo_before_are_dropped_and_typed_places_stay(tmp_path):
    job = create_project(tmp_path / "hall")
    job = job.add_photo(vis.encode_png(np.full((300, 640, 3), 80, np.uint8)))
    job = job.mark(outline_px=[(10, 10), (400, 10), (400, 200)], reference_height_mm=1300)
    joined = JoinedFiles(grey(100), *JOINED)
    marks = with_joined_photos(job.document, job.add_file, PHOTOS, joined).marks
    assert marks.outline_px is None
    assert marks.reference_height_mm == 1300


def test_jobs_without_joined_photos_read_as_before():
    document = Document(marks=MarksEntry())
    assert read_document(write_document(document)).marks.joined is None
