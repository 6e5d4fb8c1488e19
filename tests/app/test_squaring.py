"""An artwork photographed at an angle is cut out along the corners that were drawn."""

import io

import cv2
import numpy as np
import pytest
import streamlit as st
from PIL import Image
from streamlit.testing.v1 import AppTest

from tests.app.conftest import wall_data
from visualiser.app import dispatch, jobs
from visualiser.project.contents import artwork_from

CORNERS = np.array([[210.0, 150.0], [905.0, 232.0], [880.0, 770.0], [182.0, 838.0]])


def slanted_picture():
    """A bright, banded sheet on a dark table, seen from the side."""
    rng = np.random.default_rng(3)
    flat = np.repeat(rng.integers(120, 250, (8, 1, 3), np.uint8).repeat(50, 0), 500, 1)
    box = np.array([[0, 0], [500, 0], [500, 400], [0, 400]], np.float32) - 0.5
    to_photo = cv2.getPerspectiveTransform(box, CORNERS.astype(np.float32))
    photo = np.full((960, 1100, 3), (46, 42, 40), np.uint8)
    cv2.warpPerspective(flat, to_photo, (1100, 960), photo, borderMode=cv2.BORDER_TRANSPARENT)
    buffer = io.BytesIO()
    Image.fromarray(cv2.GaussianBlur(photo, (0, 0), 0.8)).save(buffer, "PNG")
    return buffer.getvalue()


@pytest.fixture
def page(pytestconfig, jobs_folder, room):
    job_id, project = room.job()
    kept = project.add_file("artworks", "slanted.png", slanted_picture(), ".png")
    first, *rest = project.document.pieces
    pieces = (first.model_copy(update={"artwork": kept}), *rest)
    project.save(project.document.changed(pieces=pieces))
    page = AppTest.from_file(str(pytestconfig.rootpath / "streamlit_app.py"), default_timeout=120)
    page.query_params["job"] = job_id
    page.query_params["step"] = "pieces"
    page.run()
    assert not page.exception
    return page


def press(page, label):
    next(b for b in page.button if b.label == label).click().run()
    assert not page.exception
    assert not page.error


def view_data(page):
    return wall_data(page)


def project_of(page):
    job = page.query_params["job"]
    return jobs.find_job(job if isinstance(job, str) else job[0])


def piece(page):
    return project_of(page).document.pieces[0]


def test_the_picture_is_found_shown_and_cut_out(page):
    press(page, "Square up this picture")
    data = view_data(page)
    assert (data["width"], data["height"]) == (1100, 960)
    (shape,) = data["shapes"]
    np.testing.assert_allclose(shape["points"], CORNERS, atol=1.5)
    page.checkbox[0].check().run()
    press(page, "Use it squared up")
    project = project_of(page)
    cut = artwork_from(piece(page).artwork, "cut", project.read_file)
    width, height = piece(page).piece().window_mm
    assert cut.aspect == pytest.approx(width / height, rel=0.01)
    # Nothing of the dark table is left but at the very rim.
    assert cut.pixels[4:-4, 4:-4].min() > 90
    assert "pieces" in view_data(page)
    assert view_data(page)["mapping"] is not None


def test_corners_dragged_in_the_view_are_used_and_leaving_changes_nothing(page):
    before = piece(page).artwork
    press(page, "Square up this picture")
    moved = [[300.0, 250.0], [800.0, 250.0], [800.0, 700.0], [300.0, 700.0]]
    page.session_state[dispatch.SQUARED_SHAPE] = tuple(map(tuple, moved))
    page.run()
    assert view_data(page)["shapes"][0]["points"] == moved
    press(page, "Leave it as it is")
    assert piece(page).artwork == before
    assert view_data(page)["mapping"] is not None
    st.cache_resource.clear()
