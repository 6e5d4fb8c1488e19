import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from visualiser.errors import HangingError
from visualiser.hanging.loads import (
    GRAVITY,
    hook_load,
    leg_angle_deg,
    leg_factor,
    pull_out_n,
    shares,
    wire_tension_n,
)
from visualiser.inventory.bearing import Bearing, bearing, wire_rise_mm
from visualiser.inventory.piece import Hanger, Moulding, Piece

# OSHA, Guidance on Safe Sling Use, Table 1: Grade 80 chain, rated lb by size; single leg vertical,
# then double-leg bridle at 60°, 45° and 30° from the horizontal.
OSHA_TABLE_1 = [
    (2100, 3600, 3000, 2100),
    (3500, 6100, 4900, 3500),
    (4500, 7800, 6400, 4500),
    (7100, 12300, 10000, 7100),
    (12000, 20800, 17000, 12000),
    (18100, 31300, 25600, 18100),
    (28300, 49000, 40000, 28300),
    (34200, 59200, 48400, 34200),
    (47700, 82600, 67400, 47700),
    (72300, 125200, 102200, 72300),
]


@pytest.mark.parametrize("row", OSHA_TABLE_1, ids=lambda row: str(row[0]))
@pytest.mark.parametrize(("column", "angle"), [(1, 60), (2, 45), (3, 30)])
def test_two_legs_against_the_published_sling_table(row, column, angle):
    """A leg of rating R carries a shared load of 2 R / factor. The table rounds to 100 lb."""
    capacity = 2 * row[0] / leg_factor(angle)
    assert capacity == pytest.approx(row[column], rel=0.002 if row[0] >= 12000 else 0.011)
    if angle == 30:
        assert capacity == pytest.approx(row[column], rel=1e-12)


@pytest.mark.parametrize(
    ("angle", "factor"),
    [
        (90, 1.000), (85, 1.004), (80, 1.015), (75, 1.035), (70, 1.064), (65, 1.103), (60, 1.155),
        (55, 1.221), (50, 1.305), (45, 1.414), (40, 1.556), (35, 1.743), (30, 2.000),
    ],
)  # fmt: skip
def test_leg_factors_of_rigging_charts(angle, factor):
    """Load-angle factors as rigging charts print them; 65°, 40° and 35° to the exact last digit."""
    assert leg_factor(angle) == pytest.approx(factor, abs=5.1e-4)


@pytest.mark.parametrize("angle", [0, -10, 90.1, math.nan])
def test_no_leg_is_level(angle):
    with pytest.raises(ValueError, match="angle"):
        leg_factor(angle)


def test_worked_wire():
    """Points 400 mm apart, wire 440 mm, one hook: 24.62°, tension 1.2002 weights per leg."""
    angle = leg_angle_deg(200, wire_rise_mm(400, 440))
    assert angle == pytest.approx(24.62, abs=5e-3)
    assert wire_tension_n(1.0, angle) / GRAVITY == pytest.approx(1.2002, abs=5e-5)


def hanging_frame(spacing, length, apart):
    """Rest of a frame on a frictionless wire over fixed hooks, by least potential energy.

    Unknown are the frame's place and turn; the wire is no longer than ``length``. Returned are the
    sag, the tension in weights (how fast the energy falls with a longer wire) and the force on the
    left hook from the wire's two directions. The centre of gravity lies far below the fixing
    points: nearer by, a frame without friction would tip off the level.
    """
    hooks = np.array([[-apart / 2, 0.0], [apart / 2, 0.0]])

    def ends(pose):
        x, y, turn = pose
        half = np.array([math.cos(turn), math.sin(turn)]) * spacing / 2
        return np.array([x, y]) - half, np.array([x, y]) + half

    def settle(wire):
        def height(pose):
            return pose[1] - 2 * spacing * math.cos(pose[2])

        def spare(pose):
            left, right = ends(pose)
            return wire - apart - np.hypot(*(left - hooks[0])) - np.hypot(*(right - hooks[1]))

        found = minimize(
            height,
            [0.01 * spacing, -0.3 * length, 0.05],
            method="SLSQP",
            constraints=[{"type": "ineq", "fun": spare}],
            options={"ftol": 1e-15, "maxiter": 500},
        )
        assert abs(found.x[2]) < 1e-4
        return found.x

    step = 1e-4 * length
    tension = -(settle(length + step)[1] - settle(length - step)[1]) / (2 * step)
    rest = settle(length)
    left, right = ends(rest)
    outwards = (left - hooks[0]) / np.hypot(*(left - hooks[0]))
    inwards = np.array([1.0, 0.0]) if apart else (right - hooks[0]) / np.hypot(*(right - hooks[0]))
    return -rest[1], tension, tension * (outwards + inwards)


