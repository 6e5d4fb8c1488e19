"""Fit the weights of the acceptance page to candidates of pictures whose truth is known.

    python fit_acceptance.py CANDIDATES.pickle

CANDIDATES is what gather.py writes. Weights are those of a logistic regression in which no feature
may speak against its own meaning; right candidates, being few, count for more.
"""

from __future__ import annotations

import pickle
import sys
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from visualiser.rectification.finder.weighing import overlap
from visualiser.rectification.kinds import reference_kind

RIGHT, WRONG = 0.006, 0.012
"""Largest corner error, as a share of the diagonal: surely right up to the first (where it is also
within 6 % of the sheet's own size), surely wrong from the second."""
SIZE_TOLERANCE_MM = 1.5
SAME_SHEET = 0.5
"""Intersection over union with a sheet from which a wrong outline is one of that sheet, and says
nothing of what tells sheets from other things."""
RIGHT_COUNTS = 1 / 8
"""All right candidates together count as much as this share of all wrong ones."""
RIDGE = 0.002


def label(picture: dict[str, Any], kind: str, corners: np.ndarray) -> bool | None:
    """Tell whether a candidate is right; None where the truth leaves it open."""
    size = reference_kind(kind).size
    wanted = sorted((size.width_mm, size.height_mm))
    diagonal = float(np.hypot(*picture["wh"]))
    open_to_doubt = False
    for truth in picture["truth"]:
        true = np.array(truth["corners"])
        off = min(np.abs(np.roll(true, k, 0) - corners).max() for k in range(4))
        extent = float(np.hypot(*np.ptp(true, axis=0)))
        near = off < max(WRONG * diagonal, 0.12 * extent)
        same = np.allclose(sorted(truth["size"]), wanted, atol=SIZE_TOLERANCE_MM)
        if same and off < RIGHT * diagonal and off < 0.06 * extent:
            return True
        open_to_doubt |= same and near
    return None if open_to_doubt else False


def rows(pictures: list[dict[str, Any]]) -> tuple[np.ndarray, np.ndarray, list[str]]:
    """Lay out features and labels: of kinds that a picture holds, or that it holds nothing like."""
    values, labels, names = [], [], []
    for picture in pictures:
        sizes = [sorted(truth["size"]) for truth in picture["truth"]]
        for kind, corners, features in picture["candidates"]:
            names = sorted(features)
            wanted = sorted(
                (reference_kind(kind).size.width_mm, reference_kind(kind).size.height_mm)
            )
            held = any(np.allclose(s, wanted, atol=SIZE_TOLERANCE_MM) for s in sizes)
            like = any((s[0] < 100) == (kind == "card") for s in sizes)
            right = label(picture, kind, corners)
            unknown = picture.get("others_unmarked") and right is False and held
            true = [np.array(truth["corners"]) for truth in picture["truth"]]
            unknown |= right is False and any(overlap(t, corners) > SAME_SHEET for t in true)
            if right is None or (like and not held) or unknown:
                continue
            values.append([features[name] for name in names])
            labels.append(right)
    return np.array(values), np.array(labels, float), names


def fit(x: np.ndarray, y: np.ndarray) -> tuple[float, np.ndarray]:
    """Fit an intercept and weights, none below zero."""
    mean, scale = x.mean(0), x.std(0) + 1e-6
    z = (x - mean) / scale
    weight = np.where(y == 1, (y == 0).sum() / max(y.sum(), 1) * RIGHT_COUNTS, 1.0)
    weight /= weight.mean()

    def cost(t: np.ndarray) -> tuple[float, np.ndarray]:
        odds = t[0] + z @ t[1:]
        p = 1 / (1 + np.exp(-np.clip(odds, -40, 40)))
        value = (weight * (np.logaddexp(0, odds) - y * odds)).mean() + RIDGE * (t[1:] ** 2).sum()
        slope = weight * (p - y) / len(y)
        return float(value), np.r_[slope.sum(), z.T @ slope + 2 * RIDGE * t[1:]]

    bounds = [(None, None)] + [(0, None)] * x.shape[1]
    found = minimize(cost, np.zeros(x.shape[1] + 1), jac=True, bounds=bounds).x
    weights = found[1:] / scale
    return float(found[0] - (weights * mean).sum()), weights


if __name__ == "__main__":
    x, y, names = rows(pickle.loads(Path(sys.argv[1]).read_bytes()))
    intercept, weights = fit(x, y)
    print(len(y), "candidates,", int(y.sum()), "right")
    print(f"INTERCEPT = {intercept:.4f}")
    for name, weight in zip(names, weights, strict=True):
        print(f'    "{name}": {weight:.4f},')
