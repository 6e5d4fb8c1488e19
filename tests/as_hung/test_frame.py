"""A box's corners against rotation matrices, and their derivatives against differences."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from visualiser.as_hung.frame import HungFrame, box_corners, corners_by_place, hung_frame
from visualiser.inventory.piece import Mat, Moulding, Piece

FRAME = HungFrame(500.0, 700.0, 24.0, 0.0, 0.0)
PLACE = np.array([310.0, -120.0, 1.7, 0.9])
HEIGHT_MM, INSET_MM, UNEVEN_MM = 18.0, 3.0, (2.0, 9.0)


def test_corners_are_those_of_a_box_turned_by_scipys_rotations():
    half = FRAME.width_mm / 2 - INSET_MM
    low, high = INSET_MM + UNEVEN_MM[1], FRAME.height_mm - INSET_MM - UNEVEN_MM[0]
    flat = np.array([[-half, high], [half, high], [half, low], [-half, low]])
    box = np.c_[flat, np.full(4, HEIGHT_MM)]
    leaning = Rotation.from_euler("x", PLACE[3], degrees=True).apply(box)
    leaning[:, 1] -= FRAME.height_mm / 2
    hung = Rotation.from_euler("z", PLACE[2], degrees=True).apply(leaning) + [*PLACE[:2], 0.0]
    found = box_corners(FRAME, PLACE, HEIGHT_MM, INSET_MM, UNEVEN_MM)
    assert found == pytest.approx(hung, abs=1e-9)


def test_derivatives_are_limits_of_differences():
    whole = np.r_[PLACE, HEIGHT_MM, INSET_MM]
    derivative = corners_by_place(FRAME, PLACE, HEIGHT_MM, INSET_MM, UNEVEN_MM)
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-4
        ahead, behind = (
            box_corners(FRAME, w[:4], w[4], w[5], UNEVEN_MM) for w in (whole + step, whole - step)
        )
        assert derivative[:, :, k] == pytest.approx((ahead - behind) / 2e-4, abs=1e-5)


def test_what_has_no_depth_does_not_lean():
    """A print on the wall has nothing to tip over: a fact of the trade, no source."""
    flat = hung_frame(Piece("flat", 300.0, 200.0, moulding=None, depth_mm=0.0), (0.0, 0.0))
    assert flat.lean_deg == 0.0
    assert np.allclose(flat.corners_xyz_mm(front=True)[:, 2], 0.0)


@pytest.mark.parametrize(("rail_mm", "depth_mm"), [(22.0, 28.0), (15.0, 30.0), (30.0, 24.0)])
def test_a_rounded_face_has_turned_half_way_where_an_ellipse_has_a_slope_of_one(rail_mm, depth_mm):
    """For half axes a and b that is a (1 - a / sqrt(a^2 + b^2)) in from its end."""
    moulding = Moulding(rail_mm, depth_mm, profile="rounded")
    frame = hung_frame(Piece("round", 300.0, 400.0, moulding=moulding), (0.0, 0.0))
    a = rail_mm / 2
    b = min(0.4 * depth_mm, a)
    # To half of the spacing of the section's points there.
    assert frame.half_turned_mm == pytest.approx(a * (1 - a / np.hypot(a, b)), abs=0.13 * a)


def test_an_eased_edge_has_turned_half_way_after_an_eighth_of_its_circle():
    frame = hung_frame(Piece("flat", 300.0, 400.0, moulding=Moulding(20.0, 20.0)), (0.0, 0.0))
    assert frame.half_turned_mm == pytest.approx(1.5 * (1 - np.cos(np.pi / 4)))


def test_a_bottom_weighted_mat_leaves_its_window_where_its_borders_say():
    """A window is what outside size, rail and borders leave: plain sums."""
    piece = Piece("m", 400.0, 500.0, moulding=Moulding(20.0, 25.0), mat=Mat(50.0, 45.0, 70.0))
    frame = hung_frame(piece, (0.0, 0.0))
    edge = frame.inner
    assert edge is not None
    assert (edge.kind, edge.free_mm) == ("window", 45.0)
    upright = np.zeros(4)
    corners = box_corners(frame, upright, edge.height_mm, edge.sides_mm, edge.uneven_mm)
    size = corners[:, :2].max(axis=0) - corners[:, :2].min(axis=0)
    assert size == pytest.approx(piece.window_mm)
    assert corners[:, 1].mean() == pytest.approx((70.0 - 50.0) / 2)


def test_without_a_mat_the_lip_is_what_shows_and_without_a_moulding_nothing():
    lip = hung_frame(Piece("l", 400.0, 500.0, moulding=Moulding(20.0, 25.0)), (0.0, 0.0)).inner
    assert lip is not None
    assert (lip.kind, lip.sides_mm, lip.height_mm) == ("lip", 20.0, 25.0)
    assert hung_frame(Piece("b", 300.0, 200.0, moulding=None), (0.0, 0.0)).inner is None
