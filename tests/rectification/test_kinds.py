"""Kinds of reference: by name, or by a size as the trade writes it."""

import pytest

from visualiser.errors import SizeError, UnitError
from visualiser.rectification.kinds import check_kind, is_white_paper, reference_size


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
    size = reference_size(typed)
    assert (size.width_mm, size.height_mm) == pytest.approx(sides_mm)


def test_only_named_sheets_are_taken_to_be_white():
    assert is_white_paper(reference_size("a4"))
    assert not is_white_paper(reference_size("card"))
    assert not is_white_paper(reference_size("210 x 297 mm"))


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
