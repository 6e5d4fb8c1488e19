"""Where a job's wall is measured from, and where what was marked on it then lies."""

import numpy as np
import pytest

from visualiser import MeasurementError, Photo
from visualiser.project.measuring import (
    measure_plane,
    references_of,
    size_as_seen,
    survey_photo,
    survey_typed,
    taken_as,
)
from visualiser.project.wall_entries import MarksEntry, ReferenceEntry, WallEntry

SHEET_PX = ((450.0, 400.0), (555.0, 400.0), (555.0, 548.5), (450.0, 548.5))
"""An A4 sheet, 210 x 297 mm, square on at half a pixel a millimetre."""
MIDDLE_PX = (502.5, 474.25)


def surveyed(**marks):
    """A blank wall seen square on, 2 mm a pixel, with only its sheet known."""
    photo = Photo(np.full((900, 1200, 3), 128, np.uint8), 1500.0, 0.02)
    entry = MarksEntry(
        reference={"kind": "a4", "corners_px": SHEET_PX, "as_set": True}, find_lines=False, **marks
    )
    return survey_photo(photo, measure_plane(photo, entry), entry)


def in_mm(x_px, y_px):
    """Where a pixel lies from the sheet's middle: a drawing in the photo's own plane, by hand."""
    return (x_px - MIDDLE_PX[0]) * 2, (MIDDLE_PX[1] - y_px) * 2


def test_places_count_from_the_side_that_was_marked():
    """The side lies 200 px, 400 mm, to the left of the sheet's middle: that is where x is 0."""
    side = (MIDDLE_PX[0] - 200, 600.0)
    survey = surveyed(side_px=side)
    assert survey.to_wall(np.array([side]))[0, 0] == pytest.approx(0, abs=0.5)
    assert survey.to_wall(np.array([MIDDLE_PX]))[0, 0] == pytest.approx(400, abs=2)
    assert survey.to_photo(np.array([[400.0, 0.0]]))[0] == pytest.approx(MIDDLE_PX, abs=1)
    assert "side-from-reference" not in {f.code for f in survey.findings}
    bare = surveyed()
    moved = survey.outline.bounds.left_mm - bare.outline.bounds.left_mm
    assert moved == pytest.approx(400, abs=2)
    assert survey.outline.bounds.width_mm == pytest.approx(bare.outline.bounds.width_mm)


@pytest.mark.parametrize("side_from_middle_px", [None, -200.0, 150.0])
def test_marked_zones_and_furniture_lie_where_they_were_marked(side_from_middle_px):
    """What is drawn in the photo stays there, whatever x is counted from; in mm it is as typed."""
    corners = ((700.0, 300.0), (740.0, 300.0), (740.0, 340.0), (700.0, 340.0))
    marks = {
        "zones": [
            {"kind": "switch", "points_px": corners},
            {"kind": "socket", "points_mm": ((10, 20), (30, 20), (30, 60), (10, 60))},
        ],
        "furniture": [{"kind": "sofa", "points_px": corners}],
    }
    shift = 0.0
    if side_from_middle_px is not None:
        marks["side_px"] = (MIDDLE_PX[0] + side_from_middle_px, 500.0)
        shift = 2 * side_from_middle_px
    survey = surveyed(**marks)
    (left, top), (right, bottom) = in_mm(*corners[0]), in_mm(*corners[2])
    for box in (survey.zones[0].polygon.bounds, survey.furniture[0].rect):
        assert (box.left_mm, box.right_mm) == pytest.approx((left - shift, right - shift), abs=3)
        assert (box.bottom_mm, box.top_mm) == pytest.approx((bottom, top), abs=3)
    box = survey.zones[1].polygon.bounds
    assert (box.left_mm, box.bottom_mm, box.right_mm, box.top_mm) == (10, 20, 30, 60)


def test_a_size_that_puts_the_wall_out_of_any_room_is_refused_in_words():
    """105 px of 1500 px focal length: 4000 mm across would be 57 m away."""
    photo = Photo(np.full((900, 1200, 3), 128, np.uint8), 1500.0, 0.02)
    size = {"kind": "custom", "width_mm": 4000, "height_mm": 5657}
    entry = MarksEntry(reference={**size, "corners_px": SHEET_PX, "as_set": True}, find_lines=False)
    with pytest.raises(MeasurementError):
        survey_photo(photo, measure_plane(photo, entry), entry)


def test_a_typed_wall_counts_from_its_lower_left_corner():
    zone = {"kind": "switch", "points_mm": ((10, 20), (30, 20), (30, 60))}
    survey = survey_typed(WallEntry(width_mm=3000, height_mm=2500), MarksEntry(zones=(zone,)))
    assert survey.outline.bounds.right_mm == 3000
    assert survey.zones[0].polygon.bounds.left_mm == 10


@pytest.mark.parametrize(
    ("entry", "seen_mm"),
    [
        (ReferenceEntry(kind="letter"), (279.4, 215.9)),
        (ReferenceEntry(kind="target"), (297, 210)),
        (ReferenceEntry(kind="target-letter"), (279.4, 215.9)),
        (ReferenceEntry(kind="marker", width_mm=120), (120, 120)),
        (ReferenceEntry(kind="custom", width_mm=300, height_mm=400), (300, 400)),
    ],
)
def test_corners_set_by_hand_are_of_what_hangs_there(entry, seen_mm):
    """Sheets lie as they are seen to; ISO 216 and ANSI Y14.1 for their sides. A printed target's
    corners are its paper's."""
    lying = np.array([(0, 0), (400, 0), (400, 300), (0, 300)], float)
    assert size_as_seen(entry, lying) == pytest.approx(seen_mm)


def test_a_marker_set_by_hand_keeps_its_side_in_its_name():
    photo = Photo(np.zeros((4, 4, 3), np.uint8), 1500.0, 0.02)
    marker = ReferenceEntry(kind="marker", width_mm=80, corners_px=SHEET_PX)
    [found] = references_of(photo, marker)
    assert found.kind == "marker 80 mm"


def test_a_find_of_typed_size_leaves_what_was_typed():
    """A find of 102 x 152 mm is what was looked for as custom; one that is Letter is not."""
    typed = ReferenceEntry(kind="custom", width_mm=102, height_mm=152)
    marker = ReferenceEntry(kind="marker", width_mm=100)
    assert taken_as(typed, "102 x 152 mm") == typed
    assert taken_as(marker, "marker 100 mm") == marker
    assert taken_as(typed, "letter") == ReferenceEntry(kind="letter")
    assert taken_as(ReferenceEntry(kind="a4"), "letter") == ReferenceEntry(kind="letter")
