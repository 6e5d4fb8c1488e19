"""A change made on an older state, made again on what has been saved meanwhile."""

import pytest

from visualiser.arrangement.arrangement import Placement
from visualiser.errors import ProjectError
from visualiser.project.document import (
    Document,
    OptionEntry,
    PieceEntry,
    ReferenceEntry,
    ZoneEntry,
)
from visualiser.project.merging import merged


def piece(piece_id, **more):
    return PieceEntry(id=piece_id, width_mm=400, height_mm=500, **more)


@pytest.fixture
def base():
    places = (Placement("a", 500, 1500), Placement("b", 1000, 1500))
    return Document(
        name="start",
        pieces=(piece("a"), piece("b")),
        options=(OptionEntry(id="first", placements=places),),
    )


def placed(document, piece_id, x_mm):
    option = document.option("first")
    places = tuple(
        Placement(p.piece_id, x_mm, p.y_mm) if p.piece_id == piece_id else p
        for p in option.placements
    )
    return document.replacing(option.model_copy(update={"placements": places}))


def places(document):
    return {p.piece_id: p.x_mm for p in document.option("first").placements}


def test_what_two_changed_apart_is_both_there(base):
    mine, theirs = placed(base, "a", 600), placed(base.changed(units="in"), "b", 1200)
    both = merged(base, mine, theirs)
    assert places(both) == {"a": 600, "b": 1200}
    assert both.units == "in"


def test_of_one_thing_that_two_set_the_later_stays(base):
    assert places(merged(base, placed(base, "a", 600), placed(base, "a", 700)))["a"] == 600


def test_fields_of_one_entry_are_merged_one_by_one(base):
    reference = base.marks.reference.model_copy(update={"kind": "letter"})
    mine = base.changed(marks=base.marks.model_copy(update={"reference": reference}))
    theirs = base.changed(marks=base.marks.model_copy(update={"reference_height_mm": 900.0}))
    marks = merged(base, mine, theirs).marks
    assert (marks.reference, marks.reference_height_mm) == (ReferenceEntry(kind="letter"), 900.0)


def test_a_piece_added_here_and_one_added_there_are_both_hung(base):
    mine = base.changed(pieces=(*base.pieces, piece("c")))
    theirs = base.changed(pieces=(*base.pieces, piece("d")))
    assert [p.id for p in merged(base, mine, theirs).pieces] == ["a", "b", "c", "d"]


def test_a_piece_taken_away_here_goes_with_its_place_there(base):
    option = base.option("first").model_copy(update={"placements": (Placement("b", 1000, 1500),)})
    mine = base.changed(pieces=base.pieces[1:], options=(option,))
    both = merged(base, mine, placed(base, "b", 1200))
    assert ([p.id for p in both.pieces], places(both)) == (["b"], {"b": 1200})


def test_a_piece_taken_away_here_leaves_an_option_added_there(base):
    """The option was made with it, in another window; what no piece hangs at is no place."""
    added = OptionEntry(id="x", placements=(Placement("a", 1, 1500), Placement("b", 600, 1500)))
    theirs = base.changed(options=(*base.options, added))
    first = base.option("first").model_copy(update={"placements": (Placement("b", 1000, 1500),)})
    mine = base.changed(pieces=base.pieces[1:], options=(first,))
    assert [p.piece_id for p in merged(base, mine, theirs).option("x").placements] == ["b"]


def test_what_was_chosen_stays_though_what_is_added_gets_another_name(base):
    added = base.changed(pieces=(*base.pieces, piece("c")), chosen="first")
    other = piece("c").model_copy(update={"width_mm": 900})
    theirs = base.changed(pieces=(*base.pieces, other))
    assert merged(base, added, theirs).chosen == "first"


def test_an_option_taken_away_there_does_not_come_back(base):
    theirs = base.changed(options=())
    assert merged(base, placed(base, "a", 600), theirs).options == ()


def test_what_no_longer_fits_is_refused(base):
    option = OptionEntry(id="second", placements=(Placement("a", 1, 2),))
    mine = base.changed(options=(*base.options, option))
    theirs = base.changed(pieces=base.pieces[1:], options=())
    with pytest.raises(ProjectError):
        merged(base, mine, theirs)


