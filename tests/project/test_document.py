import json
import math
from dataclasses import fields
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.arrangement.arrangement import Placement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import ProjectError
from visualiser.inventory.piece import Finish, Hanger, Mat, Moulding, Piece
from visualiser.project import reading
from visualiser.project.document import (
    Document,
    FileEntry,
    FurnitureEntry,
    HistoryEntry,
    InFrontEntry,
    MarksEntry,
    OptionEntry,
    PaintedOutEntry,
    PieceEntry,
    ReferenceEntry,
    WallEntry,
    ZoneEntry,
    read_document,
    write_document,
)
from visualiser.project.reading import SCHEMA_VERSION, upgraded
from visualiser.rectification.marks import DrawnLine, TapedLength
from visualiser.survey.light_choice import LightChoice

FORMATS = Path(__file__).resolve().parents[1] / "data" / "job_formats"
NUMBERS = st.floats(-1e5, 1e5, allow_nan=False)
SIZES = st.floats(1e-3, 1e5, allow_nan=False)
POINTS = st.tuples(NUMBERS, NUMBERS)
ENDS = st.tuples(POINTS, POINTS).filter(lambda ends: math.dist(*ends) > 2)
NAMES = st.text(st.characters(exclude_categories=("C",)), max_size=40)
IDS = st.text("abcdefgh-123", min_size=1, max_size=12)
SHAPES = st.lists(POINTS, min_size=3, max_size=6).map(tuple)
FINISHES = st.sampled_from(list(Finish.__args__))
FILES = st.builds(
    FileEntry,
    path=st.from_regex(r"(photos|artworks)/[a-z0-9-]{4,20}\.(jpg|png)", fullmatch=True),
    sha256=st.sampled_from(["", "0" * 64]),
)
PIECES = st.builds(
    lambda width, height, rail, **others: PieceEntry(
        width_mm=width + 2 * rail.width_mm if rail else width,
        height_mm=height + 2 * rail.width_mm if rail else height,
        moulding=rail,
        **others,
    ),
    width=st.floats(50, 3000),
    height=st.floats(50, 3000),
    rail=st.none() | st.builds(Moulding, width_mm=st.floats(0, 80), finish=FINISHES),
    id=IDS,
    name=NAMES,
    mat=st.none()
    | st.builds(
        Mat, top_mm=st.floats(0, 20), sides_mm=st.floats(0, 20), bottom_mm=st.floats(0, 20)
    ),
    hanger=st.builds(Hanger, kind=st.sampled_from(["wire", "d-rings"]), drop_mm=st.none() | SIZES),
    weight_kg=st.none() | st.floats(0.1, 50),
    artwork=st.none() | FILES,
)
MARKS = st.builds(
    MarksEntry,
    reference=st.builds(
        ReferenceEntry,
        kind=st.sampled_from(["a4", "letter", "card"]),
        corners_px=st.none() | st.tuples(POINTS, POINTS, POINTS, POINTS),
    ),
    lines=st.lists(
        st.builds(
            lambda ends, direction: DrawnLine(*ends, direction),
            ENDS,
            st.sampled_from(["plumb", "level", "straight"]),
        ),
        max_size=3,
    ).map(tuple),
    taped=st.lists(
        st.builds(lambda ends, length: TapedLength(*ends, length, name="door"), ENDS, SIZES),
        max_size=2,
    ).map(tuple),
    floor_px=st.lists(POINTS, max_size=3).map(tuple),
    side_px=st.none() | POINTS,
    outline_px=st.none() | SHAPES,
    zones=st.lists(st.builds(ZoneEntry, name=NAMES, points_px=SHAPES), max_size=2).map(tuple),
    furniture=st.lists(st.builds(FurnitureEntry, points_mm=SHAPES), max_size=2).map(tuple),
    in_front=st.lists(
        st.builds(
            InFrontEntry, outline_px=SHAPES, inside_px=st.lists(SHAPES, max_size=2).map(tuple)
        ),
        max_size=2,
    ).map(tuple),
    painted_out=st.lists(st.builds(PaintedOutEntry, outline_px=SHAPES), max_size=2).map(tuple),
    light=st.none() | st.builds(LightChoice, side=st.sampled_from(["left", "right"])),
)

REVISIONS = st.lists(st.integers(0, 10**6), max_size=5).map(tuple)
HISTORIES = st.builds(
    HistoryEntry,
    back=REVISIONS,
    forth=REVISIONS,
    applied=st.dictionaries(st.from_regex(r"[0-9a-z-]{1,30}", fullmatch=True), st.integers(0, 99)),
)


