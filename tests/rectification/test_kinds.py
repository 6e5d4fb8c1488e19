"""Kinds of reference: by name, or by a size as the trade writes it."""

import numpy as np
import pytest

from visualiser.errors import SizeError, UnitError
from visualiser.rectification.kinds import (
    check_kind,
    kind_names,
    make_of,
    reference_kind,
    with_article,
)
from visualiser.rectification.reference import Reference
from visualiser.sizes import paper_size


@pytest.mark.parametrize(
    ("typed", "kind", "sides_mm"),
    [
        ("A4", "a4", (210, 297)),
        (" Letter ", "letter", (215.9, 279.4)),
        ("card", "card", (85.60, 53.98)),
        ("102 x 152 mm", "102 x 152 mm", (102, 152)),
        ("6 x 4 in", "101.6 x 152.4 mm", (101.6, 152.4)),
        ("8 1/2 by 11 in", "215.9 x 279.4 mm", (215.9, 279.4)),
        ("10×15 cm", "100 x 150 mm", (100, 150)),
    ],
)
def test_names_and_sizes(typed, kind, sides_mm):
    """The inch is 25.4 mm (1959); ISO 216, ANSI Y14.1 and ISO/IEC 7810 for the names."""
    assert check_kind(typed) == kind
    size = reference_kind(typed).size
    assert (size.width_mm, size.height_mm) == pytest.approx(sides_mm)


def test_only_named_sheets_are_taken_to_be_white():
    assert reference_kind("a4").is_white
    assert not reference_kind("card").is_white
    assert not reference_kind("210 x 297 mm").is_white


@pytest.mark.parametrize("typed", ["a99", "", "poster", "x", "12 mm"])
def test_unknown_kinds_are_refused_with_the_known_ones(typed):
    with pytest.raises(SizeError) as told:
        check_kind(typed)
    assert "letter" in told.value.hint


@pytest.mark.parametrize("typed", ["4 x 6", "4 x 6 furlongs", "4 x 6 x 8 in"])
def test_what_is_no_size_is_refused(typed):
    with pytest.raises(UnitError):
        check_kind(typed)


@pytest.mark.parametrize("typed", ["5 x 8 mm", "10 x 100 cm", "4 x 5 m"])
def test_sizes_that_measure_nothing_are_refused(typed):
    with pytest.raises(SizeError, match="cannot be measured from"):
        check_kind(typed)


@pytest.mark.parametrize(
    ("typed", "make", "in_words"),
    [
        ("A3", "sheet", "the A3 sheet"),
        ("card", "card", "a bank card"),
        ("target-letter", "target", "the printed target"),
        ("marker 4 in", "marker", "a square marker 101.6 mm"),
        ("4 x 6 in", "rectangle", "a rectangle of 101.6 x 152.4 mm"),
    ],
)
def test_a_kind_knows_what_it_is_made_of(typed, make, in_words):
    kind = reference_kind(typed)
    assert kind.make == make
    assert with_article(kind.name) == in_words


def test_a_printed_target_has_the_sides_of_its_paper():
    assert reference_kind("target-letter").size == paper_size("letter")


def test_a_card_is_thicker_than_paper():
    """ISO/IEC 7810: 0.76 mm; a sheet of 80 g/m2 a tenth of one (from memory)."""
    corners = [(0, 0), (90, 0), (90, 60), (0, 60)]
    thickness = {
        kind: Reference.from_corners(np.array(corners, float), 86, 54, kind).thickness_mm
        for kind in ("card", "a4", "custom")
    }
    assert thickness == pytest.approx({"card": 0.76, "a4": 0.1, "custom": 0.1})


@pytest.mark.parametrize("name", kind_names())
def test_every_kind_that_is_offered_can_be_looked_up(name):
    kind = reference_kind(name)
    assert (kind.name, kind.make) == (name, make_of(name))
    assert make_of(name) not in ("rectangle", "marker")
