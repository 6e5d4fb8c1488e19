"""What is known of level, weighed against the plan."""

import numpy as np
import pytest

from visualiser.hanging.judging import levelled

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
