import numpy as np
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Rect
from visualiser.inventory.piece import Artwork, Moulding, Piece
from visualiser.rendering.mockup import MockupOptions
from visualiser.rendering.straight_on import render_straight_on, straighten


def test_the_straightened_sheet_is_upright_and_to_scale(oblique, painted):
    _, straight = straighten(painted(oblique), oblique, Rect(-1400, 1000, 1200, 900), 2.0)
    corners = straight.plane.reference_corners_px
    size = corners[2] - corners[0]
    assert size * 2.0 == pytest.approx([210, 297], abs=0.1)
    assert corners[0, 1] == pytest.approx(corners[1, 1], abs=0.05)


def test_pixels_go_where_the_survey_says(oblique, painted):
    photo, straight = straighten(painted(oblique), oblique, Rect(-1400, 1000, 1200, 900), 2.0)
    corners = straight.plane.reference_corners_px
    inside = photo.pixels[corners[:, 1].min().astype(int) + 4 : corners[:, 1].max().astype(int) - 4]
    row = inside[len(inside) // 2].astype(int).sum(axis=1)
    steps = np.abs(np.diff(row))
    left, right = corners[:, 0].min(), corners[:, 0].max()
    assert steps[int(left) - 3 : int(left) + 4].max() > 30
    assert steps[int(right) - 3 : int(right) + 4].max() > 30


def test_a_framed_piece_measures_what_it_is(oblique, painted):
    art = Artwork(np.full((40, 50, 3), 120, np.uint8))
    piece = Piece("a", 500, 400, moulding=Moulding(20, 25, "black"), artwork=art)
    arrangement = Arrangement((piece,), (Placement("a", -200, 1500),))
    mockup = render_straight_on(
        painted(oblique), oblique, arrangement, MockupOptions(grain=False), mm_per_px=2.0
    )
    corners = mockup.corners_px["a"]
    # The front is 25 mm nearer to a camera 12 m off: a fifth of a per cent larger.
    assert (corners[2] - corners[0]) * mockup.mm_per_px == pytest.approx([500, 400], rel=0.003)
    assert mockup.mm_per_px == pytest.approx(2.0)


def test_dimensions_can_be_left_out(oblique, painted):
    piece = Piece("a", 500, 400)
    arrangement = Arrangement((piece,), (Placement("a", -200, 1500),))
    plain, measured = (
        render_straight_on(painted(oblique), oblique, arrangement, mm_per_px=2.5, unit=unit).pixels
        for unit in (None, "in")
    )
    assert plain.shape == measured.shape
    assert (plain != measured).any(axis=2).sum() > 200
