"""``plan``, ``templates`` and ``approval`` on a job without a photo, from arguments to files."""

import io
import json
from dataclasses import replace

import numpy as np
import pypdfium2 as pdfium
import pytest
import typer
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli.approval import approval
from visualiser.cli.job import job as job_command
from visualiser.cli.output import guarded
from visualiser.cli.plan import plan
from visualiser.cli.templates import templates
from visualiser.hanging.refusals import dangers
from visualiser.inventory.piece import Hanger, Piece
from visualiser.project.document import (
    Document,
    MarksEntry,
    OptionEntry,
    PieceEntry,
    WallEntry,
    ZoneEntry,
)
from visualiser.project.piece_entries import AnswerEntry

runner = CliRunner()


@pytest.fixture(scope="module")
def app():
    program = typer.Typer()
    for command in (plan, templates, approval, job_command):
        program.command()(guarded(command))
    return program


@pytest.fixture
def job(tmp_path):
    """Two weighed pieces on a typed wall; two options, one of them chosen."""
    pieces = (
        Piece("heron", 500, 700, hanger=Hanger("d-rings", 90, 420), weight_kg=4.2),
        Piece("shore", 300, 400, hanger=Hanger("sawtooth", 12), weight_kg=1.5),
    )
    project = vis.create_project(
        tmp_path / "job",
        Document(
            name="Stair hall",
            wall=WallEntry(kind="brick", width_mm=3000, height_mm=2500),
        ),
    )
    entries = []
    for k, piece in enumerate(pieces):
        picture = io.BytesIO()
        Image.fromarray(np.full((60, 40, 3), 60 + 80 * k, np.uint8)).save(picture, "PNG")
        entry = project.add_file("artworks", piece.id, picture.getvalue(), ".png")
        entries.append(PieceEntry.from_piece(piece, entry))
    places = (vis.Placement("heron", 1000, 1524), vis.Placement("shore", 1457, 1524))
    shifted = tuple(replace(place, x_mm=place.x_mm + 500) for place in places)
    return project.save(
        project.document.changed(
            pieces=tuple(entries),
            options=(
                OptionEntry(id="a", name="Left", placements=places),
                OptionEntry(id="b", name="Right", placements=shifted),
            ),
            chosen="a",
        )
    ).folder


def page_texts(path):
    with pdfium.PdfDocument(path) as document:
        return [page.get_textpage().get_text_range() for page in document]


def run(app, *arguments):
    return runner.invoke(app, [str(argument) for argument in arguments])


def test_plan(app, job, tmp_path):
    """Hook of the heron's left ring: 1000 − 210 across, 1524 + 350 − 90 up."""
    out = tmp_path / "plan.pdf"
    result = run(app, "plan", job, "--out", out, "--json")
    assert result.exit_code == 0, result.output
    data = json.loads(result.stdout)
    assert data["wall"] == "brick"
    heron = next(p for p in data["pieces"] if p["id"] == "heron")
    assert heron["hooks_mm"][0] == {"name": "1L", "from_side": 790.0, "up": 1784.0}
    assert len(page_texts(out)) == 4


def test_plan_for_people(app, job, tmp_path):
    result = run(
        app, "plan", job, "--out", tmp_path / "p.pdf", "--option", "b", "--side", "right",
        "--wall", "plasterboard", "--paper", "letter", "--rating", "nail hook=20",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    assert "hook 1L   heron: 1 710 mm (67 5/16 in) from the right side" in result.stdout
    assert "2 pieces" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (["--wall", "straw"], "straw"),
        (["--rating", "nail hook"], "is not a rating"),
        (["--paper", "a99"], "a99"),
        (["--roll", "36"], "does not say its unit"),
        (["--roll", "0 cm"], "paper roll is 0 mm"),
        (["--stud-spacing", "400 mm"], "places none"),
        (["--studs", "400"], "does not say its unit"),
        (["--option", "z"], "z"),
    ],
)
def test_what_cannot_be_planned_writes_nothing(app, job, tmp_path, arguments, sentence):
    out = tmp_path / "plan.pdf"
    result = run(app, "plan", job, "--out", out, *arguments)
    assert result.exit_code == 1
    assert sentence in result.output
    assert not out.exists()


@pytest.fixture
def dangerous(job):
    """Put the heron 30 mm past the wall's left end, and mark a switch 10 mm beside the shore."""
    project = vis.open_project(job)
    places = (vis.Placement("heron", 300, 1524), vis.Placement("shore", 1457, 1524))
    switch = ((1617.0, 1400.0), (1697.0, 1400.0), (1697.0, 1480.0), (1617.0, 1480.0))
    marks = MarksEntry(zones=(ZoneEntry(kind="switch", points_mm=switch),))
    past = tuple(replace(p, x_mm=220.0) if p.piece_id == "heron" else p for p in places)
    options = (
        OptionEntry(id="a", name="Past", placements=past),
        OptionEntry(id="b", name="Switch", placements=places),
    )
    return project.save(project.document.changed(marks=marks, options=options)).folder


