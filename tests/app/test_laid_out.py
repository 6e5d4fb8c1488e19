"""Pieces and an option from one photo of them laid out, confirmed on the page."""

import hashlib

import numpy as np
import pytest

import visualiser as vis
from tests.app.conftest import labelled_button, make_job, opened_page, wall_data
from tests.laid_out.test_box import plane_from_above
from visualiser.app import jobs
from visualiser.app.laying import LaidPhoto
from visualiser.laid_out.layout import LaidPiece, Layout


def laid(number, x, width):
    art = vis.Artwork(np.full((30, 20, 3), 40 * number, np.uint8))
    corners = 100.0 * number + np.array([[0, 0], [60, 0], [60, 80], [0, 80]])
    return LaidPiece(
        f"p{number}", width, 400, 22.0, x, 200, 0.0, np.eye(6), corners,
        rail_mm=18.0, mat_mm=(30.0, 30.0, 30.0, 30.0), artwork=art,
    )  # fmt: skip


@pytest.fixture
def page_with_layout(jobs_folder, room):
    """The step Pieces after a photo with three pieces in a row, 70 mm apart, has been read."""
    job_id, _ = make_job()
    page = opened_page(job_id, "pieces")
    layout = Layout((laid(1, 150, 300), laid(2, 520, 300), laid(3, 890, 300)), plane_from_above())
    data = room.photo()
    digest = hashlib.sha256(data).hexdigest()
    page.session_state["laid-out-photo"] = (digest, data)
    page.session_state["laid-out-found"] = (
        f"{digest}|a4|floor",
        LaidPhoto(layout, data, 1600, 1200),
    )
    return job_id, page.run()


def test_what_was_found_is_outlined_and_comes_into_the_job_as_one_step(page_with_layout):
    job_id, page = page_with_layout
    assert not page.exception
    shown = wall_data(page)
    assert [contour["text"] for contour in shown["contours"]] == ["1", "2", "3"]
    assert (shown["width"], shown["pieces"]) == (1600, [])
    before = jobs.find_job(job_id).document
    labelled_button(page, "Add these 3, hung as they lie").click().run()
    assert not page.exception
    document = jobs.find_job(job_id).document
    assert [p.width_mm for p in document.pieces[len(before.pieces) :]] == [300, 300, 300]
    assert all(p.artwork is not None for p in document.pieces)
    (option,) = document.options[len(before.options) :]
    xs = sorted(p.x_mm for p in option.placements)
    assert np.diff(xs) == pytest.approx([370, 370])  # as they lay
    assert wall_data(page)["contours"] == []  # the wall is back
    page.session_state["work"].undo()
    undone = jobs.find_job(job_id).document
    assert (undone.pieces, undone.options) == (before.pieces, before.options)


def test_a_photo_put_away_leaves_the_job_alone(page_with_layout):
    job_id, page = page_with_layout
    before = jobs.find_job(job_id).document
    labelled_button(page, "Put the photo away").click().run()
    assert not page.exception
    assert wall_data(page)["contours"] == []
    assert jobs.find_job(job_id).document == before
