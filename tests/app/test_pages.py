"""Every page in its empty, its normal and its error state; the browser is left to test_road."""

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from tests.app.conftest import opened_page, wall_data
from visualiser.app import jobs, steps
from visualiser.project.document import Document

KEYS = [step.key for step in steps.ALL]
ENTRY = "streamlit_app.py"


@pytest.fixture(autouse=True)
def _own_jobs(jobs_folder):
    """Each test keeps its jobs in a folder of its own."""


def opened(job_id=None, step=None):
    page = opened_page(job_id, step)
    assert "a fault in the program" not in said(page)
    return page


def view_data(page):
    return wall_data(page)


def address(page):
    job = page.query_params["job"]
    return job if isinstance(job, str) else job[0]


def said(page):
    parts = [*page.error, *page.warning, *page.info, *page.success, *page.caption, *page.markdown]
    return "\n".join(part.value for part in parts)


def test_the_first_page_offers_the_ways_to_begin():
    page = opened()
    labels = [button.label for button in page.button]
    assert "Open the sample job" in labels
    assert "Start without a photo" in labels
    assert "Jobs you start are listed here" in said(page)


def test_earlier_jobs_are_listed_and_opened(room):
    job_id, _ = room.typed_job("A *starred* [link](http://elsewhere)")
    page = opened()
    button = next(b for b in page.button if "starred" in b.label)
    assert "](" not in button.label.replace("\\]\\(", "")
    button.click().run()
    assert address(page) == job_id
    assert page.header[0].value == "Photo"


def test_starting_without_a_photo_leads_to_the_typed_wall():
    page = opened()
    page.text_input[0].set_value("Shop window").run()
    next(b for b in page.button if b.label == "Start without a photo").click().run()
    width, height = (f for f in page.text_input if "of the wall" in f.label)
    width.set_value("4 m").run()
    height = next(f for f in page.text_input if f.label == "Height of the wall")
    height.set_value("98 1/2 in").run()
    project = jobs.find_job(address(page))
    assert project.document.wall.width_mm == 4000
    assert project.document.wall.height_mm == pytest.approx(2501.9)
    assert project.document.name == "Shop window"
    assert view_data(page)["mapping"]["focal_px"] == 1.0


def test_a_length_that_cannot_be_read_is_told_and_changes_nothing(room):
    job_id, _ = room.typed_job()
    page = opened(job_id, "photo")
    next(f for f in page.text_input if f.label == "Width of the wall").set_value("wide").run()
    assert "is not a length" in said(page).replace("\\", "")
    assert jobs.find_job(job_id).document.wall.width_mm == 4000


@pytest.mark.parametrize("address", ["nothing", "../../etc", "gone-0123456789abcdef", ""])
def test_an_address_without_a_job_is_told(pytestconfig, address):
    page = AppTest.from_file(str(pytestconfig.rootpath / ENTRY), default_timeout=60)
    page.query_params["job"] = address
    page.run()
    assert not page.exception
    assert page.error


@pytest.mark.parametrize("step", KEYS)
def test_every_step_of_an_empty_job(step):
    job_id, _ = jobs.new_job("Nothing yet")
    page = opened(job_id, step)
    assert page.header[0].value == next(s.title for s in steps.ALL if s.key == step)
    assert "shown here once there is a photo" in said(page)


@pytest.mark.parametrize("step", KEYS)
def test_every_step_of_a_photographed_job(room, step):
    job_id, _ = room.job()
    page = opened(job_id, step)
    assert not page.error
    data = view_data(page)
    assert (data["width"], data["height"]) == (1600, 1200)
    if step not in ("photo", "wall"):
        assert [piece["id"] for piece in data["pieces"]] == ["p1", "p2", "p3"]
    if step in ("arrange", "mockup", "hang"):
        assert data["mock"]


@pytest.mark.parametrize("step", KEYS)
def test_every_step_of_a_typed_wall(room, step):
    job_id, _ = room.typed_job()
    page = opened(job_id, step)
    assert not page.error


@pytest.mark.parametrize("step", KEYS)
def test_every_step_when_the_photo_has_gone(room, step):
    st.cache_resource.clear()
    job_id, project = room.job()
    (project.folder / project.document.photo.path).unlink()
    page = opened(job_id, step)
    assert "is missing" in said(page)


def test_a_photo_without_a_reference_says_what_to_do(room):
    import io

    import numpy as np
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(np.full((600, 800, 3), 150, np.uint8)).save(buffer, "JPEG")
    job_id, _ = room.job(photo=buffer.getvalue(), corners=False)
    page = opened(job_id, "wall")
    assert page.error
    assert view_data(page)["pieces"] == []
    by_hand = next(t for t in page.toggle if "corners by hand" in t.label)
    by_hand.set_value(True).run()
    assert not page.exception
    # Nothing is measured from corners that no hand has placed; they are there to be dragged.
    assert jobs.find_job(job_id).document.marks.reference.corners_px is None
    assert any(shape["id"] == "reference" for shape in view_data(page)["shapes"])


def test_units_are_remembered_with_the_job(room):
    job_id, project = room.typed_job()
    project.save(project.document.changed(units="in"))
    page = opened(job_id, "photo")
    assert next(f for f in page.text_input if "Width" in f.label).value == "157 1/2 in"


def test_a_job_that_cannot_be_read_is_told(pytestconfig, room):
    job_id, project = room.typed_job()
    (project.folder / "project.json").write_text('{"schema_version": 99}')
    page = AppTest.from_file(str(pytestconfig.rootpath / ENTRY), default_timeout=60)
    page.query_params["job"] = job_id
    page.run()
    assert "newer release" in said(page)


def test_names_of_people_stay_text():
    job_id, _ = jobs.new_job("x", Document())
    project = jobs.find_job(job_id)
    project.save(project.document.changed(name="<img src=x onerror=alert(1)>"))
    page = opened(job_id, "photo")
    html = "".join(part.proto.body for part in page.get("html"))
    assert "<img" not in html
    assert "&lt;img" in html


@pytest.mark.parametrize(("unit", "least"), [("mm", "± 1 mm"), ("in", "± 1/16 in")])
def test_no_measurement_is_shown_as_certain(room, unit, least):
    job_id, project = room.job()
    project.save(project.document.changed(units=unit))
    page = opened(job_id, "wall")
    values = [metric.value for metric in page.metric]
    assert len(values) == 3
    assert values[0] == least  # the sheet itself is known to a fraction of a step
    assert not any(value.startswith("± 0 ") for value in values)
