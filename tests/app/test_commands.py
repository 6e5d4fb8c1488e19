import math

import pytest

from visualiser.app.commands import (
    ChooseUnit,
    KeepMark,
    Lock,
    Move,
    MoveMark,
    Redo,
    Undo,
    lock_piece,
    move_mark,
    move_piece,
    read_command,
    read_outbox,
)
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


def move_by(job, value):
    """Carry out what a browser says, as the app does."""
    command = read_command(value)
    do = {Move: move_piece, Lock: lock_piece, MoveMark: move_mark, KeepMark: move_mark}
    return do[type(command)](job, command)


def test_a_dragged_piece_is_placed_where_it_was_let_go(job):
    moved = move_by(job, {"kind": "move", "piece": "a", "to": [512.25, 1490.5]})
    assert moved.option("first").placements[0] == Placement("a", 512.25, 1490.5)
    assert moved.option("first").placements[1] == job.option("first").placements[1]
    assert moved.option("first").family == "by hand"
    assert moved.option("second") == job.option("second")


def test_the_option_that_was_on_view_is_the_one_that_changes(job):
    moved = move_by(job, {"kind": "move", "option": "second", "piece": "b", "to": [1, 2]})
    assert moved.option("first") == job.option("first")
    assert moved.option("second").placements[1] == Placement("b", 1, 2)


def test_a_move_that_moves_nothing_changes_nothing(job):
    placement = job.option().placements[0]
    to = [placement.x_mm, placement.y_mm]
    assert move_by(job, {"kind": "move", "piece": "a", "to": to}) is job


def test_a_piece_is_locked_and_let_go(job):
    locked = move_by(job, {"kind": "lock", "piece": "a", "kept": True})
    assert locked.option().kept == ("a",)
    assert move_by(locked, {"kind": "lock", "piece": "a", "kept": True}) is locked
    assert move_by(locked, {"kind": "lock", "piece": "a", "kept": False}) == job


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
    moved = move_by(job, {"kind": "mark", "id": shape, "points": points})
    assert read(moved.marks) == tuple(tuple(p) for p in points)
    assert moved.marks.taped[0].length_mm == 838.0
    assert moved.marks.zones[0].kind == "switch"


@pytest.mark.parametrize("shape", ["reference", "outline", "zone-0", "furniture-0"])
def test_two_corners_moved_by_two_hands_are_both_moved(job, shape):
    """Each hand saw the other's corner where it had been."""
    shown = [list(p) for p in SQUARE]
    one = {"kind": "mark", "id": shape, "points": [[1.0, 2.0], *shown[1:]], "moved": [0]}
    two = {"kind": "mark", "id": shape, "points": [*shown[:3], [3.0, 12.0]], "moved": [3]}
    marks = move_by(move_by(job, one), two).marks
    points = {
        "reference": marks.reference.corners_px,
        "outline": marks.outline_px,
        "zone-0": marks.zones[0].points_px,
        "furniture-0": marks.furniture[0].points_px,
    }[shape]
    assert points == ((1.0, 2.0), *SQUARE[1:3], (3.0, 12.0))


def test_corners_that_were_not_moved_stay_where_they_were_given(job):
    """They are shown where they were measured, a little beside that."""
    given = job.marks.reference.corners_px
    shown = [[x + 0.01, y - 0.01] for x, y in given]
    edit = {"kind": "mark", "id": "reference", "points": [[1.0, 2.0], *shown[1:]], "moved": [0]}
    assert move_by(job, edit).marks.reference.corners_px == ((1.0, 2.0), *given[1:])


def zoned(job, *lefts):
    zones = tuple(ZoneEntry(kind="socket", points_px=square(left)) for left in lefts)
    return job.changed(marks=job.marks.model_copy(update={"zones": zones}))


def square(left):
    return tuple((x + left, y) for x, y in SQUARE)


def test_a_mark_is_known_again_where_one_before_it_has_gone(job):
    """The hand took the third of three as the second was being taken away; a socket that is left
    lies where it is."""
    job = zoned(job, 0, 200)
    edit = {"kind": "mark", "id": "zone-2", "points": square(230), "drawn": square(200)}
    assert [z.points_px for z in move_by(job, edit).marks.zones] == [SQUARE, square(230)]
    edit |= {"id": "zone-1", "points": square(30), "drawn": SQUARE}
    assert [z.points_px for z in move_by(job, edit).marks.zones] == [square(30), square(200)]


