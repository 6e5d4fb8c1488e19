"""``check`` from arguments to exit codes: what cannot be compared is said, no number made up."""

import io
import json

import numpy as np
import pytest
import typer
from PIL import Image, ImageFilter
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli.check import check
from visualiser.cli.output import guarded
from visualiser.inventory.piece import Piece
from visualiser.project.document import Document, OptionEntry, PieceEntry, WallEntry

runner = CliRunner()


@pytest.fixture(scope="module")
def app():
    program = typer.Typer()
    program.command()(guarded(check))
    program.command("nothing")(lambda: None)
    return program


@pytest.fixture
def job(tmp_path):
    """Two pieces placed on a typed wall."""
    project = vis.create_project(
        tmp_path / "job",
        Document(name="Landing", wall=WallEntry(kind="brick", width_mm=3000, height_mm=2500)),
    )
    entries = []
    for name in ("heron", "shore"):
        picture = io.BytesIO()
        Image.fromarray(np.full((60, 40, 3), 90, np.uint8)).save(picture, "PNG")
        entry = project.add_file("artworks", name, picture.getvalue(), ".png")
        entries.append(PieceEntry.from_piece(Piece(name, 300, 400), entry))
    places = (vis.Placement("heron", 1000, 1524), vis.Placement("shore", 1400, 1524))
    option = OptionEntry(id="a", name="A", placements=places)
    return project.save(project.document.changed(pieces=tuple(entries), options=(option,)))


def photo_file(tmp_path, pixels):
    path = tmp_path / "hung.png"
    pixels.save(path)
    return path


@pytest.mark.parametrize("kind", ["bare wall", "blurred"])
def test_a_photo_without_the_group_is_exit_code_1(app, job, tmp_path, kind):
    noise = np.random.default_rng(4).normal(150, 6, (360, 480, 3))
    picture = Image.fromarray(np.clip(noise, 0, 255).astype(np.uint8))
    if kind == "blurred":
        picture = picture.filter(ImageFilter.GaussianBlur(6))
    arguments = [
        "check",
        str(job.folder),
        str(photo_file(tmp_path, picture)),
        "--reference",
        "none",
    ]
    result = runner.invoke(app, [*arguments, "--json"])
    told = json.loads(result.stdout)
    assert result.exit_code == 1
    assert "recognised" in told["why"]
    assert told["do"]
    assert "pieces" not in told
    assert "dx_mm" not in result.stdout


def test_what_is_no_photo_is_exit_code_1_and_a_missing_file_too(app, job, tmp_path):
    path = tmp_path / "hung.png"
    path.write_bytes(b"no picture")
    assert runner.invoke(app, ["check", str(job.folder), str(path)]).exit_code == 1
    assert runner.invoke(app, ["check", str(job.folder), str(tmp_path / "none")]).exit_code == 1


def test_bad_usage_is_exit_code_2(app, job):
    assert runner.invoke(app, ["check", str(job.folder)]).exit_code == 2
