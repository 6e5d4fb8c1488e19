"""Papers that repeat are seen to, and notes on them say where photos belong; all of it drawn."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.joined.drawn_walls import FLOOR_MM, draw_wall
from tests.rectification.joined.printed_paper import printed_paper
from visualiser.errors import MeasurementError
from visualiser.rectification.joined.join import join_photos
from visualiser.rectification.joined.repeats import fit_in_place

ACROSS_MM = 530.0
"""Width of a roll of wallpaper (common practice, no source)."""
LONG_MM = 1600.0


def drawn_with(paper):
    return draw_wall(3, length_mm=3200.0, photos=2, long_px=900, wall="plain", skin=paper)


def moved(camera, along_mm):
    """The same camera further along the wall."""
    shift = camera.rotation @ np.array([along_mm, 0.0, 0.0])
    return replace(camera, translation_mm=camera.translation_mm - shift)


@pytest.fixture(scope="module")
def bare():
    return drawn_with(printed_paper(1, ACROSS_MM, 640.0))


@pytest.fixture(scope="module")
def noted(bare):
    paper = printed_paper(1, ACROSS_MM, 640.0, notes_mm=notes_between(bare))
    return drawn_with(paper)


def notes_between(drawn):
    """Where notes hang in the overlap, from the lower left of what is papered, mm."""
    ends = [drawn.seen_at(k, np.array([[x, 340.0]]))[0, 0] for k, x in ((0, 899.0), (1, 0.0))]
    left = drawn.left_mm - 1200
    middle = np.mean(ends) - left
    return [(middle - 200, 300 - FLOOR_MM), (middle + 80, -250 - FLOOR_MM)]


def test_paper_alone_fits_a_period_further_as_well(bare):
    fit = fit_in_place(bare.photos, bare.cameras)
    assert not fit.settled
    along = [one.shift_mm for one in fit.rivals]
    assert any(abs(abs(x) % ACROSS_MM) < 10 and abs(y) < 10 for x, y in along)


def test_notes_that_both_show_settle_it(noted):
    assert fit_in_place(noted.photos, noted.cameras).settled


@pytest.mark.parametrize("periods", [-1, -2])
def test_a_photo_put_wrong_by_a_period_is_not_settled_by_them(noted, periods):
    one, other = noted.cameras
    assert not fit_in_place(noted.photos, (one, moved(other, periods * ACROSS_MM))).settled


def test_what_does_not_repeat_has_no_rival(drawn):
    fit = fit_in_place(drawn.photos, drawn.cameras)
    assert fit.settled
    assert not fit.rivals


def test_a_wall_whose_pattern_repeats_is_refused_by_its_photos():
    """Where most of both photos is alike a period apart, features put them there."""
    drawn = drawn_with(printed_paper(2, LONG_MM, 640.0))
    with pytest.raises(MeasurementError, match=r"Photos 1 and 2 .*pattern repeats") as refusal:
        join_photos(drawn.photos, drawn.references())
    assert "notes" in refusal.value.hint
