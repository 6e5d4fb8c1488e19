"""What is known of level, weighed against the plan; and of a scale that only the frames give."""

from types import SimpleNamespace

import numpy as np
import pytest

from visualiser.as_hung.fit import FrameFit
from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.judge import SCALE_FROM_GROUP, Tolerances, compare_with_plan, levelled
from visualiser.findings import Finding

PLAN_MM = np.array([[-600.0, 0.0], [0.0, 300.0], [600.0, -100.0], [100.0, -400.0]])


def turned(degrees):
    """What is measured of a group that hangs as planned when level is wrong by an angle."""
    arm = PLAN_MM - PLAN_MM.mean(axis=0)
    angle = np.radians(degrees)
    return np.c_[-angle * arm[:, 1], angle * arm[:, 0], np.full(len(arm), degrees)]


def uncertain(level_sigma_deg, own_sigma=0.3):
    """Covariance of places that share level's error."""
    shared = level_sigma_deg * turned(1.0).ravel()
    return np.outer(shared, shared) + own_sigma**2 * np.eye(3 * len(PLAN_MM))


def test_a_level_that_is_known_is_kept():
    off, _, share = levelled(turned(0.5), uncertain(1e-3, own_sigma=1e-3), PLAN_MM)
    assert share < 0.01
    assert off == pytest.approx(turned(0.5), abs=0.05)


def test_a_level_that_is_not_known_is_taken_from_the_plan():
    off, covariance, share = levelled(turned(2.0), uncertain(5.0), PLAN_MM)
    assert share > 0.9
    assert np.abs(off[:, 2]).max() < 0.1
    assert np.diag(covariance)[2::3].max() < 1.0


def test_a_level_that_the_group_contradicts_is_not_believed():
    off, covariance, share = levelled(turned(6.0), uncertain(0.1), PLAN_MM)
    assert share > 0.9
    assert np.abs(off[:, 2]).max() < 0.3
    # What the plan tells of level is no better than pieces are hung.
    assert np.sqrt(np.diag(covariance)[2::3]).min() > 0.3


def test_one_piece_that_was_misread_does_not_turn_the_group():
    off = np.zeros((len(PLAN_MM), 3))
    off[2] = [20.0, 90.0, 2.0]
    after, _, share = levelled(off, uncertain(0.05, own_sigma=0.1), PLAN_MM)
    assert share < 0.1
    assert np.abs(after - off)[:, 2].max() < 0.1


def group_alone(clear_share):
    """Half-widths and codes where the frames are the only scale, all hung as planned."""
    frames = tuple(HungFrame(400, 500, 20, x, y) for x, y in PLAN_MM)
    scale = Finding("advice", "", "", SCALE_FROM_GROUP)
    fit = FrameFit(
        SimpleNamespace(findings=(scale,)), frames, 0.04 * np.eye(5 * len(frames)),
        np.full(len(frames), 4), np.zeros(0), 0.8,
    )  # fmt: skip
    group = compare_with_plan(fit, frames, Tolerances(), clear_share)
    return group, {finding.code for finding in group.findings}


def test_where_the_frames_are_the_scale_far_ones_are_known_less():
    """Closed form: a scale uniformly within 6 mm in 500 either way (JCGM 100:2008, 4.3.7)."""
    group, codes = group_alone(1.0)
    assert "hardly-clear" not in codes
    left = PLAN_MM[0, 0] - PLAN_MM[:, 0].mean()
    stretch = 6 / 500 / np.sqrt(3)
    expected = 1.96 * np.hypot(stretch * left, 0.2 * np.sqrt(0.75))
    assert group.half_widths[0, 0] == pytest.approx(expected, rel=0.05)


def test_where_hardly_a_frame_is_clear_no_far_piece_is_said_to_be_off():
    group, codes = group_alone(0.3)
    assert "hardly-clear" in codes
    certain, _ = group_alone(1.0)
    assert group.half_widths[0, 0] > 2.5 * certain.half_widths[0, 0]
    assert group.verdict(0) == "unsure"
