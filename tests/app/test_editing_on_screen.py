"""What the panels do to the job, driven as a person would; the browser is left to test_road."""

import io
import json
import re

import pytest
import streamlit as st
from PIL import Image

from tests.app.conftest import opened_page, send, ticking_words, wall_data
from visualiser.app import jobs


@pytest.fixture(autouse=True)
def _own_jobs(jobs_folder):
    """Each test keeps its jobs in a folder of its own."""


@pytest.fixture
def opened():
    return opened_page


def labelled(widgets, label):
    return next(w for w in widgets if w.label == label)


def places(job_id):
    return {
        p.piece_id: (p.x_mm, p.y_mm) for p in jobs.find_job(job_id).document.option().placements
    }


def view_data(page):
    return wall_data(page)


def test_gaps_are_evened_out_and_kept_pieces_stay(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "arrange")
    everything = ["p1", "p2", "p3"]
    send(page, job_id, 1, kind="edit", option="a", pieces=everything, how="even across")
    after = places(job_id)
    # Widths 400, 500 and 300: clear gaps left and right of the middle one are equal.
    left = after["p2"][0] - 250 - (after["p1"][0] + 200)
    right = after["p3"][0] - 150 - (after["p2"][0] + 250)
    assert left == pytest.approx(right)
    assert (after["p1"], after["p3"]) == (room.places[0], room.places[2])

    send(page, job_id, 2, kind="lock", option="a", piece="p2", kept=True)
    assert view_data(page)["kept"] == ["p2"]
    send(page, job_id, 3, kind="edit", option="a", pieces=["p1", "p3"], how="mirror")
    assert places(job_id)["p2"] == after["p2"]
    assert places(job_id)["p1"] == pytest.approx((room.places[2][0] - 50, 1500))
    send(page, job_id, 4, kind="edit", option="a", pieces=["p2", "p3"], how="swap")
    assert any("is kept where it is" in part.value for part in page.error)  # refused aloud
    send(page, job_id, 5, kind="undo")
    assert places(job_id) == after


def test_two_pieces_exchange_their_places(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "arrange")
    send(page, job_id, 1, kind="edit", option="a", pieces=["p1", "p2", "p3"], how="swap")
    assert any("Choose exactly two" in part.value for part in page.error)
    send(page, job_id, 2, kind="edit", option="a", pieces=["p1", "p3"], how="swap")
    # They change places, and unlike sizes close up again: level, and the other way round.
    after = places(job_id)
    assert after["p3"][0] < after["p2"][0] < after["p1"][0]
    assert after["p1"][1] == room.places[2][1]


def test_another_size_keeps_the_middle_of_the_group(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "arrange")
    labelled(page.text_input, "Its outside width").set_value("460 mm").run()
    labelled(page.button, "Use this size").click().run()
    assert jobs.find_job(job_id).document.pieces[0].width_mm == 460
    # 60 mm wider, the group keeps its gaps and its middle: 30 mm further out on each side.
    assert places(job_id)["p1"][0] - 230 == pytest.approx(room.places[0][0] - 200 - 30)


def test_light_outlines_and_fits_are_saved_with_the_job(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "mockup")
    before = view_data(page)["mock"]
    labelled(page.selectbox, "Light in the room").set_value("evening").run()
    assert jobs.find_job(job_id).document.option().room_light == "evening"
    assert view_data(page)["mock"] != before
    labelled(page.selectbox, "The main light comes from").set_value("left").run()
    assert jobs.find_job(job_id).document.marks.light.side == "left"
    labelled(page.toggle, "Things in front of the wall, and things to paint out").set_value(
        True
    ).run()
    labelled(page.button, "Something in front").click().run()
    labelled(page.button, "Paint something out").click().run()
    marks = jobs.find_job(job_id).document.marks
    assert (len(marks.in_front), len(marks.painted_out)) == (1, 1)
    data = view_data(page)
    assert [shape["id"] for shape in data["shapes"]] == ["front-0", "gone-0"]
    assert data["still"]
    labelled(page.selectbox, "Picture of Kite").set_value("whole").run()
    assert jobs.find_job(job_id).document.pieces[2].artwork_fit == "whole"
    assert not page.error


