"""Where results may go: nothing of the person's is lost, and the ending says what is written."""

import hashlib
import json
import os
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.arrangement.arrangement import Placement
from visualiser.cli import app
from visualiser.project.document import MarksEntry, OptionEntry, PieceEntry, ReferenceEntry

SHEET = ((100.0, 100.0), (184.0, 100.0), (184.0, 218.8), (100.0, 218.8))
"""A4 seen square on at 0.4 px to a mm."""
MAGIC = {".pdf": b"%PDF", ".png": b"\x89PNG", ".jpg": b"\xff\xd8\xff", ".json": b"{"}


@pytest.fixture
def room(tmp_path, monkeypatch):
    """A job with a photo, an artwork and an earlier revision; files of the person's beside it."""
    pixels = np.full((480, 640, 3), (150, 158, 150), np.uint8)
    pixels[100:219, 100:184] = 235
    Image.fromarray(pixels).save(tmp_path / "wall.png")
    project = vis.create_project(tmp_path / "job")
    photo = project.add_file("photos", "w.png", (tmp_path / "wall.png").read_bytes(), ".png")
    art = project.add_file("artworks", "a.png", (tmp_path / "wall.png").read_bytes(), ".png")
    project.save(
        project.document.changed(
            photo=photo,
            marks=MarksEntry(reference=ReferenceEntry(corners_px=SHEET), find_lines=False),
            pieces=(PieceEntry(id="p", width_mm=300, height_mm=250, artwork=art),),
            options=(OptionEntry(id="a", placements=(Placement("p", 500.0, 0.0),)),),
            chosen="a",
        )
    )
    (tmp_path / "job" / "photos" / "wall.jpg").write_bytes(b"the client's photo")
    (tmp_path / "job" / "artworks" / "etching.png").write_bytes(b"an etching")
    for name in ("mine.pdf", "mine.png", "mine.json", "mine.jpg"):
        (tmp_path / name).write_bytes(b"the person's own")
    (tmp_path / "link.pdf").symlink_to(tmp_path / "mine.pdf")
    (tmp_path / "into-photos").symlink_to(tmp_path / "job" / "photos")
    (tmp_path / "to-job.json").symlink_to(tmp_path / "job" / "project.json")
    (tmp_path / "folder.pdf").mkdir()
    os.mkfifo(tmp_path / "pipe.pdf")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def state(folder):
    """Hashes of every plain file, and where links lead."""
    return {
        str(p.relative_to(folder)): str(p.readlink())
        if p.is_symlink()
        else hashlib.sha256(p.read_bytes()).hexdigest()
        for p in folder.rglob("*")
        if p.is_symlink() or p.is_file()
    }


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words])


REFUSED = [
    # the job's own files, however they are spelled
    ("share", "job", "--out", "job/project.json"),
    ("share", "job", "--out", "job/PROJECT.JSON"),
    ("share", "job", "--out", "job/project.json", "--force"),
    ("share", "job", "--out", "job/out/../project.json", "--force"),
    ("share", "job", "--out", "to-job.json", "--force"),
    ("share", "job", "--out", "job/revisions/000000.json", "--force"),
    ("mockup", "job", "--out", "job/photos/wall.jpg"),
    ("mockup", "job", "--out", "job/photos/wall.jpg", "--force"),
    ("mockup", "job", "--out", "job/photos/new.jpg"),
    ("mockup", "job", "--out", "job/artworks/etching.png", "--force"),
    ("mockup", "job", "--out", "into-photos/wall.jpg", "--force"),
    ("mockup", "job", "--out", "into-photos/new.png"),
    ("mockup", "job", "--out", "job/photos/wall.jpg", "--every-option", "--force"),
    ("check", "job", "wall.png", "--picture", "job/photos/wall.jpg", "--force"),
    ("check", "job", "wall.png", "--page", "job/.lock.pdf", "--force"),
    ("target", "--out", "job/artworks/target.pdf", "--force"),
    ("propose", "job", "--out", "job/photos", "--count", "1"),
    ("approval", "job", "--out", "new.pdf", "--pictures", "job/artworks", "--force"),
    ("palette", "wall.png", "--out", "job/photos"),
    ("demo", "--out", "job/artworks"),
    # a person's own files, and what is no plain file
    ("plan", "job", "--out", "mine.pdf"),
    ("plan", "job", "--out", "./job/../mine.pdf"),
    ("plan", "job", "--out", "link.pdf"),
    ("templates", "job", "--out", "mine.pdf"),
    ("approval", "job", "--out", "mine.png"),
    ("mockup", "job", "--out", "mine.jpg"),
    ("share", "job", "--out", "mine.json"),
    ("share", "job", "--out", "new/../mine.json"),
    ("target", "--out", "mine.pdf"),
    ("plan", "job", "--out", "folder.pdf", "--force"),
    ("plan", "job", "--out", "pipe.pdf", "--force"),
    ("plan", "job", "--out", "mine.pdf/plan.pdf", "--force"),
    ("plan", "job", "--out", "x" * 300 + ".pdf"),
    # endings that say something else, or nothing
    ("mockup", "job", "--out", "x.webp"),
    ("mockup", "job", "--out", "x.pdf"),
    ("target", "--out", "x.jpg"),
    ("plan", "job", "--out", "plan"),
    ("plan", "job", "--out", "plan.png"),
    ("plan", "job", "--out", ".pdf"),
    ("share", "job", "--out", "y.pdf"),
    ("approval", "job", "--out", "y.jpg"),
    ("reuse", "job", "mine.json", "--out", "y.pdf"),
    # standard output that is taken already
    ("target", "--out", "-", "--json"),
    ("mockup", "job", "--out", "-", "--every-option"),
]
"""Each must leave every file as it was, and say why in one sentence."""


