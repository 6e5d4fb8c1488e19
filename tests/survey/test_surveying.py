"""Floor, datum and usable wall on photographs drawn exactly."""

from dataclasses import replace

import numpy as np
import pytest

from tests.synthetic.wall_photo import draw_scene, render
from visualiser import Marks, Photo, Reference, fit_wall_plane, survey_wall
from visualiser.findings import Finding
from visualiser.survey import surveying
from visualiser.survey.wall_ends import WallEnds

SIZE = 1400
SEED = 6
"""Ceiling and skirting are in this picture."""


@pytest.fixture(scope="module")
def surveyed():
    scene = draw_scene(SEED, long_side=SIZE, clutter=False)
    photo = Photo(render(scene), scene.focal_stated, 0.02)
    reference = Reference("a4", scene.sheet_corners_px, *scene.sheet_mm, size_sigma_mm=0.0)
    return scene, photo, fit_wall_plane(photo, [reference])


def test_the_floor_is_read_off_the_skirting(surveyed):
    scene, photo, plane = surveyed
    survey = survey_wall(photo, plane)
    assert survey.floor_known
    assert "floor-from-skirting" in {f.code for f in survey.findings}
    assert survey.datum_mm[1] == pytest.approx(scene.floor_y_mm, abs=15)
    assert abs(survey.datum_mm[1] - scene.floor_y_mm) < 3 * survey.floor_sigma_mm


def test_a_typed_height_goes_before_what_is_seen(surveyed):
    scene, photo, plane = surveyed
    lower = scene.sheet_corners_mm[2:4, 1].mean()
    height = lower - scene.floor_y_mm
    survey = survey_wall(photo, plane, Marks(reference_height_mm=height))
    assert survey.datum_mm[1] == pytest.approx(scene.floor_y_mm, abs=2)
    assert survey.floor_sigma_mm == 2.0


def test_clicked_floor_points_tell_the_floor(surveyed):
    scene, photo, plane = surveyed
    clicks = scene.project([[-300, scene.floor_y_mm, 0], [400, scene.floor_y_mm, 0]])
    survey = survey_wall(photo, plane, Marks(floor_px=tuple(map(tuple, clicks))))
    assert survey.datum_mm[1] == pytest.approx(scene.floor_y_mm, abs=15)
    assert survey.floor_sigma_mm < 20


def test_contradicting_heights_are_told(surveyed):
    scene, photo, plane = surveyed
    clicks = scene.project([[-300, scene.floor_y_mm, 0], [400, scene.floor_y_mm, 0]])
    marks = Marks(floor_px=tuple(map(tuple, clicks)), reference_height_mm=900.0)
    survey = survey_wall(photo, plane, marks)
    assert "floor-contradicts" in {f.code for f in survey.findings}


def test_the_usable_wall_ends_at_ceiling_and_floor(surveyed):
    scene, photo, plane = surveyed
    bounds = survey_wall(photo, plane).outline.bounds
    assert bounds.bottom_mm == pytest.approx(0, abs=1)
    assert bounds.top_mm == pytest.approx(scene.ceiling_y_mm - scene.floor_y_mm, abs=25)


def test_survey_and_photo_agree(surveyed):
    _, photo, plane = surveyed
    survey = survey_wall(photo, plane)
    points = np.array([[500.0, 1500.0], [-200.0, 1200.0]])
    assert survey.to_wall(survey.to_photo(points)) == pytest.approx(points, abs=1e-6)


def test_without_a_floor_it_says_so():
    scene = draw_scene(5, lines=False, clutter=False, long_side=1000)
    photo = Photo(render(scene), scene.focal_stated, 0.02)
    plane = fit_wall_plane(photo, [Reference("a4", scene.sheet_corners_px, *scene.sheet_mm)])
    survey = survey_wall(photo, plane)
    assert not survey.floor_known
    assert {"floor-unknown", "side-from-reference"} <= {f.code for f in survey.findings}
    assert survey.datum_mm == (0.0, 0.0)


def test_places_count_from_the_left_corner_where_it_is_seen(surveyed, monkeypatch):
    """The corner is put 900 mm left of the sheet's middle; the plane's findings are kept."""
    _, photo, plane = surveyed
    monkeypatch.setattr(surveying, "wall_ends", lambda *_: WallEnds(left_mm=-900.0))
    told = Finding("note", "Of the plane.", "", "plane")
    survey = survey_wall(photo, replace(plane, findings=(told,)))
    assert survey.datum_mm[0] == -900.0
    assert survey.outline.bounds.left_mm == pytest.approx(0, abs=0.1)
    codes = [f.code for f in survey.findings]
    assert codes[0] == "plane"
    assert "side-from-reference" not in codes
    in_the_photo = survey.to_photo(np.array([[900.0, 0.0]]))
    assert in_the_photo == pytest.approx(plane.to_photo(np.array([[0.0, survey.datum_mm[1]]])))


def test_what_is_not_known_is_advice_and_what_it_asks_for_can_be_done(monkeypatch, surveyed):
    _, photo, plane = surveyed
    monkeypatch.setattr(surveying, "find_floor", lambda *_: None)
    monkeypatch.setattr(surveying, "wall_ends", lambda *_: WallEnds())
    survey = survey_wall(photo, plane)
    said = {f.code: f for f in survey.findings}
    assert said["floor-unknown"].severity == "advice"
    assert "middle of the reference" in said["floor-unknown"].text
    assert "mark where the wall meets the floor" in said["floor-unknown"].hint
    assert said["side-from-reference"].severity == "note"
    assert "before the reference comes down" in said["side-from-reference"].hint
    assert survey.floor_sigma_mm == 0.0
