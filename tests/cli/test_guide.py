"""The guide that ships with the package: every block of code in it is run, in order."""

import re
import shlex
import shutil
from importlib.resources import files
from pathlib import Path

import pytest
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import COMMANDS, app
from visualiser.rectification.finder import find

SAMPLES = Path(__file__).resolve().parents[2] / "sample_photos"
TEXT = files("visualiser").joinpath("guide.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```(\w+)\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL)


@pytest.fixture
def _each_photo_searched_once(monkeypatch):
    """The blocks look through one photo four times; the finder has tests of its own."""
    search, found = find.find_references, {}

    def find_once(photo, kind=None, **options):
        key = (photo.digest, kind, *sorted(options.items()))
        if key not in found:
            found[key] = search(photo, kind, **options)
        return list(found[key])

    monkeypatch.setattr(find, "find_references", find_once)
    monkeypatch.setattr(vis, "find_references", find_once)


@pytest.mark.timeout(900)
@pytest.mark.usefixtures("_each_photo_searched_once")
def test_every_block_of_the_guide_runs(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(SAMPLES / "photos" / "reading-room.jpg", "wall.jpg")
    Path("works").mkdir()
    shutil.copy(SAMPLES / "artworks" / "lake-at-dawn.jpg", "works/lake.jpg")
    shutil.copy(SAMPLES / "artworks" / "fern.jpg", "works/fern.jpg")
    Path("jobs.txt").write_text("hall\nlanding\n")
    for kind, content in BLOCKS:
        if kind == "csv":
            Path("pieces.csv").write_text(content)
        elif kind == "python":
            exec(compile(content, "guide.md", "exec"), {"__name__": "__guide__"})
        elif kind == "sh":
            for line in content.splitlines():
                words = shlex.split(line)
                assert words[0] == "visualiser"
                result = CliRunner().invoke(app, words[1:])
                assert result.exit_code == 0, f"{line}\n{result.output}"
    for made in ("hall/out/plan.pdf", "options.html", "library.pdf", "landing/out/plan.pdf"):
        assert Path(made).stat().st_size > 5_000


def test_blocks_that_are_only_shown_are_commands_too():
    group = app.registered_commands
    known = {c.__name__ for c in COMMANDS}
    assert len(group) == len(COMMANDS)
    kinds = {kind for kind, _ in BLOCKS}
    assert kinds == {"csv", "sh", "python", "text"}
    for kind, content in BLOCKS:
        for line in content.splitlines():
            if kind in ("sh", "text") and line.startswith("visualiser "):
                assert line.split()[1] in known


def test_a_script_from_photo_to_plan_is_short():
    script = next(content for kind, content in BLOCKS if kind == "python")
    assert len(script.splitlines()) <= 25
    for step in ("load_photo", "survey_wall", "propose", "render_mockup", "plan_pdf"):
        assert step in script


def test_the_guide_is_shown():
    result = CliRunner().invoke(app, ["guide"])
    assert result.exit_code == 0
    for heading in ("A first job", "In the field", "As a library", "Many jobs"):
        assert heading in result.stdout


def test_the_guide_has_four_pages():
    """About 55 lines of text a printed page (common practice, no source)."""
    assert 3 <= len(TEXT.splitlines()) / 55 <= 4.5
    assert len(re.findall(r"^## \d\. ", TEXT, re.MULTILINE)) == 4