def test_a_mark_moved_twice_before_it_is_drawn_again_is_the_same(job):
    first = {"kind": "mark", "id": "zone-1", "points": square(230), "drawn": square(200)}
    job = move_by(zoned(job, 0, 200), first)
    job = move_by(job, first | {"points": square(240)})
    assert [z.points_px for z in job.marks.zones] == [SQUARE, square(240)]


@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"kind": "anything"},
        {"kind": "move"},
        {"kind": "move", "piece": "stranger", "to": [0, 0]},
        {"kind": "move", "piece": "a", "option": "third", "to": [0, 0]},
        {"kind": "move", "piece": "a", "to": [0]},
        {"kind": "move", "piece": "a", "to": [math.nan, 0]},
        {"kind": "move", "piece": "a", "to": [math.inf, 0]},
        {"kind": "move", "piece": "a", "to": [1e7, 0]},
        {"kind": "move", "piece": "a", "to": [10**400, 0]},
        {"kind": "move", "piece": "a", "to": [0, -(10**400)]},
        {"kind": "move", "piece": "a", "to": ["0", "0"]},
        {"kind": "move", "piece": "a", "to": [True, False]},
        {"kind": "lock", "piece": "stranger", "kept": True},
        {"kind": "mark", "id": "reference", "points": MOVED[:3]},
        {"kind": "mark", "id": "line-7", "points": MOVED[:2]},
        {"kind": "mark", "id": "line-x", "points": MOVED[:2]},
        {"kind": "mark", "id": "zone--1", "points": MOVED},
        {"kind": "mark", "id": "zone-0", "points": MOVED, "drawn": [[0]]},
        {"kind": "mark", "id": "line-0", "points": [[1, 1], [1, 1]]},
        {"kind": "mark", "id": "nothing", "points": MOVED},
        {"kind": "mark", "id": "zone-0", "points": []},
        {"kind": "mark", "id": "zone-0", "points": MOVED * 200},
        {"kind": "mark", "id": "zone-0", "points": [[1, 1], [2, 2]]},
        {"kind": "mark", "id": "zone-0", "points": [[10**400, 1], *MOVED[1:]]},
    ],
)
def test_what_no_wall_view_would_send_is_refused(job, edit):
    with pytest.raises(ProjectError):
        move_by(job, edit)


def test_the_unit_is_a_command_like_the_others():
    assert read_command({"kind": "unit", "unit": "in"}) == ChooseUnit("in")
    for unit in ("furlong", "", None, ["in"]):
        with pytest.raises(ProjectError):
            read_command({"kind": "unit", "unit": unit})


def test_undo_and_redo_are_commands_like_the_others():
    assert isinstance(read_command({"kind": "undo"}), Undo)
    assert isinstance(read_command({"kind": "redo"}), Redo)


def test_an_outbox_is_read_in_the_order_of_its_numbers():
    commands = [{"number": n, "kind": "undo"} for n in (3, 1, 2)]
    sent = {
        "batches": [
            {"job": "j", "hand": "a-1", "commands": commands},
            {"job": "another", "hand": "a-1", "commands": commands},
            {"job": "j", "hand": "b-1", "commands": [{"number": True}, {"kind": "undo"}, 7]},
        ]
    }
    first, second = read_outbox(sent, "j")
    assert (first.hand, [number for number, _ in first.commands]) == ("a-1", [1, 2, 3])
    assert (second.hand, second.commands) == ("b-1", ())


@pytest.mark.parametrize(
    "sent",
    [
        None, 3, {}, {"batches": 3}, {"batches": [3]}, {"batches": [{"job": "j"}]},
        {"batches": [{"job": "j", "hand": "../x", "commands": []}]},
        {"batches": [{"job": "j", "hand": "a" * 41, "commands": []}]},
        {"batches": [{"job": "j", "hand": "a", "commands": {}}]},
    ],
)  # fmt: skip
def test_what_is_no_outbox_is_passed_over(sent):
    assert list(read_outbox(sent, "j")) == []
