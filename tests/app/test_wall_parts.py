"""Parts of the wall in doubt are outlined, and painted or left as a person says."""

import numpy as np
import pytest

from tests.app.conftest import run_page
from visualiser.app import jobs, wall_canvas
from visualiser.app.commands import TakeFound, move_mark, read_command, take_found
from visualiser.app.results import Results
from visualiser.project.wall_entries import WallTapEntry
from visualiser.rendering.wall_doubts import DoubtfulPlace

PLACE = DoubtfulPlace(np.array([[40.0, 40.0], [90.0, 40.0], [90.0, 80.0]]), (75.0, 55.0))


@pytest.fixture
def painted(jobs_folder, room, monkeypatch):
    """A job tried in another colour, with one place in doubt until somebody speaks of it."""
    job_id, project = room.job()
    option = project.document.option().model_copy(update={"wall_colour": "#8fa39b"})
    project.save(project.document.replacing(option))
    monkeypatch.setattr(
        Results, "doubtful_places", lambda self, _: () if taps(job_id) else (PLACE,)
    )
    return job_id


def taps(job_id):
    return jobs.find_job(job_id).document.marks.wall_taps


def test_a_place_in_doubt_is_outlined_and_painted_when_asked(painted, monkeypatch):
    shown = []
    monkeypatch.setattr(wall_canvas, "mount", shown.append)
    page = run_page(painted, "mockup")
    assert not page.exception
    (shape,) = [s for s in shown[-1]["shapes"] if s["id"] == "doubt-1"]
    document = jobs.find_job(painted).document
    sent = {"kind": "found", "points": shape["points"], **shape["offer"]}
    taken = take_found(document, read_command(sent))
    assert taken.marks.wall_taps == (WallTapEntry(at_px=(75.0, 55.0)),)
    next(b for b in page.button if b.label == "Paint all of these").click().run()
    assert taps(painted) == (WallTapEntry(at_px=(75.0, 55.0)),)


def test_a_part_is_left_where_the_ring_is_dragged_to_moved_and_taken_back(painted, monkeypatch):
    shown = []
    monkeypatch.setattr(wall_canvas, "mount", shown.append)
    page = run_page(painted, "mockup")
    next(b for b in page.button if b.label == "Leave a part").click().run()
    assert taps(painted) == ()  # nothing is said until it is dragged
    (ring,) = [s for s in shown[-1]["shapes"] if s["kind"] == "wall-part"]
    project = jobs.find_job(painted)
    drag = {"kind": "mark", "id": ring["id"], "points": [[50, 60]], "moved": [0]}
    project = project.save(move_mark(project.document, read_command(drag)))
    assert taps(painted) == (WallTapEntry(at_px=(50.0, 60.0), wall=False),)
    page.run()
    assert [s["id"] for s in shown[-1]["shapes"] if s["kind"] == "wall-part"] == ["part-0"]
    again = {"kind": "mark", "id": "part-0", "points": [[30, 20]], "moved": [0]}
    moved = move_mark(project.document, read_command(again))
    assert moved.marks.wall_taps == (WallTapEntry(at_px=(30.0, 20.0), wall=False),)
    next(b for b in page.button if b.key == "remove-tap-0").click().run()
    assert taps(painted) == ()


def test_other_finds_are_zones_and_furniture_as_before(painted):
    document = jobs.find_job(painted).document
    box = ((10.0, 10.0), (60.0, 10.0), (60.0, 60.0))
    taken = take_found(document, TakeFound(False, "switch", box))
    assert [z.kind for z in taken.marks.zones] == ["switch"]
    assert taken.marks.wall_taps == ()
