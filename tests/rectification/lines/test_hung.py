"""Likelihoods of hung things' edges, against a sum over rolls done another way."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from tests.rectification.lines.test_detect import FINE_WIDTH, piece
from tests.rectification.lines.test_things import frame
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.hung import ROLL_SHARES, ROLL_SIGMAS, by_roll, take
from visualiser.rectification.lines.priors import ANYHOW_DENSITY, LinePriors

LINES = [*frame("a", 1000, 600, 400, 500), piece("ceiling", [60, 150], [2500, 150])]
PRIORS = LinePriors.of(LINES, FINE_WIDTH, ModelTerms())
EXTRA = np.full((1, len(LINES), 3), np.radians(0.1) ** 2)


def before_the_wall(roll_deg):
    """Angles (1, L, 3) to plumb, level and away, of a frame rolled before a wall straight ahead."""
    off = np.zeros((1, len(LINES), 3))
    upright = [False, True, False, True, False]
    for i, (line, is_upright) in enumerate(zip(LINES, upright, strict=True)):
        roll = np.radians(roll_deg) if line.name.startswith("a") else 0.0
        off[0, i] = (
            [np.sin(roll), np.cos(roll), 0.1] if is_upright else [np.cos(roll), -np.sin(roll), 0.1]
        )
    return off


def taken(roll_deg):
    return take(PRIORS, before_the_wall(roll_deg), EXTRA, np.ones_like(EXTRA))


@pytest.mark.parametrize("roll_deg", [0.0, 0.3, -0.8, 2.5])
def test_the_likelihood_is_summed_up_over_rolls(roll_deg):
    """By adaptive quadrature, the density written out once more."""
    off, extra = before_the_wall(roll_deg)[0, :4], EXTRA[0, :4].copy()
    extra[:, 0] += (off[:, 2] * np.radians(0.7)) ** 2
    rolled = by_roll(off)

    def density(roll):
        whole = sum(
            share * norm.pdf(roll, 0, sigma)
            for share, sigma in zip(ROLL_SHARES, ROLL_SIGMAS, strict=True)
        )
        for i in range(4):
            true = PRIORS.true_share[i] * norm.pdf(
                off[i] + rolled[i] * roll, 0, np.sqrt(PRIORS.true_sigma[i] ** 2 + extra[i])
            )
            loose = PRIORS.crooked_share[i] * norm.pdf(
                off[i], 0, np.sqrt(PRIORS.crooked_sigma[i] ** 2 + extra[i])
            )
            whole *= true.sum() + loose.sum() + PRIORS.none_share[i] * ANYHOW_DENSITY
        return whole / PRIORS.best_density[:4].prod()

    reach = np.radians(6)
    at = np.radians(roll_deg)
    expected = -2 * np.log(quad(density, -reach, reach, points=[at, -at, 0.0], limit=400)[0])
    frame_alone = taken(roll_deg).misfit[0] - PRIORS.joint_misfit(
        np.r_[np.zeros(4), taken(roll_deg).misfits[0, 4]]
    )
    assert frame_alone == pytest.approx(expected, abs=0.05)


def test_a_frame_askew_is_one_surprise_not_four():
    """Its four sides stray by 0.8 degrees; the sum over edges taken one by one is far higher."""
    askew, true = taken(-0.8), taken(0.0)
    assert (askew.true[0, :4].max(axis=1) > 0.8).all()
    one_by_one = PRIORS.taken(before_the_wall(-0.8), EXTRA)[2][0, :4].sum()
    straight = PRIORS.taken(before_the_wall(0.0), EXTRA)[2][0, :4].sum()
    assert askew.misfit[0] - true.misfit[0] < 0.3 * (one_by_one - straight)


def test_how_a_thing_may_be_rolled_follows_from_how_it_hangs():
    true, askew = taken(0.05).roll_sigma[0, 0], taken(-1.5).roll_sigma[0, 0]
    assert true < 1.5 * ROLL_SIGMAS[0]
    assert askew == pytest.approx(ROLL_SIGMAS[1], rel=0.05)
