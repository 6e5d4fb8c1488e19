import contextlib
import math
import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.errors import UnitError
from visualiser.units import (
    format_both,
    format_length,
    format_uncertain,
    parse_length,
    parse_place,
    parse_size,
    rounded_mm,
    rounding_note,
)

INCH = 25.4  # International Yard and Pound Agreement, 1959


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("24 3/8 in", 24.375 * INCH),
        ("24-3/8 in", 24.375 * INCH),
        ('24⅜"', 24.375 * INCH),
        ("24 ⅜ ″", 24.375 * INCH),
        ("24.375 inches", 24.375 * INCH),
        ("3/8 in", 0.375 * INCH),
        ("½ in.", 0.5 * INCH),
        ("5⁄16 in", 0.3125 * INCH),
        ("2' 3 1/2\"", 27.5 * INCH),
        ("2'-3 1/2\"", 27.5 * INCH),
        ("2’ 3½”", 27.5 * INCH),
        ("2 ft 3.5 in", 27.5 * INCH),
        ("2ft3in", 27 * INCH),
        ("5'6", 66 * INCH),
        ("5'", 60 * INCH),
        ("2''", 2 * INCH),
        ("61.9 cm", 619),
        ("61,9 cm", 619),
        ("61,90CM", 619),
        ("619 mm", 619),
        ("619mm", 619),
        ("1 524 mm", 1524),
        ("1\u202f524\u00a0mm", 1524),
        ("12 345,5 mm", 12345.5),
        ("1,524.5 mm", 1524.5),
        ("1.524,5 mm", 1524.5),
        ("1.524 m", 1524),
        ("0,619 m", 619),
        ("1 m 52 cm", 1520),
        ("6１９ mm", 619),
        (" 619 MM ", 619),
        ("0 mm", 0),
        (".5 in", 12.7),
    ],
)
def test_lengths_as_the_trade_writes_them(text, expected_mm):
    assert parse_length(text) == pytest.approx(expected_mm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "in", "24", "24 3/8", "abc", "24 yards", "24 3/0 in", "24 9/8 in", "-5 mm",
        "−5 mm", "1,524 mm", "1.2.3 mm", "1,2,3 mm", "24 in 3 ft", "2.5 ft 3 in", "2 in 3", "5. mm",
        "nan mm", "inf mm", "1e3 mm", "24 in in", "٦١٩ mm", "1001 m", "9" * 400 + " mm",
        "12 3456 mm", "2/3/4 in", "24 in\x00", "3 / in",
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused_with_a_sentence(text):
    with pytest.raises(UnitError) as caught:
        parse_length(text)
    assert caught.value.hint


def test_a_bare_number_takes_only_the_unit_it_is_given():
    assert parse_length("24 3/8", default_unit="in") == pytest.approx(619.125)
    assert parse_length("61,9", default_unit="cm") == pytest.approx(619)
    with pytest.raises(UnitError, match="does not say its unit"):
        parse_length("24 3/8")


def test_the_persons_own_decimal_sign_settles_thousands():
    assert parse_length("1,524 mm", decimal_sign=".") == 1524
    assert parse_length("1,524 m", decimal_sign=",") == pytest.approx(1524)
    assert parse_length("1.524 mm", decimal_sign=",") == 1524


@pytest.mark.parametrize(
    ("text", "expected_mm"),
    [
        ("24x30 in", (24 * INCH, 30 * INCH)),
        ("24 × 30 in", (24 * INCH, 30 * INCH)),
        ('24⅜" x 30 1/2"', (24.375 * INCH, 30.5 * INCH)),
        ('24" x 30', (24 * INCH, 30 * INCH)),
        ("50 by 70 cm", (500, 700)),
        ("61,9 x 76,2 cm", (619, 762)),
        ("2' 3\" x 3'", (27 * INCH, 36 * INCH)),
        ("500 mm x 70 cm", (500, 700)),
    ],
)
def test_pairs(text, expected_mm):
    assert parse_size(text) == pytest.approx(expected_mm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["24 in", "24x30", "24x30x2 in", "x 30 in", "0 x 30 in", "24 x in"]
)
def test_what_is_no_pair_is_refused(text):
    with pytest.raises(UnitError):
        parse_size(text)


@pytest.mark.parametrize(
    ("length_mm", "unit", "expected"),
    [
        (1524, "in", "60 in"),
        (619.125, "in", "24 3/8 in"),
        (1.5875, "in", "1/16 in"),
        (0.7, "in", "0 in"),
        (0.8, "in", "1/16 in"),
        (619.125, "mm", "619 mm"),
        (999.5, "mm", "1 000 mm"),
        (1234567, "mm", "1 234 567 mm"),
        (619.4, "cm", "61.9 cm"),
        (1524, "m", "1.524 m"),
        (698.5, "ft", "2 ft 3 1/2 in"),
        (304.8, "ft", "1 ft 0 in"),
        (279.4, "ft", "11 in"),
        (304.4, "ft", "1 ft 0 in"),
        (-12.7, "in", "−1/2 in"),
        (-0.2, "mm", "0 mm"),
    ],
)
def test_printed_lengths(length_mm, unit, expected):
    assert format_length(length_mm, unit) == expected


def test_both_units_side_by_side():
    assert format_both(1524) == "1 524 mm (60 in)"
    assert format_both(1500) == "1 500 mm (59 1/16 in)"


def test_an_uncertainty_is_never_rounded_down_to_nothing():
    assert format_uncertain(1524, 3.2) == "1 524 mm ± 4"
    assert format_uncertain(1524, 0.0) == "1 524 mm ± 1"
    assert format_uncertain(1524, 3.2, "cm") == "152.4 cm ± 0.4"
    assert format_uncertain(1524, 3.2, "in") == "60 in ± 3/16"
    assert format_uncertain(1524, 3.2, "m") == "1.524 m ± 0.004"


def test_only_finite_lengths_are_printed():
    with pytest.raises(ValueError, match="cannot print"):
        format_length(math.nan, "mm")


lengths_mm = st.floats(0, 20_000)
units = st.sampled_from(["mm", "cm", "m", "in", "ft"])


@given(lengths_mm, units)
def test_what_is_printed_reads_back_as_the_rounded_length(length_mm, unit):
    step = INCH / 16 if unit in ("in", "ft") else 1.0
    back = parse_length(format_length(length_mm, unit))
    assert back == pytest.approx(rounded_mm(length_mm, unit), abs=1e-9)
    assert abs(back - length_mm) <= step / 2 + 1e-9
    assert str(16 if unit in ("in", "ft") else 1) in rounding_note(unit)


@given(st.integers(0, 400), st.integers(0, 15))
def test_fractions_are_exact(whole, sixteenths):
    part = Fraction(sixteenths, 16)
    text = f"{whole} {part} in" if sixteenths else f"{whole} in"
    assert parse_length(text) == pytest.approx(float((whole + part) * Fraction(254, 10)), abs=1e-9)
    printed = format_length(parse_length(text), "in")
    assert printed == (re.sub("^0 ", "", text) if sixteenths else text)


@given(st.text(max_size=30))
def test_any_text_is_a_length_or_a_unit_error(text):
    with contextlib.suppress(UnitError):
        assert 0 <= parse_length(text, "mm") <= 1e6


@given(st.integers(-20_000, 20_000), st.sampled_from(["mm", "in", "ft", "cm"]))
def test_a_place_is_read_as_it_is_printed(sixteenths, unit):
    """The minus sign U+2212 is the one of mathematics: ISO 80000-2:2019, clause 9."""
    place_mm = sixteenths * 25.4 / 16
    printed = format_length(place_mm, unit)
    assert parse_place(printed) == pytest.approx(place_mm, abs=25.4 / 32 + 1e-6)
    assert parse_place(printed.replace("\u2212", "-")) == parse_place(printed)


@pytest.mark.parametrize("typed", ["-", "--4 mm", "4 - 2 mm", "- -4 mm"])
def test_what_is_no_place_is_refused(typed):
    with pytest.raises(UnitError):
        parse_place(typed)


def test_a_place_takes_the_unit_and_the_decimal_sign_it_is_given():
    """By hand: 12 1/2 in is 317.5 mm; with a decimal point, 1,234 mm is one metre and more."""
    assert parse_place("-12 1/2", "in") == -317.5
    assert parse_place("12 1/2", "in") == 317.5
    assert parse_place("-1,234 mm", decimal_sign=".") == -1234.0
    with pytest.raises(UnitError):
        parse_place("-1,234 mm")


def test_metres_go_on_in_centimetres_or_millimetres():
    """By hand: each smaller unit follows the one before it, and millimetres follow metres too."""
    assert parse_length("1 m 25 cm") == parse_length("1 m 250 mm") == 1250.0
    with pytest.raises(UnitError, match="mixes units"):
        parse_length("1 cm 1 m")
    with pytest.raises(UnitError, match="mixes units"):
        parse_length("1.5 m 20 cm")
