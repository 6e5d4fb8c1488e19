"""What is stated where the whole frame's lens and a trimmed one's both explain a drawn photo."""

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
from visualiser.rectification.camera.lens_alternatives import LensAlternative
from visualiser.rectification.lens_choice import Rival, weigh_lenses

AXIS = slice(9, 11)


def test_a_stray_edge_that_points_at_the_middle_does_not_place_the_axis():
    """The axis is drawn 150 px aside; straight before the wall nothing but that edge shows where.

    By its word the trimmed photo's axis would be known well, and not there: what a fit states for
    the lens that was not chosen must hold the truth as well.
    """
    whole, trimmed = fitted(STRAY), fitted(STRAY, trimmed_prior())
    lenses = (LensAlternative(0.7, PRIOR), LensAlternative(0.3, trimmed_prior(), trimmed=True))
    after = weigh_lenses(lenses[0], whole, Rival(0.3, trimmed), lenses)
    lens = trimmed.solution.camera.lens
    off = np.array([lens.centre_x_px - FINE_WIDTH / 2 - 150, lens.centre_y_px - FINE_HEIGHT / 2])
    far = {
        name: off @ np.linalg.solve(covariance[AXIS, AXIS], off)
        for name, covariance in (
            ("fit", trimmed.solution.covariance),
            ("told", after[1].covariance),
        )
    }
    assert far["told"] < chi2.ppf(0.95, 2) < far["fit"]
    assert [part.chance for part in after] == [0.7, 0.3]
