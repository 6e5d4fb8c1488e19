"""Edits of the table of pieces, one cell at a time, as a browser sends them."""

import json

import pytest

from tests.app.conftest import make_typed_job, opened_page, send
from visualiser.app import jobs
from visualiser.app.row_commands import (
    EditRow,
    RemoveRow,
    Waiting,
    edit_rows,
    read_row,
    shown_rows,
)
from visualiser.errors import ProjectError
from visualiser.project.document import Document, PieceEntry

JOB = Document(pieces=tuple(PieceEntry(id=i, width_mm=300, height_mm=400) for i in "ab"))


def edited(document, waiting, *edits):
    for row, cells in edits:
        command = RemoveRow(row) if cells is None else EditRow(row, cells, "mm")
        document, waiting = edit_rows(document, command, waiting)
    return document, waiting


def test_a_new_row_becomes_a_piece_with_its_second_size_and_keeps_its_name():
    job, waiting = edited(
        JOB, Waiting(), ("new-1", {"name": "Heron"}), ("new-1", {"width": "40 cm"})
    )
    assert job.pieces == JOB.pieces
    assert shown_rows(job, "mm", waiting)[2]["row"] == "new-1"
    job, waiting = edited(job, waiting, ("new-1", {"height": "500"}), ("new-1", {"frame": "30"}))
    piece = job.pieces[2]
    assert (piece.id, piece.name, piece.width_mm, piece.height_mm) == ("p1", "Heron", 400, 500)
    assert piece.moulding.width_mm == 30
    assert [row["row"] for row in shown_rows(job, "mm", waiting)] == ["a", "b", "new-1"]


def test_another_mark_keeps_the_rows_name():
    job, waiting = edited(JOB, Waiting(), ("a", {"id": "heron"}), ("a", {"width": "310"}))
    assert [(p.id, p.width_mm) for p in job.pieces] == [("heron", 310), ("b", 300)]
    job, waiting = edited(job, waiting, ("a", {"id": "a"}))
    assert job.pieces[0].id == "a"
    assert not waiting.names


def test_what_cannot_be_waits_as_it_is_typed_and_holds_nothing_up():
    job, waiting = edited(JOB, Waiting(), ("a", {"width": "4x"}), ("b", {"name": "Kite"}))
    assert (job.pieces[0], job.pieces[1].name) == (JOB.pieces[0], "Kite")
    assert shown_rows(job, "mm", waiting)[0]["width"] == "4x"
    job, waiting = edited(job, waiting, ("a", {"width": "410"}))
    assert job.pieces[0].width_mm == 410
    assert not waiting.rows


def test_removed_rows_go_with_what_waits_in_them():
    job, waiting = edited(
        JOB, Waiting(), ("new-1", {"name": "Heron"}), ("new-1", None), ("a", None)
    )
    assert [piece.id for piece in job.pieces] == ["b"]
    assert not waiting.rows
    with pytest.raises(ProjectError, match="not in the job any more"):
        edited(job, waiting, ("a", {"width": "410"}))
    assert edited(job, waiting, ("a", None))[0] == job  # gone is gone


def test_a_row_typed_in_on_a_page_loaded_anew_meanwhile_is_not_doubled():
    whole = {"name": "Heron", "width": "40 cm", "height": "500"}
    job, _ = edited(JOB, Waiting(), ("new-1", whole))
    later = EditRow("new-1", {**whole, "frame": "30"}, "mm", was=whole)
    job, waiting = edit_rows(job, later, Waiting())
    assert [piece.id for piece in job.pieces] == ["a", "b", "p1"]
    assert job.pieces[2].moulding.width_mm == 30
    assert shown_rows(job, "mm", waiting)[2]["row"] == "new-1"
    gone, _ = edit_rows(JOB, later, Waiting())  # taken away meanwhile: it is begun again
    assert [piece.id for piece in gone.pieces] == ["a", "b", "p1"]


def test_rows_without_end_are_refused():
    begun = [(f"new-{number}", {"name": "x"}) for number in range(201)]
    job, waiting = edited(JOB, Waiting(), *begun[:200])
    with pytest.raises(ProjectError, match="not complete"):
        edited(job, waiting, begun[200])


@pytest.mark.parametrize(
    "value",
    [
        {"kind": "row"}, {"kind": "row-gone"}, {"kind": "row", "row": 3, "cells": {"name": "x"}},
        {"kind": "row", "row": "", "cells": {"name": "x"}, "unit": "mm"},
        {"kind": "row", "row": "a", "cells": {}, "unit": "mm"},
        {"kind": "row", "row": "a", "cells": {"key": "b"}, "unit": "mm"},
        {"kind": "row", "row": "a", "cells": {"name": 3}, "unit": "mm"},
        {"kind": "row", "row": "a", "cells": {"name": "x"}, "unit": "ell"},
        {"kind": "row", "row": "a" * 500, "cells": {"name": "x"}, "unit": "mm"},
    ],
)  # fmt: skip
def test_what_names_no_row_is_refused_in_words(value):
    assert read_row({"kind": "move"}) is None
    with pytest.raises(ProjectError, match="without its row"):
        read_row(value)


def table(page):
    parts = [json.loads(p.proto.json) for p in page.get("bidi_component") if p.proto.json]
    (data,) = [part for part in parts if "columns" in part]
    return {row["row"]: row["cells"] for row in data["rows"]}


def test_the_page_shows_what_is_typed_and_saves_what_is_complete(jobs_folder):
    job_id, _ = make_typed_job()
    page = opened_page(job_id, "pieces")
    page.session_state["pieces-as-table"] = True
    page.run()
    assert table(page) == {}
    send(page, job_id, 1, kind="row", row="new-1", unit="mm", cells={"name": "Heron"})
    assert table(page)["new-1"]["name"] == "Heron"
    assert any("Row 1 needs its width and height" in warning.value for warning in page.warning)
    cells = {"name": "Heron", "width": "40 cm", "height": "500"}
    send(page, job_id, 2, kind="row", row="new-1", unit="mm", cells=cells)
    (piece,) = jobs.find_job(job_id).document.pieces
    assert (piece.name, piece.width_mm, piece.height_mm) == ("Heron", 400, 500)
    assert table(page)["new-1"]["width"] == "400 mm"
    assert not page.warning
    send(page, job_id, 3, kind="undo")
    assert jobs.find_job(job_id).document.pieces == ()
    send(page, job_id, 4, kind="redo")
    send(page, job_id, 5, kind="row-gone", row="new-1")
    assert table(page) == {}