@pytest.mark.parametrize("command", ["plan", "templates", "approval"])
def test_a_dangerous_place_stops_every_paper_until_it_is_answered_for(
    app, dangerous, tmp_path, command
):
    out = tmp_path / "paper.pdf"
    for option, sentence in (("a", "reaches past the usable wall"), ("b", "10 mm from the switch")):
        result = run(app, command, dangerous, "--out", out, "--option", option)
        assert result.exit_code == 1, result.output
        assert sentence in result.output
        assert not out.exists()
    said = "The switch is dead and will be plastered over."
    result = run(app, command, dangerous, "--out", out, "--option", "b", "--despite", said)
    assert result.exit_code == 0, result.output
    assert said in " ".join(" ".join(page_texts(out)).split())


def test_an_answer_in_the_job_holds_until_something_moves(app, dangerous, tmp_path):
    project = vis.open_project(dangerous)
    option = project.document.option("b")
    found = dangers(project.arrangement("b"), project.survey())
    answer = AnswerEntry.to(found, "Dead, says the electrician.")
    answered = option.model_copy(update={"answer": answer})
    project = project.save(project.document.replacing(answered))
    out = tmp_path / "plan.pdf"
    assert run(app, "plan", dangerous, "--out", out, "--option", "b").exit_code == 0
    assert "Dead, says the electrician." in " ".join(" ".join(page_texts(out)).split())
    nearer = tuple(replace(p, x_mm=p.x_mm + 2) for p in answered.placements)
    moved = answered.model_copy(update={"placements": nearer})
    project.save(project.document.replacing(moved))
    assert run(app, "plan", dangerous, "--out", out, "--option", "b").exit_code == 1


def test_studs_typed_for_one_plan(app, job, tmp_path):
    """The heron's rings hang at 790 and 1210 mm: studs there, and nowhere else."""
    result = run(
        app, "plan", job, "--out", tmp_path / "p.pdf", "--wall", "plasterboard", "--json",
        "--studs", "790 mm; 1210 mm", "--rating", "nail hook=1",
        "--rating", "curved wire hook for hollow board=1",
        "--rating", "hollow-wall anchor with screw=1",
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    heron = next(p for p in json.loads(result.stdout)["pieces"] if p["id"] == "heron")
    assert heron["fixing"] == "screw or nail in a stud"


def test_a_rating_is_kept_with_the_job(app, job, tmp_path):
    """3 kg on two hooks: a hook rated 1 kg, divided by 4, carries none of it, one of 20 kg does."""

    def fixing():
        made = run(app, "plan", job, "--out", tmp_path / "p.pdf", "--force", "--json")
        assert made.exit_code == 0, made.output
        return next(p for p in json.loads(made.stdout)["pieces"] if p["id"] == "heron")["fixing"]

    assert run(app, "job", job, "--wall", "plasterboard").exit_code == 0
    assert run(app, "job", job, "--rating", "nail hook=20").exit_code == 0
    assert fixing() == "nail hook"
    assert run(app, "job", job, "--rating", "nail hook=1").exit_code == 0
    assert fixing() != "nail hook"
    assert vis.open_project(job).document.wall.ratings_kg == {"nail hook": 1.0}
    refused = run(app, "job", job, "--rating", "sky hook=9")
    assert refused.exit_code == 1
    assert "not a class of fixing" in refused.output


def test_templates(app, job, tmp_path):
    out = tmp_path / "t.pdf"
    result = run(app, "templates", job, "--out", out, "--paper", "a3", "--piece", "shore", "--json")
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["pieces"] == ["shore"]
    assert len(page_texts(out)) == 2
    assert run(app, "templates", job, "--out", out, "--hooks-only").exit_code == 0
    assert run(app, "templates", job, "--out", out, "--roll").exit_code == 0
    assert len(page_texts(out)) == 2
    small = run(app, "templates", job, "--out", tmp_path / "no.pdf", "--paper", "a8")
    assert small.exit_code == 1
    assert not (tmp_path / "no.pdf").exists()


def test_approval(app, job, tmp_path):
    out = tmp_path / "a.pdf"
    folder = tmp_path / "send"
    result = run(app, "approval", job, "--out", out, "--pictures", folder, "--json")
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout)["options"] == {"A": "Left", "B": "Right"}
    assert len(list(folder.glob("option-*.jpg"))) == 4
    assert "A Left" in page_texts(out)[0]
    png = tmp_path / "a.png"
    assert run(app, "approval", job, "--out", png, "--option", "b").exit_code == 0
    assert png.read_bytes().startswith(b"\x89PNG")


def test_bad_usage_is_exit_code_2(app, job):
    assert run(app, "plan", job).exit_code == 2
    assert run(app, "plan", job, "--out", "x.pdf", "--side", "up").exit_code == 2
