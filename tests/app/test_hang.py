"""The step Hang: nothing is named for a wall that nobody named, and a danger has to be answered."""

import json
import re

import pytest

from tests.app.conftest import make_typed_job, opened_page
from visualiser.app import jobs
from visualiser.arrangement.arrangement import Placement
from visualiser.inventory.piece import Hanger
from visualiser.project.document import OptionEntry, PieceEntry


@pytest.fixture(autouse=True)
def _own_jobs(jobs_folder):
    pass


def said(page):
    parts = [*page.markdown, *page.caption, *page.error, *page.warning, *page.info]
    text = " ".join(re.sub(r"\\(.)", r"\1", str(part.value)) for part in parts)
    parts = (part.proto.json for part in page.get("bidi_component"))
    return text + " ".join(
        json.loads(part)["pieces"].__repr__() for part in parts if '"held"' in part
    )


def labelled(fields, label):
    return next(field for field in fields if field.label == label)


def job_at(x_mm):
    """A wall of 4 m with one weighed piece of 500 mm, its middle at a place."""
    job_id, project = make_typed_job()
    hanger = Hanger("d-rings", 90, 300)
    piece = PieceEntry(id="p1", width_mm=500, height_mm=700, hanger=hanger, weight_kg=3)
    option = OptionEntry(id="a", placements=(Placement("p1", x_mm, 1524.0),))
    project.save(project.document.changed(pieces=(piece,), options=(option,), chosen="a"))
    return job_id


def test_no_fixing_until_the_wall_is_named():
    job_id = job_at(2000.0)
    page = opened_page(job_id, "hang")
    assert "Nobody has said what the wall is built of" in said(page)
    assert "no fixing named" in said(page)
    labelled(page.button_group, "What is the wall built of?").set_value("brick").run()
    assert not page.exception
    assert "Nobody has said" not in said(page)
    assert "hard-wall hook with steel pins" in said(page)
    assert jobs.find_job(job_id).document.wall.kind == "brick"
    assert not [field for field in page.text_input if field.label.startswith("Studs")]


def test_studs_are_typed_and_kept():
    job_id = job_at(2000.0)
    page = opened_page(job_id, "hang")
    labelled(page.button_group, "What is the wall built of?").set_value("plasterboard").run()
    labelled(page.text_input, "Studs found, from the side").set_value("400 mm; 0.8 m").run()
    labelled(page.text_input, "Between their middles").set_value("16 in").run()
    assert not page.exception
    marks = jobs.find_job(job_id).document.marks
    assert marks.studs_mm == (400.0, 800.0)
    assert marks.stud_spacing_mm == pytest.approx(406.4)
    labelled(page.text_input, "Studs found, from the side").set_value("behind it").run()
    assert "is not a length" in said(page)
    assert jobs.find_job(job_id).document.marks.studs_mm == (400.0, 800.0)


def test_what_a_packet_states_is_typed_and_kept():
    """3 kg on two D-rings: a nail hook rated 1 kg and divided by 4 carries none of it."""
    job_id = job_at(2000.0)
    page = opened_page(job_id, "hang")
    labelled(page.button_group, "What is the wall built of?").set_value("plasterboard").run()
    assert "nail hook" in said(page)
    labelled(page.number_input, "nail hook, kg").set_value(1.0).run()
    assert not page.exception
    assert jobs.find_job(job_id).document.wall.ratings_kg == {"nail hook": 1.0}
    assert "curved wire hook" in said(page)
    labelled(page.number_input, "nail hook, kg").set_value(0.0).run()
    assert jobs.find_job(job_id).document.wall.ratings_kg == {}


def test_a_dangerous_place_shows_no_plan_until_it_is_answered_for():
    """The frame's left end is at −50 mm, past the wall's end."""
    job_id = job_at(200.0)
    page = opened_page(job_id, "hang")
    assert "reaches past the usable wall by 50 mm" in said(page)
    assert not [button for button in page.button if "measured plan" in button.label]
    answer = labelled(page.text_input, "Why it may hang there all the same")
    answer.set_value("The wall goes on behind the curtain.").run()
    assert not page.exception
    assert "Printed on the papers" in said(page)
    assert "'hooks': [{" in said(page)
    kept = jobs.find_job(job_id).document.option("a").answer
    assert kept.words == "The wall goes on behind the curtain."


def test_how_steep_a_wire_runs_is_asked_for_typed_and_kept():
    """A wire of unknown slope is a caution until it is measured: 200 mm across and 240 up, 50°."""
    job_id, project = make_typed_job()
    piece = PieceEntry(
        id="p1", width_mm=500, height_mm=700, hanger=Hanger("wire", 60, 400), weight_kg=3
    )
    option = OptionEntry(id="a", placements=(Placement("p1", 2000.0, 1524.0),))
    wall = project.document.wall.model_copy(update={"kind": "brick"})
    project.save(
        project.document.changed(pieces=(piece,), options=(option,), chosen="a", wall=wall)
    )
    assert "How steep its wire runs has not been measured" in said(opened_page(job_id, "hang"))
    page = opened_page(job_id, "pieces")
    labelled(page.text_input, "Drop to the wire's fixing points").set_value("300 mm").run()
    assert not page.exception
    (kept,) = jobs.find_job(job_id).document.pieces
    assert kept.hanger.attachment_drop_mm == 300.0
    assert "How steep its wire" not in said(opened_page(job_id, "hang"))


def test_a_mirror_and_its_glass_are_kept():
    job_id = job_at(2000.0)
    page = opened_page(job_id, "pieces")
    labelled(page.selectbox, "It is a").set_value("mirror").run()
    labelled(page.text_input, "Thickness of its glass").set_value("4 mm").run()
    labelled(page.selectbox, "Hangs by").set_value("cleat").run()
    assert not page.exception
    (piece,) = jobs.find_job(job_id).document.pieces
    assert (piece.kind, piece.glazing_mm, piece.hanger.kind) == ("mirror", 4.0, "cleat")
