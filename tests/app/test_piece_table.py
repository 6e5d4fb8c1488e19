import math

import pytest

from visualiser.app.piece_table import TableChange, rows_of, table_change
from visualiser.app.steps.pieces import title_of
from visualiser.arrangement.arrangement import Placement
from visualiser.inventory.piece import Mat, Moulding
from visualiser.project.document import Document, FileEntry, OptionEntry, PieceEntry


@pytest.fixture
def job():
    pieces = (
        PieceEntry(
            id="a",
            width_mm=619.4,
            height_mm=700,
            moulding=Moulding(20, 31, "walnut"),
            mat=Mat(40, 40, 60),
            artwork=FileEntry(path="artworks/heron.png"),
        ),
        PieceEntry(id="b", width_mm=300, height_mm=400),
    )
    places = (Placement("a", 500, 1500), Placement("b", 1000, 1500))
    return Document(pieces=pieces, options=(OptionEntry(id="o", placements=places),))


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
def test_a_table_nobody_touched_changes_nothing(job, unit):
    """What is printed is rounded; reading it back must not round the piece."""
    outcome = table_change(job, rows_of(job, unit), unit)
    assert outcome == TableChange(job)


def test_sizes_are_read_as_the_trade_writes_them(job):
    rows = rows_of(job, "in")
    rows[0] |= {"width": "24 3/8", "height": "61.9 cm"}
    changed = table_change(job, rows, "in").document
    assert (changed.pieces[0].width_mm, changed.pieces[0].height_mm) == (619.125, 619.0)
    assert changed.pieces[0].artwork == job.pieces[0].artwork
    assert changed.pieces[0].mat == Mat(40, 40, 60)


def test_another_id_keeps_the_piece_and_its_places(job):
    rows = rows_of(job, "mm")
    rows[0]["id"] = "heron"
    changed = table_change(job, rows, "mm").document
    assert changed.pieces[0].moulding == job.pieces[0].moulding
    assert changed.option().placements[0] == Placement("heron", 500, 1500)


def test_a_removed_row_takes_its_places_with_it(job):
    changed = table_change(job, rows_of(job, "mm")[1:], "mm").document
    assert [p.id for p in changed.pieces] == ["b"]
    assert changed.option().placements == (Placement("b", 1000, 1500),)


def test_a_new_row_becomes_a_piece_once_it_has_both_sizes(job):
    row = dict.fromkeys(rows_of(job, "mm")[0])
    half = table_change(job, [*rows_of(job, "mm"), row | {"width": "500"}], "mm")
    assert half.document == job
    assert half.problems == ("Row 3 needs its width and height.",)
    assert rows_of(job, "mm", half.waiting)[2]["width"] == "500"
    full = row | {"width": "500", "height": "700", "weight": math.nan}
    outcome = table_change(job, [*rows_of(job, "mm"), full], "mm")
    piece = outcome.document.pieces[2]
    assert (piece.id, piece.width_mm) == ("p1", 500)
    assert not outcome.problems


def test_a_size_wiped_out_is_waited_for_and_not_lost(job):
    rows = rows_of(job, "mm")
    rows[0]["width"] = ""
    outcome = table_change(job, rows, "mm")
    assert outcome.document == job
    assert outcome.problems
    assert rows_of(job, "mm", outcome.waiting) == rows


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ({"width": "wide"}, "Row 1, Width: "),
        ({"width": "30"}, "Row 1, "),
        ({"mat": "400"}, "Row 1, "),
        ({"id": "b"}, "Row 1, Mark: b is another piece's. "),
        ({"name": "x\u202ey"}, "Row 1, a cannot be as typed. "),
    ],
)
def test_a_row_that_cannot_be_is_told_and_holds_no_other_up(job, cell, said):
    rows = rows_of(job, "mm")
    rows[0] |= cell
    rows[1]["name"] = "Kite"
    fresh = dict.fromkeys(rows[0]) | {"width": "500", "height": "700"}
    outcome = table_change(job, [*rows, fresh], "mm")
    kept, named, new = outcome.document.pieces
    assert kept == job.pieces[0]
    assert (named.name, new.width_mm) == ("Kite", 500)
    assert [p.startswith(said) for p in outcome.problems] == [True]
    assert rows_of(outcome.document, "mm", outcome.waiting)[0] == rows[0]  # as typed, to mend
    assert outcome.document.option().placements == job.option().placements


def test_two_marks_are_exchanged_in_one_go(job):
    rows = rows_of(job, "mm")
    rows[0]["id"], rows[1]["id"] = "b", "a"
    changed = table_change(job, rows, "mm").document
    assert [(p.id, p.width_mm) for p in changed.pieces] == [("b", 619.4), ("a", 300)]
    assert changed.option().placements[0] == Placement("b", 500, 1500)


def test_weights_are_in_pounds_where_lengths_are_in_inches():
    """One pound is 0.45359237 kg (NIST SP 811, B.8)."""
    piece = PieceEntry(id="a", width_mm=300, height_mm=400, weight_kg=3.0)
    document = Document(pieces=(piece,), units="in")
    rows = rows_of(document, "in")
    assert rows[0]["weight"] == 6.61
    assert table_change(document, rows, "in").document == document  # nothing typed, nothing changed
    rows[0]["weight"] = 10.0
    changed = table_change(document, rows, "in").document
    assert changed.pieces[0].weight_kg == pytest.approx(4.5359237)


@pytest.mark.parametrize(
    ("file_name", "title"),
    [
        ("alder-twig.jpg", "Alder twig"),
        ("night_water  2.HEIC", "Night water 2"),
        ("IMG_0231.png", "IMG 0231"),
        ("étude.tif", "Étude"),
        (".png", ".png"),
    ],
)
def test_a_dropped_picture_is_titled_by_its_files_words(file_name, title):
    assert title_of(file_name) == title
