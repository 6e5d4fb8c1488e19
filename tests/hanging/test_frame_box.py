"""A box's corners against rotation matrices, and their derivatives against differences."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from visualiser.hanging.frame_box import HungFrame, box_corners, corners_by_place, hung_frame
from visualiser.inventory.piece import Moulding, Piece

FRAME = HungFrame(500.0, 700.0, 24.0, 0.0, 0.0)
PLACE = np.array([310.0, -120.0, 1.7, 0.9])
HEIGHT_MM, INSET_MM = 18.0, 3.0


def test_corners_are_those_of_a_box_turned_by_scipys_rotations():
    half = FRAME.width_mm / 2 - INSET_MM
    low, high = INSET_MM, FRAME.height_mm - INSET_MM
    flat = np.array([[-half, high], [half, high], [half, low], [-half, low]])
    box = np.c_[flat, np.full(4, HEIGHT_MM)]
    leaning = Rotation.from_euler("x", PLACE[3], degrees=True).apply(box)
    leaning[:, 1] -= FRAME.height_mm / 2
    hung = Rotation.from_euler("z", PLACE[2], degrees=True).apply(leaning) + [*PLACE[:2], 0.0]
    assert box_corners(FRAME, PLACE, HEIGHT_MM, INSET_MM) == pytest.approx(hung, abs=1e-9)


def test_derivatives_are_limits_of_differences():
    whole = np.r_[PLACE, HEIGHT_MM, INSET_MM]
    derivative = corners_by_place(FRAME, PLACE, HEIGHT_MM, INSET_MM)
    for k in range(6):
        step = np.zeros(6)
        step[k] = 1e-4
        ahead, behind = (
            box_corners(FRAME, w[:4], w[4], w[5]) for w in (whole + step, whole - step)
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