def test_two_things_that_came_under_one_id_are_both_kept(base):
    """Two windows number the next picture alike; each is hung as what it is."""
    option = base.option("first")

    def with_picture(width_mm, x_mm):
        places = (*option.placements, Placement("c", x_mm, 1500))
        hung = option.model_copy(update={"placements": places, "kept": ("c",)})
        added = piece("c").model_copy(update={"width_mm": width_mm})
        other = OptionEntry(id="second", placements=(Placement("c", x_mm, 1400),))
        return base.changed(pieces=(*base.pieces, added), options=(hung, other), chosen="second")

    mine, theirs = with_picture(300, 1400), with_picture(600, 1900)
    both = merged(base, mine, theirs)
    widths = {p.id: p.width_mm for p in both.pieces}
    assert sorted(widths.values()) == [300, 400, 400, 600]
    (own,) = (i for i, width in widths.items() if width == 300)
    assert places(both)[own] == 1400
    assert places(both)["c"] == 1900
    assert len(both.options) == 3
    assert {p.piece_id for p in both.option(both.chosen).placements} == {own}
    assert own in both.option("first").kept


def test_two_options_that_came_under_one_id_are_both_kept_and_the_own_one_is_chosen(base):
    def with_option(x_mm, **more):
        option = OptionEntry(id="second", placements=(Placement("a", x_mm, 1500),), kept=("a",))
        return base.changed(options=(*base.options, option), **more)

    both = merged(base, with_option(700, chosen="second"), with_option(900))
    assert {o.placements[0].x_mm for o in both.options if o.id != "first"} == {700, 900}
    chosen = both.option(both.chosen)
    assert (chosen.placements[0].x_mm, chosen.kept) == (700, ("a",))
    nobodys = merged(base, with_option(700), with_option(900))
    assert nobodys.chosen is None


def test_the_same_thing_added_by_two_runs_is_one(base):
    mine = base.changed(pieces=(*base.pieces, piece("c")))
    theirs = mine.changed(units="in")
    assert merged(base, mine, theirs) == theirs


def zone(x, kind="socket"):
    return ZoneEntry(kind=kind, points_px=((x, 0), (x + 9, 0), (x + 9, 9)))


def zoned(document, *zones):
    return document.changed(marks=document.marks.model_copy(update={"zones": zones}))


def test_zones_marked_here_and_there_are_all_there(base):
    base = zoned(base, zone(0), zone(50))
    mine = zoned(base, zone(0), zone(50), zone(100))
    theirs = zoned(base, zone(0), zone(50, "switch"), zone(200))
    assert merged(base, mine, theirs).marks.zones == (
        zone(0), zone(50, "switch"), zone(200), zone(100)
    )  # fmt: skip
    moved = zoned(base, zone(7), zone(50))
    assert merged(base, moved, theirs).marks.zones == (zone(7), zone(50, "switch"), zone(200))
    second = zoned(base, zone(0), zone(57))
    assert merged(base, second, zoned(base, zone(0), zone(50), zone(9))).marks.zones == (
        zone(0), zone(57), zone(9)
    )  # fmt: skip
    fewer = zoned(base, zone(50))
    assert merged(base, fewer, theirs).marks.zones == (zone(50, "switch"), zone(200))


def test_of_one_zone_moved_here_and_there_the_later_stays(base):
    base = zoned(base, zone(0), zone(50))
    both = merged(base, zoned(base, zone(7), zone(50)), zoned(base, zone(3), zone(50)))
    assert both.marks.zones == (zone(7), zone(50))


def test_the_points_of_one_outline_are_set_as_one(base):
    base = base.changed(marks=base.marks.model_copy(update={"floor_px": ((0, 0), (9, 0))}))

    def floor(y):
        return base.changed(marks=base.marks.model_copy(update={"floor_px": ((0, y), (9, y))}))

    assert merged(base, floor(3), floor(5)).marks.floor_px == ((0, 3), (9, 3))