@pytest.mark.parametrize(
    ("spacing", "length", "apart"),
    [(400, 440, 0.0), (400, 600, 0.0), (500, 540, 160), (457.2, 533.4, 152.4), (600, 800, 300)],
)
def test_against_the_rest_of_a_frictionless_wire(spacing, length, apart):
    """Independent: scipy finds where the frame comes to rest; statics must agree."""
    hanger = Hanger(
        "wire",
        spacing_mm=spacing,
        wire_length_mm=length,
        attachment_drop_mm=450,
        hooks=2 if apart else 1,
        hook_spacing_mm=apart or None,
    )
    piece = Piece("a", 700, 900, hanger=hanger, weight_kg=5.0)
    bears = bearing(piece)
    load = hook_load(piece, bears)
    sag, tension, on_hook = hanging_frame(spacing / 100, length / 100, apart / 100)
    weight = 5.0 * GRAVITY
    assert bears.leg_rise_mm == pytest.approx(100 * sag, rel=1e-4)
    assert load.wire_n == pytest.approx(weight * tension, rel=1e-3)
    assert load.down_n == pytest.approx(-weight * on_hook[1], rel=1e-3)
    assert load.sideways_n == pytest.approx(weight * abs(on_hook[0]), rel=1e-3, abs=0.05)


@pytest.mark.parametrize("hooks", [1, 2])
def test_a_wire_of_unknown_slope_is_reckoned_the_same_over_one_hook_or_two(hooks):
    """A leg at 30° pulls the whole weight: T = W / (2 sin 30°) (statics; OSHA's factor 2.000).

    On two hooks no slope may ask more of them than is reckoned where none is known.
    """
    piece = Piece(
        "a",
        700,
        1600,
        hanger=Hanger("wire", 60, 600, hooks=hooks, hook_spacing_mm=200),
        weight_kg=5,
    )
    unknown = hook_load(piece, bearing(piece))
    assert unknown.slope_unknown
    assert unknown.wire_n is None
    assert unknown.part_n == pytest.approx(5 * GRAVITY)
    run = 300 if hooks == 1 else 200
    for angle in (16, 30, 45, 60, 74):
        drop = 60 + run * math.tan(math.radians(angle))
        known_hanger = replace(piece.hanger, attachment_drop_mm=drop)
        known = hook_load(piece, bearing(replace(piece, hanger=known_hanger)))
        assert not known.slope_unknown
        assert known.wire_angle_deg == pytest.approx(angle)
        assert known.total_n <= unknown.total_n + 1e-9
        if angle >= 30:
            assert known.part_n <= unknown.part_n + 1e-9


@given(st.floats(0, 1000), st.floats(1, 1000))
def test_two_hooks_share_by_moments(left, right):
    on_left, on_right = shares(left, right)
    assert on_left + on_right == pytest.approx(1)
    assert on_left * left == pytest.approx(on_right * right)
    assert (on_left >= on_right) == (left <= right)


def test_the_hook_nearer_the_middle_carries_more():
    """Hooks 100 mm left and 300 mm right of the centre: three quarters and a quarter."""
    assert shares(100, 300) == (0.75, 0.25)
    uneven = Bearing("d-rings", ((-100, -90), (300, -90)), 90, "measured")
    load = hook_load(Piece("a", 700, 900, weight_kg=4.0), uneven)
    assert load.down_n == pytest.approx(3.0 * GRAVITY)


def test_lever_of_a_deep_frame():
    """10 kg, 80 mm deep, hook 500 mm above the lower edge: 98.07 N × 40 / 500 = 7.845 N."""
    assert pull_out_n(10, 80, 500) == pytest.approx(7.845, abs=1e-3)
    piece = Piece(
        "a", 500, 600, moulding=Moulding(20, 80), hanger=Hanger("d-rings", 100, 300), weight_kg=10
    )
    assert hook_load(piece, bearing(piece)).pull_out_n == pytest.approx(7.845 / 2, abs=1e-3)


def test_fixings_are_chosen_for_the_upper_end_of_the_weight():
    piece = Piece("a", 500, 600, weight_kg=10, weight_sigma_kg=1, hanger=Hanger("sawtooth", 20))
    load = hook_load(piece, bearing(piece))
    assert load.down_n == pytest.approx(10 * GRAVITY)
    assert load.down_sigma_n == pytest.approx(1 * GRAVITY)
    assert load.design_kg == pytest.approx(load.total_n / GRAVITY * 1.196)


def test_strips_carry_the_whole_weight_and_its_doubt():
    """2 kg ± 0.1 kg on no hook: 19.61 N, with a standard uncertainty of 0.981 N."""
    piece = Piece("a", 300, 400, hanger=Hanger("strips"), weight_kg=2, weight_sigma_kg=0.1)
    load = hook_load(piece, bearing(piece))
    assert (load.hooks, load.wired) == (0, False)
    assert load.down_n == pytest.approx(2 * GRAVITY)
    assert load.down_sigma_n == pytest.approx(0.1 * GRAVITY)
    assert (load.sideways_n, load.pull_out_n) == (0.0, 0.0)


def test_a_hook_below_the_frame_is_refused():
    with pytest.raises(HangingError, match="lower edge"):
        hook_load(Piece("a", 500, 600), Bearing("sawtooth", ((0, -600),), 600, "measured"))
