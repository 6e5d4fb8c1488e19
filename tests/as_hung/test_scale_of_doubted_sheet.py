"""A doubted sheet is taken where the frames beside it are seen at its scale."""

import numpy as np
import pytest

from tests.as_hung.test_check import ERRORS, camera, group, hung, painted
from visualiser.as_hung.frame import hung_frame
from visualiser.as_hung.scale import agree_in_size, confirmed_plane, sides_mm
from visualiser.photo.photo import Photo
from visualiser.rectification.reference import Reference

A4_MM, LETTER_MM = np.array([210.0, 297.0]), np.array([215.9, 279.4])
"""ISO 216:2007, table 1; ANSI/ASME Y14.1-2020, size A (8.5 by 11 in)."""
CORNER_PX = 1.0
"""Two standard uncertainties of a corner set by hand: so far may the frames' own edges move it,
which hang up to 1.2° out of true here."""
CENTRE_MM = np.array([-80.0, -440.0])


@pytest.fixture(scope="module")
def scene():
    plan = group()
    photo = Photo(painted(camera(), hung(plan, ERRORS), [p.artwork for p in plan.pieces]))
    planned = [hung_frame(piece, plan.rect(piece.id).centre_mm) for piece in plan.pieces]
    return photo, plan.pieces, planned


def doubted(times):
    """What looks like A4 and is so many times as large."""
    w, h = times * A4_MM / 2
    corners = CENTRE_MM + np.array([[-w, h], [w, h], [w, -h], [-w, -h]])
    seen = camera().project(np.c_[corners, np.zeros(4)])
    return Reference("a4", seen, *A4_MM, confidence=0.3)


def test_the_frames_pick_the_sheet_at_whose_scale_they_are_seen(scene):
    plane = confirmed_plane(*scene, [doubted(1.5), doubted(1.0)], None)
    assert plane is not None
    assert plane.reference_corners_px == pytest.approx(doubted(1.0).corners_px, abs=CORNER_PX)


def test_what_is_half_as_large_again_is_confirmed_by_no_frame(scene):
    assert confirmed_plane(*scene, [doubted(1.5)], None) is None
    assert confirmed_plane(*scene, [doubted(1.5), doubted(1.0)], camera(distance_mm=3600.0)) is None


def test_a_scale_from_the_frames_leaves_only_sheets_of_their_size(scene):
    plane = confirmed_plane(*scene, [doubted(1.5), doubted(1.0)], camera(distance_mm=2450.0))
    assert plane is not None
    side_px = np.hypot(*(np.roll(doubted(1.0).corners_px, -1, axis=0) - doubted(1.0).corners_px).T)
    ratio = sides_mm(doubted(1.0).corners_px, plane) / np.tile(A4_MM, 2)
    assert np.all(np.abs(ratio - 1) < np.sqrt(2) * CORNER_PX / side_px)


@pytest.mark.parametrize("scale", [0.95, 1.0, 1.05])
def test_a4_and_letter_are_told_apart_whatever_the_scale(scale):
    a4, letter = np.tile(A4_MM, 2), np.tile(LETTER_MM, 2)
    assert agree_in_size(scale * a4, a4)
    assert agree_in_size(scale * letter, letter)
    assert not agree_in_size(scale * letter, a4)
    assert not agree_in_size(scale * a4, letter)
