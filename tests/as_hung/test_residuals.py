"""Half-widths of what is fitted to errors with heavy tails, against drawing them."""

import numpy as np

from visualiser.as_hung.residuals import FREEDOM, SideSpread


def test_a_mean_of_heavy_tailed_errors_is_told_with_its_spread():
    """Means of numpy's own t variates, fitted by the weights, scatter as much as is told."""
    rng = np.random.default_rng(7)
    count, trials = 24, 1500
    means, told, weighed = [], [], []
    for _ in range(trials):
        seen = rng.standard_t(FREEDOM, count)
        spread = SideSpread(np.ones(count))
        for _ in range(12):
            mean = float((seen / spread.variance).sum() / (1 / spread.variance).sum())
            spread.learn(seen - mean, np.zeros(count))
        means.append(mean)
        told.append(1 / (1 / spread.told).sum())
        weighed.append(1 / (1 / spread.variance).sum())
    scatter = np.std(means)
    assert abs(np.sqrt(np.mean(told)) / scatter - 1) < 0.1
    assert np.sqrt(np.mean(weighed)) < 0.93 * scatter
