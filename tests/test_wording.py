"""Lengths in sentences; 25.4 mm are one inch (international yard and pound agreement, 1959)."""

import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from visualiser.units import parse_length
from visualiser.wording import (
    BothUnits,
    Length,
    Lengths,
    Sentence,
    capitalised,
    in_unit,
    joined,
    sentence,
)

CASES = {
    "a length": (Length(1524.0), "1524 mm", "60 in", "152.4 cm"),
    "one with decimals": (Length(19.05, 1), "19.1 mm", "3/4 in", "1.9 cm"),
    "one as it was typed": (Length(50.5, None), "50.5 mm", "2 in", "5.1 cm"),
    "a half-width": (Length(6.2, up=True), "7 mm", "1/4 in", "0.7 cm"),
    "a size": (Lengths((1270.0, 635.0)), "1270 x 635 mm", "50 × 25 in", "127.0 × 63.5 cm"),
    "a range": (Lengths((50.8, 76.2), " to "), "51 to 76 mm", "2 to 3 in", "5.1 to 7.6 cm"),
    "both units": (BothUnits(914.4), "914 mm (36 in)", "36 in", "91.4 cm"),
    "a half-width in both": (BothUnits(4.2, True), "± 5 mm (3/16 in)", "± 3/16 in", "± 0.5 cm"),
}


@pytest.mark.parametrize("name", CASES)
def test_a_length_in_millimetres_inches_and_centimetres(name):
    part, plain, inches, centimetres = CASES[name]
    made = sentence("It is ", part, ".")
    assert str(made) == f"It is {plain}."
    assert made.in_unit("in") == f"It is {inches}."
    assert made.in_unit("cm") == f"It is {centimetres}."


@given(st.floats(0, 1e5), st.sampled_from(["mm", "cm", "m", "in", "ft"]))
def test_what_is_said_reads_back_to_half_a_step(mm, unit):
    step = 25.4 / 16 if unit in ("in", "ft") else 1.0
    assert abs(parse_length(Length(mm).in_unit(unit)) - mm) <= step / 2 + 1e-6


@given(st.floats(0.01, 1e3), st.sampled_from(["mm", "in"]))
def test_a_half_width_never_promises_more_than_it_holds(mm, unit):
    said = parse_length(Length(mm, up=True).in_unit(unit))
    step = 25.4 / 16 if unit == "in" else 1.0
    assert mm - 1e-6 <= said < mm + step + 1e-6


def test_sentences_keep_their_lengths_however_they_are_put_together():
    way = sentence("left by ", Length(25.4))
    whole = capitalised("move it " + joined([way, "then stop"], " and ")) + "."
    assert isinstance(whole, Sentence)
    assert whole == "Move it left by 25 mm and then stop."
    assert whole.in_unit("in") == "Move it left by 1 in and then stop."
    assert sentence("So: ", whole).in_unit("in").endswith("1 in and then stop.")


def test_a_sentence_goes_to_another_process_and_comes_back_whole():
    made = sentence("± ", Length(3.0, up=True), " here")
    back = pickle.loads(pickle.dumps(made))
    assert back == made
    assert back.parts == made.parts


def test_words_without_lengths_stay_as_they_are():
    assert in_unit("1524 mm is what the label says", "in") == "1524 mm is what the label says"
    assert capitalised("") == ""


def test_sixteenths_are_the_trades_step():
    assert Fraction(parse_length(Length(30.0).in_unit("in")) / 25.4).limit_denominator(16) == (
        Fraction(19, 16)
    )
