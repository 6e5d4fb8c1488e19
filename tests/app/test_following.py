"""What has been measured stays measured: for a second visit, and for a server started anew."""

import numpy as np
import pytest
import streamlit as st

from tests.app.conftest import run_page
from visualiser.app import jobs, results, wall_canvas

OUTLINE = [[10, 10], [60, 10], [60, 60]]


@pytest.fixture
def measured(jobs_folder, room):
    """A job that somebody has looked at, and a server that knows nothing of it any more."""
    st.cache_resource.clear()
    job_id, project = room.job()
    before = results.Results(project).survey()
    st.cache_resource.clear()
    return job_id, before


def test_a_wall_measured_before_is_not_measured_again(measured, monkeypatch):
    job_id, before = measured

    def again(*_):
        raise AssertionError("the wall was measured a second time")

    monkeypatch.setattr(results, "measure_plane", again)
    monkeypatch.setattr(results, "survey_bare", again)
    now = results.Results(jobs.find_job(job_id)).survey()
    assert now.outline == before.outline
    places = np.array([[100.0, 200.0], [1400.0, 900.0]])
    assert (now.to_wall(places) == before.to_wall(places)).all()
    assert (now.covariance(places) == before.covariance(places)).all()


def test_its_pieces_are_there_at_once(measured, monkeypatch):
    """Else they would be gone from under the hand while the wall is measured."""
    job_id, _ = measured
    shown = []
    monkeypatch.setattr(wall_canvas, "mount", shown.append)
    assert not run_page(job_id, "arrange").exception
    assert len(shown[0]["pieces"]) == 3


@pytest.mark.parametrize("name", ["in_front", "painted_out", "wall_taps", "light", "zones"])
def test_what_is_only_drawn_asks_for_no_measuring(jobs_folder, room, name):
    _, project = room.job()
    marks = project.document.marks
    entries = {
        "in_front": ({"outline_px": OUTLINE},),
        "painted_out": ({"outline_px": OUTLINE},),
        "wall_taps": ({"at_px": [10, 10], "wall": True},),
        "light": {},
        "zones": ({"kind": "switch", "points_px": OUTLINE},),
    }
    changed = type(marks).model_validate({**marks.model_dump(), name: entries[name]})
    other = project.document.changed(marks=changed)
    before = results.Results(project)
    after = results.Results(type(project)(project.folder, other))
    assert after.plane_key == before.plane_key
    assert after.bare_survey_key == before.bare_survey_key
