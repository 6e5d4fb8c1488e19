"""The command line as a program sees it: exit codes, JSON on standard output, sentences."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from typer.testing import CliRunner

import visualiser as vis
from tests.synthetic.jobs import typed_job
from visualiser.cli import COMMANDS, app

runner = CliRunner()


@pytest.fixture
def job(tmp_path):
    typed_job(tmp_path / "job")
    return tmp_path / "job"


@pytest.mark.parametrize("command", [c.__name__ for c in COMMANDS])
def test_every_command_explains_itself_and_offers_json(command):
    result = runner.invoke(app, [command, "--help"])
    assert result.exit_code == 0
    if command != "app":
        assert "--json" in result.stdout


def test_a_missing_photo_is_told_in_json_with_exit_code_1(tmp_path):
    result = runner.invoke(app, ["wall", str(tmp_path / "none.jpg"), "--json"])
    assert result.exit_code == 1
    told = json.loads(result.stdout)
    assert told["found"] is False
    assert told["why"]
    assert told["do"]


def test_a_missing_photo_is_told_to_people_on_standard_error(tmp_path):
    result = runner.invoke(app, ["wall", str(tmp_path / "none.jpg")])
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "could not be opened" in result.stderr


def test_an_unknown_option_is_bad_usage():
    assert runner.invoke(app, ["wall", "x.jpg", "--nonsense"]).exit_code == 2


def test_an_unknown_command_is_bad_usage():
    assert runner.invoke(app, ["nonsense"]).exit_code == 2


def test_batch_makes_what_it_can_and_names_what_it_cannot(job, tmp_path):
    listing = tmp_path / "jobs.txt"
    listing.write_text("job   # the good one\nmissing\n\n")
    result = runner.invoke(app, ["batch", str(listing), "--only", "plan", "--json"])
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert [entry["made"] for entry in told["made"]] == ["plan"]
    assert (job / "out" / "plan.pdf").read_bytes().startswith(b"%PDF")
    assert len(told["failed"]) == 1
    assert "missing" in told["failed"][0]["job"]


def test_a_batch_lists_the_photos_that_a_person_has_to_look_at(tmp_path):
    """A bare grey wall: it is read, and nothing in it is surely a sheet."""
    grey = tmp_path / "grey.png"
    cv2.imwrite(str(grey), np.full((600, 800, 3), 120, np.uint8))
    hall = vis.create_project(tmp_path / "hall").add_photo(grey)
    (tmp_path / "jobs.txt").write_text("hall\nmissing\n")
    told = json.loads(
        runner.invoke(app, ["batch", str(tmp_path / "jobs.txt"), "--only", "plan", "--json"]).stdout
    )
    looked = {Path(entry["job"]).name: entry["look_at_photo"] for entry in told["failed"]}
    assert looked == {"hall": True, "missing": False}
    said = runner.invoke(app, ["batch", str(tmp_path / "jobs.txt"), "--only", "plan"]).output
    assert "Photos to look at" in said
    assert str(hall.folder) in said.split("Photos to look at")[1].replace("\n", "")


def test_a_list_that_names_no_job_is_told(tmp_path):
    (tmp_path / "jobs.txt").write_text("# none yet\n\n")
    result = runner.invoke(app, ["batch", str(tmp_path / "jobs.txt"), "--json"])
    assert result.exit_code == 1
    assert "names no job" in json.loads(result.stdout)["why"]


def test_dates_are_checked_and_pictures_say_their_size(job, tmp_path):
    out = tmp_path / "a.pdf"
    words = ["approval", str(job), "--out", str(out), "--json"]
    for wrong in ("2026-02-30", "soon", "14.13.2026"):
        assert runner.invoke(app, [*words, "--date", wrong]).exit_code == 2
        assert not out.exists()
    result = runner.invoke(app, [*words, "--date", "14 March 2026", "--pictures", str(tmp_path)])
    sizes = json.loads(result.stdout)["picture_sizes"]
    assert [s["file"].rsplit("/", 1)[1] for s in sizes] == ["option-A.jpg", "option-A-small.jpg"]
    assert sizes[0]["width_px"] == 2400
    assert max(sizes[1]["width_px"], sizes[1]["height_px"]) == 1600


def test_a_mockup_needs_a_photo_and_says_so(job, tmp_path):
    out = tmp_path / "mockup.jpg"
    result = runner.invoke(app, ["mockup", str(job), "--out", str(out)])
    assert result.exit_code == 1
    assert "photo" in result.stderr
    assert not out.exists()


def test_a_lower_edge_beyond_any_room_is_told(tmp_path, monkeypatch):

    plane = object()
    monkeypatch.setattr(vis, "load_photo", lambda raw: raw)
    monkeypatch.setattr(vis, "find_references", lambda photo, kind, **_: [])
    monkeypatch.setattr(vis, "fit_wall_plane", lambda photo, found: plane)
    photo = tmp_path / "wall.jpg"
    photo.write_bytes(b"-")
    result = runner.invoke(
        app, ["wall", str(photo), "--keep-clear", "--lower-edge", "40 m", "--json"]
    )
    assert result.exit_code == 1
    assert "lower edge" in json.loads(result.stdout)["why"]


@pytest.mark.parametrize("place", [".", "pages"])
def test_a_folder_in_the_place_of_a_file_is_told(place, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "pages").mkdir()
    result = runner.invoke(app, ["target", "--out", place])
    assert result.exit_code == 1
    assert "is a directory" in result.stderr
    assert [p.name for p in tmp_path.rglob("*")] == ["pages"]
