"""What to nudge, drawn into the photo: the way back to the plan, longer than true."""

import numpy as np
import pytest

from visualiser.app.steps.nudges import EXAGGERATED, nudge_in_words, nudges_in_photo
from visualiser.as_hung.judge import Tolerances
from visualiser.as_hung.report import AsHungReport, PieceDeviation

PLANNED = np.array([[100, 100], [300, 100], [300, 250], [100, 250]], float)


def hung(dx_mm, dy_mm, tilt_deg=0.0, verdict="nudge"):
    """A piece in a photo of 1 px to the mm, where y goes down."""
    return PieceDeviation(
        "p1", verdict, "", dx_mm, dy_mm, tilt_deg,
        seen_id="p1", outline_px=PLANNED + (dx_mm, -dy_mm), planned_px=PLANNED,
    )  # fmt: skip


def marks(piece):
    report = AsHungReport((piece,), (), (), Tolerances(), names={"p1": "Heron"})
    return nudges_in_photo(report, "mm", 1600)


def test_an_arrow_leads_back_to_the_plan():
    """Hung 12 mm right and 5 mm high: it goes left and down, and in a photo down is more."""
    planned, outline, arrow = marks(hung(12.0, 5.0))
    assert planned["points"][0] == [100, 100]
    assert outline["points"][0] == [112, 95]  # in its true place
    way = np.subtract(arrow["points"][1], arrow["points"][0])
    assert way == pytest.approx([-12 * EXAGGERATED, 5 * EXAGGERATED])
    assert arrow["text"] == "12 mm left, 5 mm down"


def test_a_turn_is_said_by_the_right_end():
    """Turned counter-clockwise as seen, a piece's right end is the higher one."""
    assert nudge_in_words(hung(0.0, 0.0, 1.2), Tolerances(), "mm") == "right end down 1.2°"
    assert len(marks(hung(0.0, 0.0, 1.2))[-1]["points"]) == 1  # no way to point along


@pytest.mark.parametrize(("verdict", "words"), [("right", 2), ("unsure", 2), ("nudge", 3)])
def test_only_what_wants_a_nudge_has_an_arrow(verdict, words):
    assert len(marks(hung(3.0, 0.0, verdict=verdict))) == words


def test_a_piece_that_is_not_found_is_named_where_it_should_be():
    (mark,) = marks(PieceDeviation("p1", "not found", "", planned_px=PLANNED))
    assert (mark["text"], mark["at"]) == ("Heron: not found", [200, 175])
