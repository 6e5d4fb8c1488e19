"""What a page says where something is still missing, and the way on that it offers."""

import pytest

from tests.app.conftest import labelled_button, opened_page
from visualiser.app import jobs
from visualiser.app.paper import usual_paper
from visualiser.app.state import Work
from visualiser.app.steps.check import _deviations
from visualiser.as_hung.report import PieceDeviation


@pytest.mark.parametrize(
    ("step", "missing", "button", "title"),
    [
        ("wall", "Nothing is known of the wall yet", "Go to Photo", "Photo"),
        ("colours", "No piece has a picture yet", "Go to Pieces", "Pieces"),
        ("arrange", "nothing to hang yet", "Go to Pieces", "Pieces"),
        ("mockup", "no arrangement yet", "Go to Arrange", "Arrange"),
        ("approve", "no arrangement to approve", "Go to Arrange", "Arrange"),
        ("hang", "no arrangement yet", "Go to Arrange", "Arrange"),
        ("check", "no arrangement to check against", "Go to Arrange", "Arrange"),
    ],
)
def test_an_empty_step_leads_to_where_it_is_filled(jobs_folder, step, missing, button, title):
    job_id, _ = jobs.new_job("Empty")
    page = opened_page(job_id, step)
    assert any(missing in part.value for part in page.info)
    assert not page.error
    labelled_button(page, button).click().run()
    assert not page.exception
    assert page.header[0].value == title


@pytest.mark.parametrize(
    ("kind", "unit", "paper"),
    [
        ("a4", "mm", "a4"),
        ("a4", "in", "a4"),  # that sheet is at hand
        ("letter", "cm", "letter"),
        ("target-letter", "in", "letter"),
        ("card", "in", "letter"),
        ("card", "mm", "a4"),
        ("marker", "in", "letter"),
        ("legal", "mm", "letter"),
        ("target", "in", "a4"),
    ],
)
def test_paper_is_what_is_likely_at_hand(jobs_folder, room, kind, unit, paper):
    job_id, project = room.job()
    marks = project.document.marks
    reference = marks.reference.model_copy(update={"kind": kind, "width_mm": 100.0})
    marks = marks.model_copy(update={"reference": reference})
    project = project.save(project.document.changed(marks=marks, units=unit))
    assert usual_paper(Work.opened(job_id, project)) == paper


def test_deviations_are_said_by_their_way_not_by_a_sign(jobs_folder, room):
    job_id, project = room.job()
    work = Work.opened(job_id, project)
    off = PieceDeviation("p1", "nudge", "", -6.0, 3.0, -0.42, 1.0, 1.0, 0.1)
    sideways, upright, level = (text.replace("\u00a0", " ") for text in _deviations(work, off))
    assert (sideways, upright) == ("left 6 mm ± 1", "high 3 mm ± 1")
    assert level == "0.4° ± 0.1°, right end low"
    still = PieceDeviation("p1", "right", "", 0.0, 0.2, -0.01, 1.0, 1.0, 0.1)
    words = [text.replace("\u00a0", " ") for text in _deviations(work, still)]
    assert words == ["0 mm ± 1", "0 mm ± 1", "0.0° ± 0.1°"]


def test_accuracy_is_told_at_round_distances_of_the_unit(jobs_folder, room):
    job_id, project = room.job()
    for unit, labels in (("mm", ["1 m away", "2 m away"]), ("in", ["40 in away", "80 in away"])):
        project = project.save(project.document.changed(units=unit))
        page = opened_page(job_id, "wall")
        said = [metric.label.replace("\u00a0", " ") for metric in page.metric]
        assert said == ["At the sheet", *labels]