@pytest.mark.parametrize("words", REFUSED, ids=" ".join)
def test_what_would_cost_a_file_is_refused(room, words):
    before = state(room)
    result = run(*words)
    assert result.exit_code in (1, 2), result.output
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert len(result.output.strip()) > 20
    after = state(room)
    assert {name: after.get(name) for name in before} == before
    # What was measured is kept beside the job; nothing of the person's is there.
    new = {name for name in set(after) - set(before) if not name.startswith("job/measured")}
    assert not new - {"job/.lock"}


RIGHT = [
    ("target", "--out", "new/deep/target.pdf"),
    ("target", "--out", "TARGET.PDF"),
    ("target", "--out", "mine.pdf", "--force"),
    ("plan", "job", "--out", "job/out/plan.pdf"),
    ("plan", "job", "--out", "job/plan.pdf"),
    ("mockup", "job", "--out", "x.JPEG"),
    ("mockup", "job", "--out", "x.png"),
    ("mockup", "job", "--out", "mine.jpg", "--force"),
    ("share", "job", "--out", "hall.json"),
    ("approval", "job", "--out", "options.png"),
]


@pytest.mark.parametrize("words", RIGHT, ids=" ".join)
def test_the_ending_decides_and_what_was_made_here_is_made_again(room, words):
    place = room / words[words.index("--out") + 1]
    for _ in range(2):  # the second time it replaces what it made the first time
        result = run(*words)
        assert result.exit_code == 0, result.output
    ending = {".jpeg": ".jpg"}.get(place.suffix.lower(), place.suffix.lower())
    assert place.read_bytes().startswith(MAGIC[ending])
    if ending in (".jpg", ".png"):
        with Image.open(place) as image:
            image.load()
            assert {"JPEG": ".jpg", "PNG": ".png"}[image.format] == ending
    if ending == ".json":
        assert json.loads(place.read_bytes())["slots"]


@pytest.mark.parametrize("ending", [".pdf", ".png", ".jpg", ".json"])
def test_a_file_changed_by_hand_since_is_the_persons(room, ending):
    words = {
        ".pdf": ("target", "--out"), ".png": ("mockup", "job", "--out"),
        ".jpg": ("mockup", "job", "--out"), ".json": ("share", "job", "--out"),
    }[ending]  # fmt: skip
    place = room / f"made{ending}"
    assert run(*words, place).exit_code == 0
    data = bytearray(place.read_bytes())
    data[len(data) // 2] ^= 1
    place.write_bytes(data)
    result = run(*words, place)
    assert result.exit_code == 1
    assert "--force" in result.stderr
    assert place.read_bytes() == data


def test_a_dash_is_standard_output(room):
    for words, magic in (
        (("target", "--out", "-"), b"%PDF"),
        (("share", "job", "--out", "-"), b"{"),
        (("mockup", "job", "--out", "-"), b"\xff\xd8\xff"),
    ):
        done = subprocess.run(
            [sys.executable, "-m", "visualiser", *words], capture_output=True, check=True
        )
        assert done.stdout.startswith(magic)
        assert not (room / "-").exists()


def test_proposals_made_later_leave_the_pictures_of_those_kept(tmp_path):
    from tests.synthetic.jobs import typed_job

    typed_job(tmp_path / "job")
    kept = json.loads(run("propose", tmp_path / "job", "--count", "1", "--keep", "--json").stdout)
    picture = tmp_path / "job" / "out" / f"option-{kept['proposals'][0]['option']}.png"
    before = picture.read_bytes()
    run("propose", tmp_path / "job", "--family", "grid", "--count", "2")
    run("propose", tmp_path / "job", "--family", "grid", "--count", "2", "--keep")
    assert picture.read_bytes() == before
