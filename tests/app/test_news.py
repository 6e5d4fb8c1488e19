"""What a browser hears has happened behind its page's back; it is shown nothing else."""

import ast
import json
import time
from pathlib import Path
from urllib.parse import urlencode

import pytest

import visualiser
from tests.app.test_serving import asked
from visualiser.app import child_process, news

PACKAGE = Path(visualiser.__file__).parent


def told(**about):
    return json.loads(news.news_for(urlencode(about)))


def test_a_save_elsewhere_is_told(jobs_folder, room):
    job_id, project = room.job()
    before = told(job=job_id)
    assert before == {"saved": project.document.revision, "ended": False}
    project.save(project.document.changed(name="Another name"))
    assert told(job=job_id)["saved"] == before["saved"] + 1


@pytest.mark.parametrize("job_id", ["", "gone", "..", "../stair-hall", "a/b", "x" * 3000, "\x00"])
def test_of_what_is_no_job_nothing_is_read(jobs_folder, room, job_id):
    room.job()
    assert told(job=job_id) == {"saved": None, "ended": False}


def test_a_job_outside_the_folder_of_jobs_is_not_read(jobs_folder, room):
    _, project = room.job()
    place = jobs_folder.parent / "outside"
    place.mkdir()
    (place / "project.json").write_bytes((project.folder / "project.json").read_bytes())
    assert told(job="../outside")["saved"] is None


def test_work_says_how_far_it_is():
    child = child_process.start_process(child_process.say_in_child, "Joining photo 2 of 3 …")
    child.process.wait()
    assert told(work=child.token)["says"] == "Joining photo 2 of 3"
    child.result()
    assert "says" not in told(work=child.token)


def test_work_has_ended_when_its_process_has():
    child = child_process.start_process(time.sleep, 600)
    assert not told(work=child.token)["ended"]
    child.stop()
    assert told(work=child.token)["ended"]
    assert told(work="nobody's")["ended"]


@pytest.mark.parametrize("query", ["", "job", "&" * 100, "=", "job=%ff%fe", "a=1&b=2&c=3&d=4&e=5"])
def test_any_question_is_answered(jobs_folder, query):
    assert json.loads(news.news_for(query)) == {"saved": None, "ended": False}


def test_only_the_pages_of_this_server_are_told(jobs_folder, room):
    job_id, project = room.job()
    sent, through = asked(news.PATH, query=f"job={job_id}")
    assert not through
    assert sent[0]["status"] == 200
    assert (b"cache-control", b"no-store") in sent[0]["headers"]
    assert json.loads(sent[1]["body"])["saved"] == project.document.revision
    for stranger in ({"host": "evil.example"}, {"origin": "http://evil.example"}):
        sent, _ = asked(news.PATH, query=f"job={job_id}", **stranger)
        assert sent[0]["status"] in (403, 421)


def test_no_part_of_the_page_is_drawn_by_a_clock():
    """What a run of the page had still to send is thrown away where one falls due as it ends."""
    asks = {
        path.relative_to(PACKAGE).as_posix()
        for path in PACKAGE.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "fragment"
    }
    assert not asks