@st.composite
def documents(draw):
    pieces = tuple(draw(st.lists(PIECES, max_size=5, unique_by=lambda p: p.id)))
    placements = tuple(Placement(p.id, draw(NUMBERS), draw(NUMBERS)) for p in pieces)
    options = tuple(
        OptionEntry(id=i, placements=placements, finish=draw(st.none() | FINISHES))
        for i in draw(st.lists(IDS, max_size=3, unique=True))
    )
    return Document(
        revision=draw(st.integers(0, 10**6)),
        name=draw(NAMES),
        units=draw(st.sampled_from(["mm", "cm", "in"])),
        wall=draw(st.builds(WallEntry, width_mm=st.none() | SIZES)),
        photo=draw(st.none() | FILES),
        marks=draw(MARKS),
        pieces=pieces,
        guidelines=draw(st.builds(Guidelines, gap_mm=st.floats(51, 74))),
        options=options,
        chosen=options[0].id if options else None,
        history=draw(HISTORIES),
    )


@settings(max_examples=60, deadline=None)
@given(documents())
def test_what_is_written_reads_back_the_same(document):
    assert read_document(write_document(document)) == document


def test_a_piece_loses_nothing_but_its_decoded_artwork():
    """Every field of a piece must be saved; a new one that is not would be lost in silence."""
    assert {f.name for f in fields(Piece)} == set(PieceEntry.model_fields)
    piece = Piece("a", 400, 500, mat=Mat(40, 40, 50), weight_kg=2.5, depth_mm=31)
    assert PieceEntry.from_piece(piece).piece() == piece


def test_only_the_version_need_be_there():
    assert read_document(b'{"schema_version": 1}') == Document()


def job(**content):
    return json.dumps({"schema_version": SCHEMA_VERSION, **content}).encode()


PIECE = {"id": "a", "width_mm": 500, "height_mm": 700}

BROKEN = {
    "not text": (b"\xff\xfe\x00", "UTF-8"),
    "not JSON": (b"{", "line 1"),
    "too deep": (b"[" * 200_000, "nested"),
    "a list": (b"[]", "does not hold a job"),
    "no version": (b"{}", "schema_version"),
    "version of the wrong type": (b'{"schema_version": true}', "schema_version"),
    "key given twice": (b'{"schema_version": 1, "schema_version": 1}', "twice"),
    "unknown key": (job(peices=[]), "peices"),
    "unknown key inside": (job(guidelines={"gap": 3}), "gap"),
    "NaN": (job(wall={"width_mm": math.nan}), "NaN"),
    "infinite": (b'{"schema_version": 1, "wall": {"width_mm": 1e999}}', "finite"),
    "infinite in a moulding": (
        b'{"schema_version": 1, "pieces": [{"id": "a", "width_mm": 500, "height_mm": 700,'
        b' "moulding": {"width_mm": 1e999}}]}',
        "finite",
    ),
    "negative size": (job(pieces=[{**PIECE, "width_mm": -1}]), "width_mm"),
    "no window left": (job(pieces=[{**PIECE, "moulding": {"width_mm": 260}}]), "no window"),
    "two pieces of one id": (job(pieces=[PIECE, PIECE]), "share the id a"),
    "place for nobody": (
        job(options=[{"id": "x", "placements": [{"piece_id": "b", "x_mm": 0, "y_mm": 0}]}]),
        "not among the pieces",
    ),
    "placed twice": (
        job(
            pieces=[PIECE],
            options=[{"id": "x", "placements": [{"piece_id": "a", "x_mm": 0, "y_mm": 0}] * 2}],
        ),
        "share the id a",
    ),
    "chosen but not there": (job(chosen="z"), "not among the options"),
    "too many pieces": (job(pieces=[{**PIECE, "id": f"p{i}"} for i in range(1001)]), "1000"),
    "text that turns around": (job(name="abc\u202egnp"), "cannot be shown"),
    "zone without an outline": (job(marks={"zones": [{"kind": "switch"}]}), "points"),
    "line without a length": (
        job(marks={"lines": [{"start_px": [1, 1], "end_px": [1, 1]}]}),
        "two different ends",
    ),
    "custom reference without a size": (job(marks={"reference": {"kind": "custom"}}), "width_mm"),
}


