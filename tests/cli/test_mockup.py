"""``visualiser mockup`` on a small job with a photo, from arguments to pictures."""

import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.arrangement.arrangement import Placement
from visualiser.cli import app
from visualiser.project.document import (
    InFrontEntry,
    MarksEntry,
    OptionEntry,
    PaintedOutEntry,
    PieceEntry,
    ReferenceEntry,
)
from visualiser.survey.light_choice import LightChoice

runner = CliRunner()
SHEET = ((100.0, 100.0), (184.0, 100.0), (184.0, 218.8), (100.0, 218.8))
"""A4 seen square on at 0.4 px to a mm."""


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job")
    pixels = np.full((480, 640, 3), (150, 158, 150), np.uint8)
    pixels[100:219, 100:184] = 235
    pixels[400:, 300:420] = (40, 90, 60)
    Image.fromarray(pixels).save(folder / "photo.png")
    project = vis.create_project(folder / "job")
    photo = project.add_file("photos", "w.png", (folder / "photo.png").read_bytes(), ".png")
    marks = MarksEntry(
        reference=ReferenceEntry(kind="a4", corners_px=SHEET),
        find_lines=False,
        in_front=(InFrontEntry(outline_px=((330, 250), (390, 250), (390, 330)), exact=True),),
        painted_out=(PaintedOutEntry(outline_px=((500, 80), (512, 80), (512, 92), (500, 92))),),
        light=LightChoice("right", "level", "soft"),
    )
    options = tuple(
        OptionEntry(id=name, placements=(Placement("p", x, 0.0),))
        for name, x in (("a", 500.0), ("b", 700.0))
    )
    pieces = (PieceEntry(id="p", width_mm=300, height_mm=250),)
    project.save(
        project.document.changed(
            photo=photo, marks=marks, pieces=pieces, options=options, chosen="a"
        )
    )
    return folder / "job"


def seen(file):
    with Image.open(file) as image:
        return np.asarray(image).astype(int)


def run(job, out, *arguments):
    return runner.invoke(app, ["mockup", str(job), "--out", str(out), *arguments])


def test_what_is_marked_and_chosen_is_drawn_with(job):
    options = vis.open_project(job).mockup_options()
    assert len(options.foreground) == len(options.paint_out_px) == 1
    assert options.main_light.slope_x > 0
    assert options.room_light == "as photographed"


def test_finishes_colours_and_lights_can_be_tried(job, tmp_path):
    shown = {}
    for name, arguments in {
        "plain": (),
        "finish": ("--finish", "black"),
        "wall": ("--wall-colour", "#6a7f92"),
        "light": ("--room-light", "evening"),
    }.items():
        result = run(job, tmp_path / f"{name}.png", "--json", *arguments)
        assert result.exit_code == 0, result.output
        assert json.loads(result.stdout)["done"] is True
        shown[name] = seen(tmp_path / f"{name}.png")
    for name in ("finish", "wall", "light"):
        assert np.abs(shown[name] - shown["plain"]).max() > 30


def test_every_option_gets_a_picture(job, tmp_path):
    result = run(job, tmp_path / "wall.jpg", "--every-option", "--json")
    files = [option["file"] for option in json.loads(result.stdout)["options"]]
    assert [name.rsplit("/", 1)[1] for name in files] == ["wall-a.jpg", "wall-b.jpg"]
    assert all(seen(name).shape == (480, 640, 3) for name in files)


def test_square_on_and_cropped_views(job, tmp_path):
    assert run(job, tmp_path / "s.png", "--straight-on").exit_code == 0
    assert run(job, tmp_path / "c.png", "--crop").exit_code == 0
    assert seen(tmp_path / "c.png").shape < (480, 640, 3)


@pytest.mark.parametrize(
    "arguments",
    [("--finish", "teak"), ("--room-light", "noon"), ("--option", "a", "--every-option")],
)
def test_what_does_not_exist_is_bad_usage(job, tmp_path, arguments):
    assert run(job, tmp_path / "x.png", *arguments).exit_code == 2


def test_a_colour_that_is_none_is_told(job, tmp_path):
    result = run(job, tmp_path / "x.png", "--wall-colour", "sage")
    assert result.exit_code == 1
    assert "not a colour code" in result.stderr
