"""Whatever a person marks in a photo is measured or refused in words."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.app.conftest import drawn_room, sheet_corners_px
from visualiser.errors import VisualiserError
from visualiser.photo.decoding import load_photo
from visualiser.project.document import FurnitureEntry, MarksEntry, ReferenceEntry, ZoneEntry
from visualiser.project.measuring import measure_plane, survey_photo
from visualiser.rectification.marks import DrawnLine, TapedLength

SCALE = 0.4
WIDTH_PX, HEIGHT_PX = 1600 * SCALE, 1200 * SCALE
POINTS = st.tuples(st.floats(-5, WIDTH_PX + 5), st.floats(-5, HEIGHT_PX + 5))
ENDS = st.tuples(POINTS, POINTS).filter(lambda ends: np.hypot(*np.subtract(*ends)) > 3)
OUTLINES = st.lists(POINTS, min_size=3, max_size=6).map(tuple)
LINES = st.builds(
    lambda ends, way: DrawnLine(*ends, way), ENDS, st.sampled_from(["plumb", "level"])
)
TAPES = st.builds(lambda ends, mm: TapedLength(*ends, mm), ENDS, st.floats(1, 20_000))


@st.composite
def marks(draw):
    true = (sheet_corners_px() + 0.5) * SCALE - 0.5
    off = draw(st.sampled_from([0.0, 1.0, 30.0]))
    shift = st.tuples(st.floats(-off, off), st.floats(-off, off))
    corners = tuple((float(x + dx), float(y + dy)) for x, y in true for dx, dy in [draw(shift)])
    return MarksEntry(
        reference=ReferenceEntry(corners_px=corners, as_set=draw(st.booleans())),
        lines=tuple(draw(st.lists(LINES, max_size=3))),
        find_lines=draw(st.booleans()),
        taped=tuple(draw(st.lists(TAPES, max_size=2))),
        reference_height_mm=draw(st.none() | st.floats(0, 5000)),
        floor_px=tuple(draw(st.lists(POINTS, max_size=3))),
        side_px=draw(st.none() | POINTS),
        outline_px=draw(st.none() | OUTLINES),
        zones=tuple(draw(st.lists(st.builds(ZoneEntry, points_px=OUTLINES), max_size=2))),
        furniture=tuple(draw(st.lists(st.builds(FurnitureEntry, points_px=OUTLINES), max_size=1))),
    )


@pytest.fixture(scope="module")
def photo():
    return load_photo(drawn_room(SCALE))


def survey_or_refusal(photo, entry):
    try:
        return survey_photo(photo, measure_plane(photo, entry), entry)
    except VisualiserError as error:
        return error


FIXTURE = [HealthCheck.function_scoped_fixture]


# Each is measured, which takes a second or two; other ones come up in each run.
@settings(max_examples=6, deadline=None, suppress_health_check=FIXTURE)
@given(marks())
def test_any_marks_measure_or_are_refused_in_words(photo, entry):
    check_outcome(photo, entry)


@pytest.mark.slow
@settings(max_examples=300, deadline=None, suppress_health_check=FIXTURE)
@given(marks())
def test_very_many_marks_measure_or_are_refused_in_words(photo, entry):
    check_outcome(photo, entry)


def check_outcome(photo, entry):
    outcome = survey_or_refusal(photo, entry)
    if isinstance(outcome, VisualiserError):
        assert outcome.message.strip()
        assert outcome.hint.strip()
        return
    middle = np.zeros((1, 2))
    assert np.isfinite(outcome.plane.to_photo(middle)).all()
    assert outcome.plane.half_width(middle) > 0


def test_a_plumb_line_beside_no_edge_is_measured_with(photo):
    """As the app puts it up, in the middle of the bare wall, before anyone has moved it."""
    corners = tuple(map(tuple, ((sheet_corners_px() + 0.5) * SCALE - 0.5).tolist()))
    x, y = WIDTH_PX / 2, HEIGHT_PX / 2
    line = DrawnLine((x, 0.6 * y), (x, 1.4 * y), "plumb")
    entry = MarksEntry(reference=ReferenceEntry(corners_px=corners), lines=(line,))
    assert not isinstance(survey_or_refusal(photo, entry), VisualiserError)