@pytest.mark.parametrize(("data", "said"), BROKEN.values(), ids=BROKEN.keys())
def test_broken_jobs_are_refused_in_a_sentence(data, said):
    with pytest.raises(ProjectError) as caught:
        read_document(data)
    assert said in caught.value.message
    assert caught.value.hint
    assert "\n" not in str(caught.value)


def test_a_newer_format_is_refused_politely():
    with pytest.raises(ProjectError, match="newer release") as caught:
        read_document(json.dumps({"schema_version": SCHEMA_VERSION + 1, "news": []}).encode())
    assert "Update the program" in caught.value.hint


@pytest.mark.parametrize(
    "path",
    [
        "../secret.jpg",
        "photos/../../secret.jpg",
        "/etc/passwd",
        "C:\\secret.jpg",
        "photos\\..\\secret.jpg",
        "photos//a.jpg",
        "photos/./a.jpg",
        "photos/a/b.jpg",
        "elsewhere/a.jpg",
        "photos/.hidden",
        "photos/con.jpg",
        "photos/a.jpg ",
        "photos/a\x00.jpg",
        "photos/a:stream",
        "",
        "photos",
    ],
)
def test_paths_that_lead_elsewhere_are_refused(path):
    with pytest.raises(ProjectError, match="inside the job's folder"):
        FileEntry(path=path)


def test_changes_are_checked():
    document = Document(pieces=(PieceEntry(**PIECE),))
    with pytest.raises(ProjectError, match="share the id"):
        document.changed(pieces=document.pieces * 2)


def test_earlier_formats_are_brought_up_one_at_a_time():
    old = {"schema_version": 1, "title": "Hall"}
    steps = {
        1: lambda job: {"name": job["title"]},
        2: lambda job: {**job, "name": job["name"].upper()},
    }
    assert upgraded(old, 3, steps) == {"schema_version": 3, "name": "HALL"}
    assert upgraded(old, 1, {}) == old
    assert old == {"schema_version": 1, "title": "Hall"}


def test_what_format_1_filled_in_by_itself_is_not_taken_for_said():
    """A program saved it: its plasterboard and its one hook to two rings were nobody's word."""
    rings = {"kind": "d-rings", "hooks": 1}
    wire = {"kind": "wire", "hooks": 1}
    pieces = [
        {"id": "a", "width_mm": 500, "height_mm": 700, "hanger": rings},
        {"id": "b", "width_mm": 500, "height_mm": 700, "hanger": wire},
    ]
    job = {"schema_version": 1, "wall": {"kind": "plasterboard"}, "pieces": pieces}
    by_hand = read_document(json.dumps(job).encode())
    saved = read_document(json.dumps({**job, "revision": 3}).encode())
    assert (by_hand.wall.kind, saved.wall.kind) == ("plasterboard", "unknown")
    assert [piece.hanger.hooks for piece in saved.pieces] == [None, 1]
    brick = read_document(json.dumps({**job, "revision": 3, "wall": {"kind": "brick"}}).encode())
    assert brick.wall.kind == "brick"
    assert read_document(b'{"schema_version": 1}').wall.kind == "unknown"


def test_every_earlier_format_has_a_step_up():
    assert set(reading._UPGRADES) == set(range(1, SCHEMA_VERSION))


@pytest.mark.parametrize("place", sorted(FORMATS.glob("*.json")), ids=lambda p: p.stem)
def test_jobs_saved_by_every_format_open(place):
    """Jobs as they were saved when their format was new; never edited, only added to."""
    job = read_document(place.read_bytes())
    assert job.schema_version == SCHEMA_VERSION
    assert job.name == "Stair hall"
    assert [piece.id for piece in job.pieces] == ["p1", "p2"]
    assert job.option("a").placements[0].x_mm == 1000


def test_entries_take_the_place_of_those_of_their_ids():
    before = Document(
        pieces=tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("p", "q")),
        options=(OptionEntry(id="p", name="first"), OptionEntry(id="q", name="second")),
    )
    wider, renamed = before.pieces[1].model_copy(update={"width_mm": 450.0}), before.options[0]
    renamed = renamed.model_copy(update={"name": "renamed"})
    after = before.replacing(wider, renamed)
    assert [piece.width_mm for piece in after.pieces] == [400, 450]
    assert [option.name for option in after.options] == ["renamed", "second"]
    with pytest.raises(ProjectError):
        before.replacing(before.options[0].model_copy(update={"name": "x" * 100_000}))
