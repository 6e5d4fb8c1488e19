"""Paper calls a piece what the person calls it, with its mark to find lists and templates by."""

import re
from dataclasses import replace

import numpy as np
import pytest

from visualiser.as_hung.judge import Tolerances
from visualiser.as_hung.report import AsHungReport, Gap, PieceDeviation
from visualiser.errors import VisualiserError
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory.piece import Hanger
from visualiser.printing.approval import ApprovalOption, ApprovalSheet, approval_pdf
from visualiser.printing.as_hung_page import as_hung_pdf
from visualiser.printing.hanging_plan import plan_pdf
from visualiser.printing.templates import templates_pdf

LONG = "The long quay in fog, seen from the harbour master's window"
NAMES = {"heron": "Heron at dusk", "tide": LONG}


def words(document):
    return [
        re.sub(r"\s+", " ", page.get_textpage().get_text_range().replace("\r\n", " "))
        for page in document
    ]


@pytest.fixture
def named(group):
    """Two of five pieces with titles of their own; the others called by their ids."""
    ids = [piece.id for piece in group.pieces][:2]
    titles = dict(zip(ids, NAMES.values(), strict=True))
    pieces = tuple(replace(p, name=titles.get(p.id, ""), weight_kg=None) for p in group.pieces)
    return replace(group, pieces=pieces), ids


def test_the_plan_and_its_templates_say_title_and_mark(named, room, open_pdf):
    arrangement, (first, second) = named
    plan = plan_hanging(arrangement, room, "plasterboard")
    pages = words(open_pdf(plan_pdf(plan)))
    hooks = next(text for text in pages if "order of hanging" in text)
    loads = next(text for text in pages if "Each fixing is chosen" in text)
    for text in (hooks, loads):
        assert "Heron at dusk" in text
    assert f"mark {first}" in loads
    assert f"mark {second}" in loads
    number = next(p.number for p in plan.pieces if p.piece.id == first)
    estimated = next(f.text for f in plan.findings if "estimated" in f.text)
    assert f"{number} · Heron at dusk" in estimated
    assert not re.search(rf"\b{first}\b", estimated)
    sheets = words(open_pdf(templates_pdf(plan, piece_ids=[first])))
    assert all(f"{number} · Heron at dusk ({first}) · sheet" in text for text in sheets)


def test_a_long_title_leaves_room_for_the_rest(named, room, open_pdf):
    arrangement, (_, second) = named
    plan = plan_hanging(arrangement, room, "plasterboard")
    for document in (plan_pdf(plan), templates_pdf(plan, piece_ids=[second], kind="hooks")):
        text = " ".join(words(open_pdf(document)))
        assert "The long quay in fog" in text
        assert "harbour master's" not in text


def test_the_approval_sheet_lists_titles_under_their_marks(named, room, open_pdf):
    arrangement, (first, _) = named
    pages = words(open_pdf(approval_pdf(ApprovalSheet(room, (ApprovalOption(arrangement),)))))
    assert f"{first} Heron at dusk" in pages[-1]


def test_the_as_hung_page_calls_pieces_by_their_titles(open_pdf):
    square = np.array([[10.0, 10], [90, 10], [90, 90], [10, 90]])
    shown = {"outline_px": square, "planned_px": square}
    report = AsHungReport(
        (
            PieceDeviation("p1", "right", "", 0.0, 0.0, 0.0, 1.0, 1.0, 0.1, "p1", **shown),
            PieceDeviation("p2", "swapped", "", 0.0, 0.0, 0.0, 1.0, 1.0, 0.1, "p1", **shown),
        ),
        (),
        (Gap("p1", "p2", "across", 50.0, 52.0, 1.0),),
        Tolerances(),
        names={"p1": "Heron at dusk", "p2": "Tide"},
    )
    text = words(open_pdf(as_hung_pdf(report, np.zeros((100, 100, 3), np.uint8))))[-1]
    assert "Heron at dusk mark p1 right" in text
    assert "here hangs Heron at dusk" in text
    assert "Heron at dusk and Tide" in text


def test_what_cannot_be_hung_is_called_by_its_title(named, room):
    arrangement, (first, _) = named
    hanger = Hanger("d-rings", 90, 9000)
    pieces = tuple(replace(p, hanger=hanger) if p.id == first else p for p in arrangement.pieces)
    with pytest.raises(VisualiserError, match="Heron at dusk"):
        plan_hanging(replace(arrangement, pieces=pieces), room)