def test_proposals_are_looked_for_beside_the_page_and_can_be_stopped(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "arrange")
    labelled(page.button, "Propose").click().run()
    child = page.session_state["under-way-proposing"][1]
    assert ticking_words(page) == ["Trying arrangements"]
    labelled(page.button, "Stop").click().run()
    assert child.done
    assert "under-way-proposing" not in page.session_state
    labelled(page.button, "Propose").click().run()
    page.session_state["under-way-proposing"][1].process.wait(60)
    page.run()
    assert not page.exception
    (first, *_) = view_data(page)["proposals"]
    taken = [{name: item[name] for name in ("id", "x", "y")} for item in first["items"]]
    send(page, job_id, 1, kind="take", name=first["name"], family=first["family"], places=taken)
    document = jobs.find_job(job_id).document
    assert [option.id for option in document.options] == ["a", "b"]
    assert document.chosen == "b"
    assert places(job_id) == {item["id"]: (item["x"], item["y"]) for item in first["items"]}


def test_the_whole_picture_is_drawn_beside_the_page_and_can_be_stopped(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "mockup")
    labelled(page.button, "Make the picture of option A").click().run()
    child = page.session_state["under-way-picture"][1]
    assert ticking_words(page) == ["Making the picture of option A"]
    labelled(page.button, "Stop").click().run()
    assert child.done
    assert not page.error
    labelled(page.button, "Make the picture of option A").click().run()
    page.session_state["under-way-picture"][1].process.wait(120)
    page.run()
    assert not page.exception
    picture = page.session_state["made-picture"][1]
    assert Image.open(io.BytesIO(picture)).size == (1600, 1200)


def test_the_approval_sheet_is_made_beside_the_page(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "approve")
    labelled(page.button, "Make the approval sheet").click().run()
    page.session_state["under-way-approval"][1].process.wait(120)
    page.run()
    assert not page.exception
    assert page.session_state["made-approval"][1].startswith(b"%PDF")
    # A run that the next one overtakes may not reach the browser: what saves it stays, unchanged.
    (saving,) = told_to_save(page)
    assert saving["spot"] == "approval"
    assert told_to_save(page.run()) == [saving]


def told_to_save(page):
    told = [json.loads(p.proto.json) for p in page.get("bidi_component") if p.proto.json]
    return [data for data in told if "asked_us" in data]


def test_the_group_is_shown_close_up_in_the_walls_place(opened, room):
    job_id, _ = room.job()
    page = opened(job_id, "mockup")
    whole = view_data(page)
    labelled(page.toggle, "Show the group close up").set_value(True).run()
    labelled(page.button, "Stop").click().run()
    assert not any("Drawing" in part.value for part in page.markdown)  # nor begun again by itself
    labelled(page.button, "Draw it after all").click().run()
    page.session_state["under-way-close-up"][1].process.wait(120)
    page.run()
    assert not page.exception
    close = view_data(page)
    assert close["base"] != whole["base"]
    assert close["width"] < whole["width"]
    assert close["mapping"] is None
    labelled(page.toggle, "Show the group close up").set_value(False).run()
    assert view_data(page)["base"] == whole["base"]


def test_what_is_likely_to_need_room_is_kept_clear_once_accepted(opened, room, monkeypatch):
    from visualiser.app.steps import likely
    from visualiser.geometry import Polygon, Rect
    from visualiser.survey.suggestions import Suggestion
    from visualiser.survey.survey import Zone

    def plate(kind, x_mm):
        return Suggestion(
            Zone(kind, Polygon.from_rect(Rect(x_mm, 1000, 80, 80))), 0.8, "A plain plate."
        )

    seen = (plate("switch", 200), plate("socket", 600), plate("thermostat", 900))
    monkeypatch.setattr(likely, "suggest_zones", lambda *_: seen)
    st.cache_resource.clear()  # what other tests' pages have found in the same photo
    st.cache_data.clear()
    job_id, _ = room.job()
    page = opened(job_id, "wall")
    before = jobs.find_job(job_id).document.marks.zones
    labelled(
        page.toggle, "Look for switches, sockets, radiators, windows, doors and furniture"
    ).set_value(True).run()
    offered = [b.label for b in page.button if re.fullmatch(r"\d+ is right", b.label)]
    outlined = [s for s in view_data(page)["shapes"] if s["kind"] == "likely"]
    assert offered
    assert [f"{s['label'].partition(':')[0]} is right" for s in outlined] == offered
    assert jobs.find_job(job_id).document.marks.zones == before
    labelled(page.button, "1 is right").click().run()
    (added,) = jobs.find_job(job_id).document.marks.zones[len(before) :]
    assert added.kind == "switch"
    assert len(added.points_px) == 4
    labelled(page.button, "All 2 are right").click().run()
    marked = jobs.find_job(job_id).document.marks.zones[len(before) :]
    assert [zone.kind for zone in marked] == ["switch", "socket", "thermostat"]
