"""Work beside the page comes back, fails in its own words, and ends when it is stopped."""

import time

import pytest

from visualiser.app.child_process import say_in_child, start_process
from visualiser.arrangement.proposing import propose
from visualiser.errors import UnitError, VisualiserError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.units import parse_length


def test_what_is_worked_out_aside_is_the_same():
    pieces = tuple(Piece(f"p{n}", 300 + 50 * n, 400) for n in range(3))
    survey = Survey.from_size(4000, 2500)
    child = start_process(propose, pieces, survey, None, None, 2)
    here = propose(pieces, survey, count=2)
    assert [a.placements for a in child.result()] == [a.placements for a in here]
    assert child.done


def test_errors_keep_their_sentences():
    with pytest.raises(UnitError) as here:
        parse_length("wide")
    with pytest.raises(VisualiserError) as aside:
        start_process(parse_length, "wide").result()
    assert (aside.value.message, aside.value.hint) == (here.value.message, here.value.hint)


def test_it_ends_at_once_when_stopped():
    child = start_process(time.sleep, 600)
    assert not child.done
    child.stop()
    assert child.done


def test_being_killed_is_told():
    child = start_process(time.sleep, 600)
    child.process.kill()
    with pytest.raises(VisualiserError, match="cut short"):
        child.result()


def test_it_says_how_far_it_is():
    child = start_process(say_in_child, "Joining photo 2 of 3 …")
    child.process.wait()
    assert child.words == "Joining photo 2 of 3 …"
    child.result()
    assert not child.said.exists()
