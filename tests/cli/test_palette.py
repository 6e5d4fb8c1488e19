"""The colour commands, run as a person or a program would."""

import json

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

import visualiser as vis
from visualiser.cli import app
from visualiser.colour.colorimetry import from_hex
from visualiser.project.document import Document, FileEntry, PieceEntry


def paint(path, *codes, size=(80, 60)):
    """Blocks of colours side by side."""
    pixels = np.zeros((size[1], size[0], 3), np.uint8)
    for block, code in zip(np.array_split(np.arange(size[0]), len(codes)), codes, strict=True):
        pixels[:, block] = from_hex(code)
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(pixels).save(path)
    return path


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    """A cache folder of the test's own (XDG Base Directory Specification)."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture
def works(tmp_path):
    beige = ("#d8c7a6", "#a98e68", "#5f402d")
    paths = [paint(tmp_path / f"{name}.png", *beige) for name in ("dune", "linen", "barn")]
    return [*paths, paint(tmp_path / "parrot.png", "#d8c7a6", "#00a040", "#e00070")]


def run(*arguments):
    return CliRunner().invoke(app, [str(a) for a in arguments])


def test_a_set_as_data(works):
    result = run("palette", *works, "--json")
    assert result.exit_code == 0, result.output
    data = json.loads(result.stdout)
    assert [w["name"] for w in data["works"]] == ["dune", "linen", "barn", "parrot"]
    assert {s["hex"] for s in data["works"][0]["swatches"]} == {"#d8c7a6", "#a98e68", "#5f402d"}
    assert data["outlier"]["name"] == "parrot"
    assert data["outlier"]["remedies"]
    assert np.array(data["distances"]).shape == (4, 4)
    assert data["coherence"]["sentence"].endswith(".")
    assert "warm" in data["theme"]["sentence"]


def test_a_set_in_words_and_pictures(works, tmp_path):
    result = run("palette", *works, "--out", tmp_path / "drawn")
    assert result.exit_code == 0, result.output
    assert "parrot sits least with the rest" in result.output
    drawn = sorted(p.name for p in (tmp_path / "drawn").iterdir())
    assert drawn == ["distances.png", "hues.png", "palettes.png"]


def test_one_picture_and_a_chosen_count(works):
    data = json.loads(run("palette", works[3], "--count", "2", "--json").stdout)
    assert len(data["works"][0]["swatches"]) == 2
    assert "coherence" not in data


def test_a_room_that_cannot_be_measured_is_said_and_the_rest_is_told(works, tmp_path):
    bare = paint(tmp_path / "room.png", "#b9b0a2", size=(320, 240))
    data = json.loads(run("palette", works[0], "--room", bare, "--json").stdout)
    assert data["findings"][0]["code"] == "palette-no-room"
    assert data["works"][0]["swatches"]
    assert "room" not in data


def test_a_missing_or_broken_picture(tmp_path):
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"no picture at all")
    for path in (tmp_path / "nowhere.png", broken):
        result = run("palette", path, "--json")
        assert result.exit_code == 1
        assert json.loads(result.stdout)["do"]
    assert run("palette").exit_code == 2


@pytest.fixture
def job(tmp_path):
    folder = tmp_path / "job"
    paint(folder / "artworks" / "dune.png", "#d8c7a6", "#a98e68", "#5f402d")
    paint(folder / "artworks" / "sea.png", "#26324a", "#9fb0c0")
    pieces = (
        PieceEntry(
            id="1", width_mm=500, height_mm=400, artwork=FileEntry(path="artworks/dune.png")
        ),
        PieceEntry(id="2", width_mm=500, height_mm=400, artwork=FileEntry(path="artworks/sea.png")),
    )
    vis.create_project(folder, Document(name="Hall", pieces=pieces))
    return folder


@pytest.fixture
def catalogue(tmp_path):
    folder = tmp_path / "catalogue"
    paint(folder / "sand.png", "#d6c5a4", "#ab8f6a", "#5c3f2c")
    paint(folder / "night.png", "#25314a", "#a0b0c0")
    paint(folder / "neon.png", "#00ff40", "#ff00d0")
    return folder


def test_the_kindred_artwork_is_first(job, catalogue):
    data = json.loads(run("rank", job, catalogue, "--slot", "2", "--json").stdout)
    assert [r["title"] for r in data["ranking"]] == ["sand", "night", "neon"]
    assert data["pieces"] == ["1"]
    assert data["catalogue"]["read"] == 3
    other = json.loads(run("rank", job, catalogue, "--slot", "1", "--json").stdout)
    assert other["ranking"][0]["title"] == "night"
    assert other["catalogue"]["read"] == 0
    assert other["ranking"][0]["sentence"].startswith("It ")


def test_nothing_is_left_among_the_pictures(job, catalogue, tmp_path):
    before = sorted(catalogue.iterdir())
    assert run("rank", job, catalogue, "--json").exit_code == 0
    assert sorted(catalogue.iterdir()) == before
    assert list((tmp_path / "cache").rglob("*.sqlite"))


def test_a_list_in_centimetres_says_so(job, catalogue):
    table = catalogue / "list.csv"
    table.write_text("file;width;height\nsand.png;60;40\n")
    data = json.loads(run("rank", job, table, "--json").stdout)
    assert data["ranking"][0]["width_mm"] == 600
    assert "rank-unit-assumed" in [f["code"] for f in data["findings"]]


def test_sizes_from_a_list(job, catalogue):
    table = catalogue / "list.csv"
    table.write_text(
        "file,title,width,height\nsand.png,Sand,50 cm,40 cm\nnight.png,Night,90 cm,60 cm\n"
    )
    result = run("rank", job, table, "--min-width", "40 cm", "--max-width", "60 cm")
    assert result.exit_code == 0, result.output
    assert "Sand, 500 × 400 mm" in result.output
    assert "Night" not in result.output
    none = run("rank", job, table, "--max-width", "10 cm", "--json")
    assert json.loads(none.stdout)["findings"][0]["code"] == "rank-none"


def test_what_cannot_be_ranked(job, catalogue, tmp_path):
    no_slot = run("rank", job, catalogue, "--slot", "9", "--json")
    assert no_slot.exit_code == 1
    assert "9" in json.loads(no_slot.stdout)["why"]
    assert run("rank", job, tmp_path / "none.sqlite", "--json").exit_code == 1
    vis.create_project(tmp_path / "empty")
    empty = run("rank", tmp_path / "empty", catalogue, "--json")
    assert "neither" in json.loads(empty.stdout)["why"]
