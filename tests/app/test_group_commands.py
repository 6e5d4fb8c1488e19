"""What a piece's bar and the strip of proposals do to a job, without a screen."""

import pytest

from visualiser.app.group_commands import (
    MoveTogether,
    PlaceExactly,
    Refinish,
    TakeProposal,
    move_together,
    neighbouring_size,
    place_exactly,
    read_group_command,
    refinish,
    take_proposal,
)
from visualiser.arrangement.arrangement import Placement
from visualiser.errors import PieceError, ProjectError, UnitError
from visualiser.inventory.piece import Moulding
from visualiser.project.document import Document, OptionEntry, PieceEntry


@pytest.fixture
def job():
    pieces = tuple(PieceEntry(id=i, width_mm=400, height_mm=500) for i in ("a", "b"))
    places = (Placement("a", 500, 1500), Placement("b", 1000, 1500))
    option = OptionEntry(id="a", placements=places, kept=("b",))
    return Document(pieces=pieces, options=(option,), chosen="a", units="in")


def places(job):
    return {p.piece_id: (p.x_mm, p.y_mm) for p in job.option().placements}


def test_several_pieces_move_at_once(job):
    moved = move_together(job, MoveTogether("a", (("a", 1, 2), ("b", 3, 4))))
    assert places(moved) == {"a": (1, 2), "b": (3, 4)}
    assert moved.option().family == "by hand"
    with pytest.raises(ProjectError, match="no longer on this wall"):
        move_together(job, MoveTogether("a", (("gone", 1, 2),)))


def test_a_typed_place_is_read_as_the_trade_writes_it(job):
    # 25.4 mm are one inch by definition (international yard and pound agreement, 1959).
    moved = place_exactly(job, PlaceExactly("a", "a", "", "60 1/2"))
    assert places(moved)["a"] == (500, pytest.approx(60.5 * 25.4))
    with pytest.raises(UnitError):
        place_exactly(job, PlaceExactly("a", "a", "over there", ""))


def test_a_proposal_becomes_an_option_and_what_is_kept_stays_kept(job):
    taken = take_proposal(job, TakeProposal("Row", "row", (("a", 1, 2), ("b", 3, 4))))
    assert (taken.chosen, taken.option().name, taken.option().kept) == ("b", "Row", ("b",))
    assert places(taken) == {"a": (1, 2), "b": (3, 4)}
    assert taken.options[0] == job.options[0]


def test_a_finish_is_tried_on_mouldings_only(job):
    bare = job.pieces[1].model_copy(update={"moulding": None})
    tried = refinish(job.replacing(bare), Refinish(("a", "b"), "black"))
    assert tried.pieces[0].moulding.finish == "black"
    assert tried.pieces[1].moulding is None


def test_sizes_go_up_and_down_as_frames_are_sold():
    """8 x 10, 11 x 14 and 16 x 20 in are stock frame sizes (common practice, no source)."""
    entry = PieceEntry(id="a", width_mm=11 * 25.4, height_mm=14 * 25.4, moulding=None)
    larger = neighbouring_size(entry, larger=True)
    smaller = neighbouring_size(entry, larger=False)
    assert larger[0] * larger[1] > entry.width_mm * entry.height_mm > smaller[0] * smaller[1]
    assert larger[1] > larger[0]  # upright stays upright
    framed = PieceEntry(id="a", width_mm=320, height_mm=420, moulding=Moulding(20, rebate_mm=6))
    grown = neighbouring_size(framed, larger=True)
    sold = tuple(side - 2 * (20 - 6) for side in grown)  # the sheet that fits its rebate
    assert min(abs(sold[0] - round(sold[0])), abs(sold[0] / 25.4 - round(sold[0] / 25.4))) < 1e-6
    with pytest.raises(PieceError, match="commonly sold"):
        neighbouring_size(PieceEntry(id="a", width_mm=4000, height_mm=5000), larger=True)


@pytest.mark.parametrize(
    "value",
    [
        {"kind": "edit", "pieces": ["a"], "how": "sideways"},
        {"kind": "edit", "pieces": "a", "how": "left"},
        {"kind": "together", "places": [{"id": "a", "x": True, "y": 1}]},
        {"kind": "together", "places": [{"id": "a", "x": 10**400, "y": 1}]},
        {"kind": "together", "places": [{"id": "a", "x": 1, "y": 1}] * 2},
        {"kind": "finish", "pieces": ["a"], "finish": "invisible"},
        {"kind": "take", "places": []},
    ],
)
def test_what_no_view_could_have_sent_is_refused(value):
    with pytest.raises(ProjectError):
        read_group_command(value)


def test_other_commands_are_left_to_others():
    assert read_group_command({"kind": "move", "piece": "a", "to": [1, 2]}) is None
