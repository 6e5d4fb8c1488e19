"""Where the finder decides: what weighs how much, and from which probability a find is taken.

Weights were fitted by logistic regression, none allowed below 0 (a feature is drawn up so that more
of it speaks for a sheet), on candidates in path-traced rooms, in photographs under MIT and Apache
licences and in 120 CC0 photographs without a sheet, as an earlier network saw them. The log-odds
were then turned into a probability on photographs of other sources. How, and what came of it,
stands in tests/training/README.md.
"""

from __future__ import annotations

import numpy as np

INTERCEPT = -2.4606
WEIGHTS = {
    "mask from afar": 0.1783,
    "overlap from afar": 2.3509,
    "card or sheet": 0.2966,
    "found again": 1.4781,
    "misfit": 0.4719,
    "telling": 0.214,
    "facing": 0.4208,
    "rimmed": 0.3085,
    "free": 0.3174,
    "flat": 0.8594,
    "support": 0.18,
    "own corners": 0.994,
    "straight": 1.0205,
    "lighter": 0.0981,
    "distance": 0.2402,
    "even": 0.2025,
    "whole": 0.4995,
    "smooth": 1.1981,
    "unbroken": 0.16,
}
"""Log-odds for each unit of a feature of `weighing`. Two were raised by hand.

`unbroken` was fitted to 0.045, as no picture of it shows the blank corner of a larger board, which
only a side that breaks off tells from a sheet; at 0.16 a drawn one is refused, at the cost of one
sheet in 83 photographs. `support` was fitted to 0.064, as none shows a white shape with round
corners as large as a sheet; at 0.18 a drawn one is refused, at the cost of one more.
"""
SLOPE, SHIFT = 1.6, -2.6
"""Line from these log-odds to those of being right, fitted to the best candidates for each of 485
asks in photographs of sources that the weights know nothing of, as the earlier network saw them. It
holds for the present one too: tests/training/README.md. A pad of paper on a stand, the likeliest
find that is no sheet, has 0.65 by it."""
ACCEPTANCE = 2 / 3
"""Probability from which a find is taken without a question: a wrong scale costs more than a tap.
It lies above `EITHER`, and below what a target or a marker has."""
ANOTHER_KIND = 0.1
"""Odds that what hangs there is of another common size than the one that was named: one person in
ten takes Letter for A4 (an assumption, no source)."""
SIZE_DOUBT = 0.05
"""Probability of another common size above which a find is asked about."""
CONTRADICTED, EITHER = 0.3, 0.6
"""Probability at most of a size that another common one fits better, and of one that may be another
with more than that probability: never taken, still offered."""
USUAL = {
    "mask from afar": 1.9,
    "overlap from afar": 0.95,
    "card or sheet": 5.1,
    "found again": 1.0,
    "misfit": -0.6,
    "telling": 1.5,
    "lighter": 1.0,
}
"""What right finds have in the middle; 0 of every other feature."""
NOTABLE = -0.5
"""Log-odds that a feature takes away, compared with right finds, to be named as a doubt."""
DOUBTS = {
    "mask from afar": "it does not look like paper or a card",
    "overlap from afar": "its outline is not that of the paper seen there",
    "card or sheet": "it looks like another kind of thing",
    "found again": "its edges are not found again at full resolution",
    "misfit": "its shape is not that of such a sheet",
    "telling": "it is too small in the picture for its shape to tell",
    "facing": "it is seen very much from the side",
    "rimmed": "it has a frame around it",
    "free": "it has a frame around it",
    "flat": "it casts a shadow, as a frame or a canvas does",
    "support": "its edges do not show all along its sides",
    "own corners": "its edges run on past its corners",
    "straight": "its sides are not straight",
    "lighter": "it is darker than what surrounds it",
    "distance": "it would be very far away",
    "even": "its sides are not of one colour",
    "whole": "it runs into the edge of the picture",
    "smooth": "it is not as smooth as paper",
    "unbroken": "one of its sides breaks off: something of its colour goes on there",
}
"""What each feature says where it speaks against a find."""


def against(features: dict[str, float]) -> str:
    """Say in words what speaks most against a find; nothing where nothing notable does."""
    lost = {name: w * (features[name] - USUAL.get(name, 0.0)) for name, w in WEIGHTS.items()}
    name = min(lost, key=lambda one: lost[one])
    return DOUBTS[name] if lost[name] < NOTABLE else ""


def log_odds(features: dict[str, float]) -> float:
    """Weigh features into log-odds of being a sheet or card and outlined rightly."""
    return INTERCEPT + sum(weight * features[name] for name, weight in WEIGHTS.items())


def probability(
    odds: float, kind_gain: float = np.inf, another_kind: float = ANOTHER_KIND
) -> float:
    """Turn log-odds into the probability of being right.

    Parameters
    ----------
    odds
        From `log_odds`.
    kind_gain
        Log-likelihood by which the shape fits the size looked for better than another common one.
    another_kind
        Odds of that other size before anything was seen.
    """
    other = another_kind * float(np.exp(-np.clip(kind_gain, -30, 30)))
    outlined = float(1 / (1 + np.exp(-(SLOPE * odds + SHIFT))))
    if kind_gain < 0:
        # A person who named the wrong size is shown the sheet all the same: capped, so that it is
        # offered and never taken.
        return min(outlined / (1 + min(other, 1.0)), CONTRADICTED)
    sure = outlined / (1 + other)
    return min(sure, EITHER) if is_either(kind_gain, another_kind) else sure


def is_either(kind_gain: float, another_kind: float = ANOTHER_KIND) -> bool:
    """Decide whether the size is too much in doubt to be taken; parameters as `probability`."""
    other = another_kind * float(np.exp(-np.clip(kind_gain, -30, 30)))
    return other / (1 + other) > SIZE_DOUBT


def log_odds_of_another_kind(features: dict[str, float], misfit: float, kind_gain: float) -> float:
    """Give the log-odds of being a sheet of the size that fits better than the one looked for.

    Parameters
    ----------
    features
        As for the size looked for.
    misfit
        That feature, as for the other size.
    kind_gain
        Log-likelihood, below 0, by which the size looked for fits better.
    """
    odds = log_odds({**features, "misfit": misfit})
    return float(SLOPE * odds + SHIFT - np.log1p(np.exp(np.clip(kind_gain, -30, 0))))
