import math

import pytest

from visualiser.app.edits import apply_edit
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import (
    Document,
    FurnitureEntry,
    MarksEntry,
    OptionEntry,
    PieceEntry,
    ReferenceEntry,
    ZoneEntry,
)
from visualiser.rectification.marks import DrawnLine, TapedLength

SQUARE = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))


@pytest.fixture
def job():
    pieces = tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b"))
    places = (Placement("a", 500, 1500), Placement("b", 1000, 1500))
    return Document(
        pieces=pieces,
        options=(
            OptionEntry(id="first", placements=places, family="row"),
            OptionEntry(id="second", placements=places),
        ),
        chosen="first",
        marks=MarksEntry(
            reference=ReferenceEntry(corners_px=SQUARE),
            lines=(DrawnLine((0, 0), (0, 9), "plumb"),),
            taped=(TapedLength((0, 0), (9, 0), 838.0, name="door"),),
            floor_px=((0, 90), (90, 90)),
            side_px=(3, 3),
            outline_px=SQUARE,
            zones=(ZoneEntry(kind="switch", points_px=SQUARE),),
            furniture=(FurnitureEntry(kind="sofa", points_px=SQUARE),),
        ),
    )


def test_a_dragged_piece_is_placed_where_it_was_let_go(job):
    edit = {"kind": "placements", "placements": {"a": [512.25, 1490.5]}}
    moved = apply_edit(job, edit)
    assert moved.option("first").placements[0] == Placement("a", 512.25, 1490.5)
    assert moved.option("first").placements[1] == job.option("first").placements[1]
    assert moved.option("first").family == "by hand"
    assert moved.option("second") == job.option("second")


def test_the_option_on_view_is_the_one_that_changes(job):
    moved = apply_edit(job, {"kind": "placements", "placements": {"b": [1, 2]}}, "second")
    assert moved.option("first") == job.option("first")
    assert moved.option("second").placements[1] == Placement("b", 1, 2)


def test_a_move_that_moves_nothing_changes_nothing(job):
    places = {p.piece_id: [p.x_mm, p.y_mm] for p in job.option().placements}
    assert apply_edit(job, {"kind": "placements", "placements": places}) is job


MOVED = [[1.0, 1.0], [11.0, 1.0], [11.0, 11.0], [1.0, 11.0]]


@pytest.mark.parametrize(
    ("shape", "points", "read"),
    [
        ("reference", MOVED, lambda m: m.reference.corners_px),
        ("outline", MOVED, lambda m: m.outline_px),
        ("zone-0", MOVED, lambda m: m.zones[0].points_px),
        ("furniture-0", MOVED, lambda m: m.furniture[0].points_px),
        ("floor", MOVED[:2], lambda m: m.floor_px),
        ("side", MOVED[:1], lambda m: (m.side_px,)),
        ("line-0", MOVED[:2], lambda m: (m.lines[0].start_px, m.lines[0].end_px)),
        ("tape-0", MOVED[:2], lambda m: (m.taped[0].start_px, m.taped[0].end_px)),
    ],
)
def test_every_mark_can_be_moved(job, shape, points, read):
    moved = apply_edit(job, {"kind": "shape", "id": shape, "points": points})
    assert read(moved.marks) == tuple(tuple(p) for p in points)
    assert moved.marks.taped[0].length_mm == 838.0
    assert moved.marks.zones[0].kind == "switch"


def test_corners_that_were_not_moved_stay_where_they_were_given(job):
    """They are shown where they were measured, a little beside that."""
    given = job.marks.reference.corners_px
    shown = [[x + 0.01, y - 0.01] for x, y in given]
    edit = {"kind": "shape", "id": "reference", "points": [[1.0, 2.0], *shown[1:]], "moved": [0]}
    assert apply_edit(job, edit).marks.reference.corners_px == ((1.0, 2.0), *given[1:])


@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"kind": "anything"},
        {"kind": "placements"},
        {"kind": "placements", "placements": {"stranger": [0, 0]}},
        {"kind": "placements", "placements": {"a": [0]}},
        {"kind": "placements", "placements": {"a": [math.nan, 0]}},
        {"kind": "placements", "placements": {"a": [math.inf, 0]}},
        {"kind": "placements", "placements": {"a": [1e7, 0]}},
        {"kind": "placements", "placements": {"a": ["0", "0"]}},
        {"kind": "placements", "placements": {"a": [True, False]}},
        {"kind": "shape", "id": "reference", "points": MOVED[:3]},
        {"kind": "shape", "id": "line-7", "points": MOVED[:2]},
        {"kind": "shape", "id": "line-x", "points": MOVED[:2]},
        {"kind": "shape", "id": "line-0", "points": [[1, 1], [1, 1]]},
        {"kind": "shape", "id": "nothing", "points": MOVED},
        {"kind": "shape", "id": "zone-0", "points": []},
        {"kind": "shape", "id": "zone-0", "points": MOVED * 100},
        {"kind": "shape", "id": "zone-0", "points": [[1, 1], [2, 2]]},
    ],
)
def test_what_no_wall_view_would_send_is_refused(job, edit):
    with pytest.raises(ProjectError):
        apply_edit(job, edit)
