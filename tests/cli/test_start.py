"""A job from nothing with the shell alone, and every part of it filled and changed from there."""

import json
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pypdfium2 as pdfium
import pytest
import typer.testing
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import COMMANDS, EXAMPLES, app

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "sample_photos"


def run(*words, code=0):
    result = CliRunner().invoke(app, [*map(str, words), "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


@pytest.fixture
def works(tmp_path):
    folder = tmp_path / "works"
    folder.mkdir()
    for k, name in enumerate(("Heron at dusk 40x50", "Shore 30x40", "Kite 30x40")):
        pixels = np.full((50, 40, 3), 60 + 50 * k, np.uint8)
        Image.fromarray(pixels).save(folder / f"{name}.png")
    return folder


def test_a_session_at_the_terminal_from_photo_to_plan(tmp_path):
    """Four commands; the wall and the sheet's lower edge are those of the sample's own truth."""
    rows = ("Lake at dawn;50,5;70;lake-at-dawn.jpg;120", "Fern;40;50;fern.jpg;", "Reeds;40;50;;")
    header = "\ufefftitle;width (cm);height (cm);artwork;price"
    (tmp_path / "pieces.csv").write_text("\r\n".join((header, *rows)))
    session = f"""
        visualiser start hall --photo {SAMPLES}/photos/reading-room.jpg --floor 'sheet 1331'
            --pieces pieces.csv --artworks {SAMPLES}/artworks --furniture 'sofa 1900 x 820 at -700'
            --wall plasterboard --through plan
        visualiser zones hall --add 'switch 80 x 80 at 1900, 1050'
        visualiser options hall --choose b
        visualiser plan hall --out hall/out/plan.pdf
    """
    commands = [shlex.split(c) for c in session.split("visualiser ") if c.strip()]
    assert len(commands) <= 6
    printed = []
    for words in commands:
        done = subprocess.run(
            [sys.executable, "-m", "visualiser", *words],
            cwd=tmp_path, capture_output=True, text=True, check=False,
            env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
        )  # fmt: skip
        printed.append(done.stdout)
        assert done.returncode == 0, done.stderr
    said = printed[0]
    assert "Columns not read: price." in said
    assert "±" in said
    assert "taken for plasterboard" in said
    out = tmp_path / "hall" / "out"
    for name in ("mockup.jpg", "approval.pdf", "plan.pdf", "templates.pdf", "option-a.png"):
        assert (out / name).stat().st_size > 10_000
    with Image.open(out / "mockup.jpg") as image:
        assert image.size == (2400, 1800)
    with pdfium.PdfDocument(out / "plan.pdf") as plan:
        assert "hall" in plan[0].get_textpage().get_text_range()
    job = vis.open_project(tmp_path / "hall")
    assert job.document.chosen == "b"
    assert job.pieces()[0].width_mm == 505
    assert job.survey().zones[-1].kind == "switch"
    rects = job.arrangement().rects().values()
    assert all(rect.bottom_mm >= 820 for rect in rects)  # above the sofa


def test_a_wall_of_typed_size_and_artworks_named_by_title_and_size(tmp_path, works):
    data = run(
        "start", tmp_path / "hall", "--size", "4 m x 2.5 m", "--artworks", works, "--wall", "brick",
        "--furniture", "sofa 2200 x 850 at 900", "--zone", "switch 80 x 80 at 3500, 1050",
        "--count", "2", "--through", "plan",
    )  # fmt: skip
    assert [p["name"] for p in data["pieces"]] == ["Heron at dusk", "Kite", "Shore"]
    assert [p["width_mm"] for p in data["pieces"]] == [400, 300, 300]
    assert set(data["files"]) >= {"approval.pdf", "plan.pdf", "templates.pdf", "option-a.png"}
    assert data["needs"] == []
    assert data["chosen"] == "a"
    survey = vis.open_project(tmp_path / "hall").survey()
    assert survey.furniture[0].rect == vis.Rect(900, 0, 2200, 850)


def test_an_empty_job_says_what_it_needs(tmp_path):
    data = run("start", tmp_path / "hall")
    assert [need["what"].split()[0] for need in data["needs"]][:2] == ["a", "pieces"]
    result = CliRunner().invoke(app, ["job", str(tmp_path / "hall")])
    assert "visualiser pieces" in result.stdout


@pytest.mark.parametrize(
    "words",
    [
        ("--pieces", "no.csv"),
        ("--photo", "no.jpg"),
        ("--photo", "tiny.png"),
        ("--artworks", "nowhere"),
        ("--furniture", "sofa"),
        ("--furniture", "sofa 2200 at 900"),
        ("--zone", "80 x 80 at 900"),
        ("--floor", "sheet high"),
        ("--size", "large"),
        ("--pieces", "bad.csv"),
    ],
)
def test_what_cannot_be_read_leaves_no_folder(tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    Path("bad.csv").write_text("id,width,height\na,500,400\nb,wide,400\n")
    Image.new("RGB", (3, 3)).save("tiny.png")
    data = run("start", "hall", *words, code=1)
    assert data["why"]
    assert data["do"]
    assert not Path("hall").exists()


def test_a_folder_that_holds_a_job_is_left_alone(tmp_path):
    run("start", tmp_path / "hall", "--size", "4 m x 2.5 m")
    before = (tmp_path / "hall" / "project.json").read_bytes()
    assert "already" in run("start", tmp_path / "hall", code=1)["why"]
    assert (tmp_path / "hall" / "project.json").read_bytes() == before


@pytest.fixture
def hall(tmp_path):
    run("start", tmp_path / "hall", "--size", "160 x 100", "--units", "in")
    return tmp_path / "hall"


def test_inches_are_kept_by_every_command(hall):
    """A wall typed as 160 x 100 with inches for units is 4064 x 2540 mm; 1 in is 25.4 mm."""
    run("pieces", hall, "--add", "Heron 16 x 20")
    run("furniture", hall, "--add", "sofa 86 x 33 1/2 at 35")
    run("zones", hall, "--add", "switch 3 x 5 at 140, 42")
    run("pieces", hall, "--change", "heron width=18")
    document = vis.open_project(hall).document
    assert document.units == "in"
    assert (document.wall.width_mm, document.wall.height_mm) == (4064, 2540)
    assert (document.pieces[0].width_mm, document.pieces[0].height_mm) == (457.2, 508)
    assert vis.open_project(hall).survey().furniture[0].rect.height_mm == pytest.approx(850.9)
    for command in ("pieces", "furniture", "zones", "job"):
        said = CliRunner().invoke(app, [command, str(hall)]).stdout
        assert " in (" in said


def test_pieces_are_added_changed_and_removed(hall, works):
    run("pieces", hall, "--artworks", works)
    data = run("pieces", hall, "--add", "Reeds 20 x 30 cm", "--change", "reeds weight kg=3,2")
    assert [p["id"] for p in data["pieces"]][-1] == "reeds"
    assert data["pieces"][-1]["weight_kg"] == 3.2
    run("pieces", hall, "--change", "reeds finish=black", "--change", "reeds mat sides=50 mm")
    piece = vis.open_project(hall).pieces()[-1]
    assert (piece.moulding.finish, piece.mat.sides_mm) == ("black", 50)
    assert (piece.width_mm, piece.weight_kg) == (200, 3.2)
    run("propose", hall, "--keep", "--count", "1")
    data = run("pieces", hall, "--remove", "reeds")
    assert "reeds" not in [p["id"] for p in data["pieces"]]
    assert len(vis.open_project(hall).arrangement().placements) == 3
    assert "no piece reeds" in run("pieces", hall, "--remove", "reeds", code=1)["why"]
    assert "wide" in run("pieces", hall, "--change", "kite width=wide", code=1)["why"]


def test_a_list_that_is_written_is_read_again(hall, works, tmp_path):
    run("pieces", hall, "--artworks", works)
    for name in ("list.csv", "list.json"):
        run("pieces", hall, "--out", tmp_path / name)
        before = vis.open_project(hall).document.pieces
        run("pieces", hall, "--from", tmp_path / name, "--artworks", hall / "artworks" / "..")
        assert vis.open_project(hall).document.pieces == before


def test_a_reference_of_a_typed_size_keeps_how_far_it_may_be_off(hall):
    """± is a half-width of 95 %: 1.960 standard deviations (GUM, table G.1)."""
    run("marks", hall, "--reference", "10 x 15 cm ± 1 mm")
    sized = vis.open_project(hall).document.marks.reference
    assert (sized.kind, sized.width_mm, sized.height_mm) == ("custom", 100, 150)
    assert sized.size_sigma_mm == pytest.approx(1 / 1.96, rel=1e-4)
    run("marks", hall, "--reference", "4 x 6 in")
    assert vis.open_project(hall).document.marks.reference.size_sigma_mm is None
    run("marks", hall, "--reference", "marker 4 in")
    marker = vis.open_project(hall).document.marks.reference
    assert (marker.kind, marker.width_mm) == ("marker", pytest.approx(101.6))
    assert run("marks", hall, "--reference", "4 x 6 in ± much", code=1)


def test_a_lens_measured_from_too_few_photos_is_refused_and_nothing_is_kept(hall, works):
    picture = next(works.glob("*.png"))
    answer = run("marks", hall, "--lens", picture, code=1)
    assert not answer["done"]
    assert vis.open_project(hall).document.marks.lens is None


def test_marks_of_every_kind(hall):
    run(
        "marks", hall, "--reference", "letter", "--corners", "100,100 184,100 184,218 100,218",
        "--floor", "sheet 50", "--line", "plumb 812,440 812,1900", "--line",
        "straight 5,5 50,50 95,96", "--taped", "838 mm 812,440 1203,440 door width",
        "--side", "12,900", "--outline", "0,0 1000,0 1000,900 0,900", "--in-front",
        "plant 812,440 903,440 860,700 inside 850,500 outside 900,600 exact", "--as-set",
        "--paint-out", "nail 1,1 9,1 9,9", "--light",
        "soft left level", "--reject-line", "ceiling", "--no-find-lines",
    )  # fmt: skip
    marks = vis.open_project(hall).document.marks
    assert marks.reference.kind == "letter"
    assert marks.reference.corners_px[2] == (184, 218)
    assert marks.reference_height_mm == pytest.approx(1270)
    assert [line.direction for line in marks.lines] == ["plumb", "straight"]
    assert marks.lines[1].through_px == ((50, 50),)
    assert (marks.taped[0].length_mm, marks.taped[0].name) == (838, "door width")
    assert marks.side_px == (12, 900)
    assert len(marks.outline_px) == 4
    assert (marks.in_front[0].name, marks.painted_out[0].name) == ("plant", "nail")
    assert marks.light.side == "left"
    assert marks.reference.as_set is True
    plant = marks.in_front[0]
    assert plant.inside_px == (((850, 500),),)
    assert plant.outside_px == (((900, 600),),)
    assert plant.exact is True
    assert marks.rejected_lines == ("ceiling",)
    assert marks.find_lines is False
    run("marks", hall, "--clear", "lines", "--clear", "floor", "--light", "none")
    marks = vis.open_project(hall).document.marks
    assert (marks.lines, marks.reference_height_mm, marks.light) == ((), None, None)


def test_spots_that_are_wall_or_are_not_are_kept_in_order_and_cleared(hall):
    run("marks", hall, "--wall-here", "812,440", "--not-wall-here", "90,41.5")
    run("marks", hall, "--wall-here", "7,8")
    taps = vis.open_project(hall).document.marks.wall_taps
    assert [(tap.at_px, tap.wall) for tap in taps] == [
        ((812, 440), True), ((90, 41.5), False), ((7, 8), True),
    ]  # fmt: skip
    assert run("marks", hall, "--wall-here", "1,2 3,4", code=1)["why"]
    run("marks", hall, "--clear", "wall-taps", "--not-wall-here", "5,6")
    taps = vis.open_project(hall).document.marks.wall_taps
    assert [(tap.at_px, tap.wall) for tap in taps] == [((5, 6), False)]


@pytest.mark.parametrize(
    "words",
    [
        ("--corners", "1,2 3,4"),
        ("--line", "1,2 3,4"),
        ("--line", "plumb 1,2 1,2"),
        ("--taped", "838 mm 1,2"),
        ("--taped", "0 mm 1,2 30,40"),
        ("--light", "purple"),
        ("--in-front", "plant"),
        ("--reference", "a99"),
        ("--outline", "0,0 a 9,9 5,6"),
    ],
)
def test_marks_that_cannot_be_are_refused_and_nothing_saved(hall, words):
    before = (hall / "project.json").read_bytes()
    data = run("marks", hall, *words, code=1)
    assert data["why"]
    assert data["do"]
    assert (hall / "project.json").read_bytes() == before


def test_zones_are_listed_and_removed_by_number_or_name(hall):
    run("zones", hall, "--add", "switch by the door 80 mm x 80 mm at 3500 mm, 1050 mm")
    rows = run("zones", hall, "--add", "window 40 x 50 at 10, 30")["zones"]
    assert [(r["number"], r["kind"], r["name"]) for r in rows] == [
        (1, "switch", "by the door"), (2, "window", ""),
    ]  # fmt: skip
    assert rows[0]["points_mm"][3] == [3500, 1050]
    assert len(run("zones", hall, "--remove", "by the door")["zones"]) == 1
    assert run("zones", hall, "--remove", "1")["zones"] == []
    assert run("zones", hall, "--remove", "1", code=1)["do"]


def test_studs_are_marked(hall):
    data = run("studs", hall, "--add", "16", "--add", "400 mm", "--spacing", "16 in")
    assert data["studs_mm"] == [400, pytest.approx(406.4)]
    assert data["spacing_mm"] == pytest.approx(406.4)
    assert vis.open_project(hall).survey().studs.spacing_mm == pytest.approx(406.4)
    assert run("studs", hall, "--remove", "1")["studs_mm"] == [pytest.approx(406.4)]
    assert run("studs", hall, "--remove", "7", code=1)["do"]
    assert run("studs", hall, "--clear", "--spacing", "none")["studs_mm"] == []


def test_options_are_chosen_changed_and_removed(hall, works):
    run("pieces", hall, "--artworks", works)
    run("propose", hall, "--keep", "--count", "2")
    data = run("options", hall, "--choose", "b", "--change", "b finish=black",
               "--change", "b name=The black one", "--change", "a wall-colour=#8fa39b")  # fmt: skip
    assert data["chosen"] == "b"
    assert [(o["finish"], o["wall_colour"]) for o in data["options"]] == [
        (None, "#8fa39b"), ("black", None),
    ]  # fmt: skip
    assert data["options"][1]["name"] == "The black one"
    data = run("options", hall, "--remove", "b")
    assert (data["chosen"], len(data["options"])) == (None, 1)
    for words in (("--choose", "z"), ("--change", "a colour=red"), ("--change", "a finish=teak")):
        assert run("options", hall, *words, code=1)["why"]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.__name__)
def test_every_help_holds_an_example_that_is_understood(command):
    words = shlex.split(EXAMPLES[command])
    assert words[:2] == ["visualiser", command.__name__]
    said = CliRunner().invoke(app, [command.__name__, "--help"], env={"COLUMNS": "300"}).stdout
    assert EXAMPLES[command] in " ".join(said.split())
    group = typer.testing._get_command(app)  # as the runner has it, built once
    group.commands[command.__name__].make_context(command.__name__, words[2:])


@pytest.mark.parametrize(
    "words",
    [
        ("nonsense",), ("wall",), ("wall", "x.jpg", "--nonsense"), ("plan", "hall"),
        ("propose", "hall", "--count", "many"), ("start", "hall", "--through", "moon"),
        ("propose", "hall", "--must", "a"),
    ],
)  # fmt: skip
def test_errors_of_usage_are_json_too(words):
    data = run(*words, code=2)
    assert data["done"] is False
    assert data["why"]
    assert "--help" in data["do"]


def test_the_release_is_said():
    said = CliRunner().invoke(app, ["--version"]).stdout
    assert said.startswith("visualiser ")
    assert said.split()[1][0].isdigit()
