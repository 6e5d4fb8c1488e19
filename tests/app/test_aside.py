"""Work beside the page comes back, fails in its own words, and ends when it is stopped."""

import time

import pytest

from visualiser.app.aside import set_aside
from visualiser.arrangement.proposing import propose
from visualiser.errors import UnitError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.units import parse_length


def test_what_is_worked_out_aside_is_the_same():
    pieces = tuple(Piece(f"p{n}", 300 + 50 * n, 400) for n in range(3))
    survey = Survey.from_size(4000, 2500)
    aside = set_aside(propose, pieces, survey, None, None, 2)
    here = propose(pieces, survey, count=2)
    assert [a.placements for a in aside.result()] == [a.placements for a in here]
    assert aside.done


def test_errors_keep_their_sentences():
    with pytest.raises(UnitError) as here:
        parse_length("wide")
    with pytest.raises(VisualiserError) as aside:
        set_aside(parse_length, "wide").result()
    assert (aside.value.message, aside.value.hint) == (here.value.message, here.value.hint)


def test_it_ends_at_once_when_stopped():
    aside = set_aside(time.sleep, 600)
    assert not aside.done
    aside.stop()
    assert aside.done


def test_being_killed_is_told():
    aside = set_aside(time.sleep, 600)
    aside.process.kill()
    with pytest.raises(VisualiserError, match="cut short"):
        aside.result()
