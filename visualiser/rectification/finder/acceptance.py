"""Where the finder decides: what weighs how much, and from which probability a find is taken.

Weights were fitted by logistic regression, none allowed below 0 (a feature is drawn up so that more
of it speaks for a sheet), on candidates in path-traced rooms, in photographs under MIT and Apache
licences, in 130 CC0 and MIT photographs without a sheet, and on right outlines asked for as other
shapes. The log-odds were then turned into a probability on photographs of other sources. How, and
what came of it, stands in tests/training/README.md.
"""

from __future__ import annotations

import numpy as np

INTERCEPT = -2.0652
WEIGHTS = {
    "mask from afar": 0.2733,
    "overlap from afar": 0.9361,
    "card or sheet": 0.2408,
    "sides up close": 0.8337,
    "corners up close": 1.0726,
    "misfit": 0.529,
    "telling": 0.3523,
    "facing": 0.2109,
    "flat": 0.4588,
    "own corners": 0.3967,
    "distance": 0.4668,
    "even": 0.0386,
    "whole": 0.1708,
    "smooth": 0.3592,
    "support": 0.05,
}
"""Log-odds for each unit of a feature of `weighing`. Six more were offered and given none: where
its edges break off, frames around it, how straight and how light it is.

`support` was fitted to 0.003, as no picture shows a white shape with round corners as large as a
sheet; at 0.05 a drawn one is refused."""
SLOPE, SHIFT = 2.2294, -1.1362
"""Line from these log-odds to those of being right, fitted to the best candidates for each kind in
135 photographs of sources that the weights know nothing of. A pad of paper on a stand, the
likeliest find that is no sheet, has 0.64 by it."""
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
with more than that probability, or whose sides are not found again: never taken, still offered."""
USUAL = {
    "mask from afar": 1.9,
    "overlap from afar": 0.95,
    "card or sheet": 5.1,
    "sides up close": 0.94,
    "corners up close": 0.55,
    "misfit": -0.6,
    "telling": 1.5,
}
"""What right finds have in the middle; 0 of every other feature."""
NOTABLE = -0.5
"""Log-odds that a feature takes away, compared with right finds, to be named as a doubt."""
DOUBTS = {
    "mask from afar": "it does not look like paper or a card",
    "overlap from afar": "its outline is not that of the paper seen there",
    "card or sheet": "it looks like another kind of thing",
    "sides up close": "a side of it does not look like the edge of paper or a card",
    "corners up close": "a corner of it does not look like one of paper or a card",
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
"""What a feature says where it speaks against a find, and a vote on a thing of typed size."""

NOT_FOUND_AGAIN = "its edges are not found again at full resolution"
"""What is said of a find whose sides cannot be measured."""


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
