"""Ticks on hooks: noted by place, kept over a reload, and gone with a piece that moves."""

import json

import pytest

from tests.app.conftest import make_typed_job, opened_page, send
from visualiser.app import jobs
from visualiser.app.hook_commands import TickHook, is_up, read_tick, tick_hook
from visualiser.app.progress import done_steps
from visualiser.app.results import Results
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import Document, OptionEntry, PieceEntry


def test_a_tick_is_noted_by_its_place():
    document = tick_hook(Document(), TickHook((1200.0, 1500.0), True))
    assert is_up(document.hooks_up_mm, (1200.4, 1500.3))
    assert not is_up(document.hooks_up_mm, (1203.0, 1500.0))
    again = tick_hook(document, TickHook((1200.4, 1500.0), True))
    assert len(again.hooks_up_mm) == 1
    assert tick_hook(again, TickHook((1200.0, 1500.0), False)).hooks_up_mm == ()


@pytest.mark.parametrize("at", [None, [1], ["a", 2], [float("nan"), 0], [10**400, 0], [0, 1e9]])
def test_a_tick_without_a_place_is_refused_in_words(at):
    assert read_tick({"kind": "move"}) is None
    with pytest.raises(ProjectError, match="without the place of its hook"):
        read_tick({"kind": "hook", "at_mm": at, "up": True})


def hook_rows(page):
    parts = [json.loads(p.proto.json) for p in page.get("bidi_component") if p.proto.json]
    (data,) = [part for part in parts if "from" in part]
    return [hook for piece in data["pieces"] for hook in piece["hooks"]]


def test_ticks_stay_and_go_with_the_place(jobs_folder):
    job_id, project = make_typed_job()
    piece = PieceEntry(id="p1", width_mm=500, height_mm=400)
    option = OptionEntry(id="a", placements=(Placement("p1", 2000.0, 1524.0),))
    project.save(project.document.changed(pieces=(piece,), options=(option,), chosen="a"))
    page = opened_page(job_id, "hang")
    first = hook_rows(page)[0]
    assert not first["is_up"]
    send(page, job_id, 1, kind="hook", at_mm=first["at_mm"], up=True)
    reloaded = opened_page(job_id, "hang")
    assert hook_rows(reloaded)[0]["is_up"]
    document = jobs.find_job(job_id).document
    moved = option.model_copy(update={"placements": (Placement("p1", 2100.0, 1524.0),)})
    jobs.find_job(job_id).save(document.replacing(moved))
    assert not hook_rows(opened_page(job_id, "hang"))[0]["is_up"]


def test_hang_is_done_once_every_piece_has_a_hook_behind_it(jobs_folder, room):
    _, project = room.job()
    places = project.document.option().placements
    hooks = tuple((p.x_mm + 20.0, p.y_mm + 60.0) for p in places)
    for count in range(len(places) + 1):
        document = project.document.changed(hooks_up_mm=hooks[:count])
        done = done_steps(Results(type(project)(project.folder, document)))
        assert ("hang" in done) == (count == len(places))
