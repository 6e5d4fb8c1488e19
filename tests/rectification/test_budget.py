"""A search that ends early: what it may take, and what is stated of what it left untried."""

import numpy as np
from scipy.stats import chi2

from tests.rectification.test_fit_lines import (
    FINE_HEIGHT,
    FINE_WIDTH,
    PRIOR,
    STRAY,
    fitted,
    trimmed_prior,
)
from visualiser.rectification.budget import Budget, untried_findings
from visualiser.rectification.sorting_doubt import sorting_covariance

AXIS = slice(9, 11)


def test_parts_draw_on_the_whole_and_tell_it_what_stays_untried():
    whole = Budget(100)
    part = whole.part(0.6)
    inner = part.part(0.5)
    inner.spend(40)
    assert (whole.left, part.left, inner.left) == (60, 20, -10)
    assert not part.ended()
    assert untried_findings(whole) == []
    assert inner.ended()
    assert [f.code for f in untried_findings(whole)] == ["search-ended"]
    assert whole.part(0.5).left == 30


def test_a_search_without_time_follows_the_likeliest_sorting_and_doubts_what_it_did_not_try():
    """The axis is drawn 150 px aside, where a stray edge that is taken at its word denies it."""
    budget = Budget(0)
    hasty, thorough = (
        fitted(STRAY, trimmed_prior(), budget),
        fitted(STRAY, trimmed_prior()),
    )
    assert budget.untried
    assert hasty.solution.steps < thorough.solution.steps * 2
    lens = hasty.solution.camera.lens
    off = np.array([lens.centre_x_px - FINE_WIDTH / 2 - 150, lens.centre_y_px - FINE_HEIGHT / 2])
    stated = hasty.solution.covariance + sorting_covariance(hasty)
    assert off @ np.linalg.solve(stated[AXIS, AXIS], off) < chi2.ppf(0.95, 2)


def test_where_nothing_is_left_to_try_little_time_is_enough():
    whole = fitted(STRAY[:4], PRIOR)
    budget = Budget(4 * whole.solution.steps)
    again = fitted(STRAY[:4], PRIOR, budget)
    assert not budget.untried
    assert again.price == whole.price
