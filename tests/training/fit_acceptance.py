"""Fit the weights of the acceptance page to candidates of pictures whose truth is known.

    python fit_acceptance.py LEARNED.pickle JUDGED.pickle

Both are what gather.py writes. Weights are fitted to the first: a logistic regression in which no
feature may speak against its own meaning, with right candidates, being few, counting for more, and
those of rendered rooms (``set`` is ``rooms``) together as much as those of photographs. The line
from log-odds to probability is fitted to the best candidate for each kind in the second.
"""

from __future__ import annotations

import pickle
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.weighing import overlap, shape_fit
from visualiser.rectification.kinds import reference_kind

RIGHT, OF_ITS_SIZE = 0.012, 0.06
"""Largest corner error of a right candidate, as a share of the diagonal or, where that is more, of
the sheet's own size."""
SIZE_TOLERANCE_MM = 1.5
SAME_SHEET = 0.5
"""Intersection over union with a sheet from which a wrong outline is one of that sheet, and says
nothing of what tells sheets from other things."""
RIGHT_COUNTS = 1 / 8
"""All right candidates together count as much as this share of all wrong ones."""
OTHER_SHAPES, SHAPES_COUNT = (1.0, 1.2, 1.75, 2.1), 0.3
"""Right outlines are asked for again as sheets of these ratios, which they are not; and how much
these asks count together, beside the right ones. Few photographs show paper of a size that nobody
asked for."""
RIDGE = 0.005
"""Of 0.0005 to 0.02 the one that tells sources left out of the fit best."""


def is_size(truth: dict[str, Any], kind: str) -> bool:
    """Tell whether a sheet is of a kind's size."""
    size = reference_kind(kind).size
    wanted = sorted((size.width_mm, size.height_mm))
    return bool(truth["size"]) and np.allclose(
        sorted(truth["size"]), wanted, atol=SIZE_TOLERANCE_MM
    )


def label(picture: dict[str, Any], kind: str, corners: np.ndarray) -> bool | None:
    """Tell whether a candidate is right; None where the truth leaves it open.

    A sheet of another size, or of one that nobody knows, leaves it open, but no sheet is a card.
    """
    diagonal = float(np.hypot(*picture["wh"]))
    for truth in picture["truth"]:
        true = np.array(truth["corners"])
        off = min(np.abs(np.roll(true, k, 0) - corners).max() for k in range(4))
        if off < max(RIGHT * diagonal, OF_ITS_SIZE * float(np.hypot(*np.ptp(true, axis=0)))):
            if is_size(truth, kind):
                return True
            common = [one for one in ("a4", "letter", "card") if is_size(truth, one)]
            return False if common and (common == ["card"]) != (kind == "card") else None
        if overlap(true, corners) > SAME_SHEET:
            return None
    return None if picture.get("others_unmarked") else False


def reshaped(picture: dict[str, Any], kind: str, corners: np.ndarray) -> list[float]:
    """Measure how a right outline would fit other shapes than its own."""
    width, height = picture["wh"]
    photo = Photo(np.zeros((height, width, 3), np.uint8), picture["focal_px"])
    size = reference_kind(kind).size
    short = min(size.width_mm, size.height_mm)
    return [
        shape_fit(photo, corners, replace(size, width_mm=short, height_mm=short * ratio))
        for ratio in OTHER_SHAPES
    ]


def rows(pictures: list[dict[str, Any]]) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[str]]:
    """Lay out features, labels (2 for other shapes), and which are of rendered rooms."""
    values, labels, rooms, names = [], [], [], []
    for picture in pictures:
        for kind, corners, features in picture["candidates"]:
            names = sorted(features)
            right = label(picture, kind, corners)
            if right is None:
                continue
            told = [(features, int(right))]
            if right:
                told += [
                    (features | {"misfit": fit}, 2) for fit in reshaped(picture, kind, corners)
                ]
            values += [[one[name] for name in names] for one, _ in told]
            labels += [told_as for _, told_as in told]
            rooms += [picture["set"] == "rooms"] * len(told)
    return np.array(values), np.array(labels), np.array(rooms), names


def fit(x: np.ndarray, labels: np.ndarray, rooms: np.ndarray) -> tuple[float, np.ndarray]:
    """Fit an intercept and weights, none below zero."""
    seen, y = labels < 2, (labels == 1).astype(float)
    mean, scale = x[seen].mean(0), x[seen].std(0) + 1e-6
    z = (x - mean) / scale
    weight = np.ones(len(y))
    for home in (rooms, ~rooms):
        for which, counts in ((1, RIGHT_COUNTS / 2), (2, SHAPES_COUNT * RIGHT_COUNTS / 2)):
            chosen = home & (labels == which)
            weight[chosen] = counts * (labels == 0).sum() / max(chosen.sum(), 1)
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


def best_of(
    pictures: list[dict[str, Any]], intercept: float, weights: dict[str, float]
) -> tuple[np.ndarray, np.ndarray]:
    """List log-odds and label of the best candidate for each kind, where the truth tells."""
    odds, right = [], []
    for picture in pictures:
        for kind in {one[0] for one in picture["candidates"]}:
            scored = [
                (intercept + sum(w * features[name] for name, w in weights.items()), corners)
                for own, corners, features in picture["candidates"]
                if own == kind
            ]
            best, corners = max(scored, key=lambda one: one[0])
            told = label(picture, kind, corners)
            if told is not None:
                odds.append(best)
                right.append(told)
    return np.array(odds), np.array(right, bool)


def line(odds: np.ndarray, right: np.ndarray) -> tuple[float, float]:
    """Fit slope and shift from log-odds to those of being right.

    Targets are held off 0 and 1 as in Platt, "Probabilistic outputs for support vector machines",
    1999, section 2.2: few pictures must not make it sure.
    """
    yes, no = right.sum(), (~right).sum()
    target = np.where(right, (yes + 1) / (yes + 2), 1 / (no + 2))

    def cost(t: np.ndarray) -> float:
        z = t[0] * odds + t[1]
        return float((np.logaddexp(0, z) - target * z).sum())

    slope, shift = minimize(cost, [1.0, 0.0], method="Nelder-Mead").x
    return float(slope), float(shift)


if __name__ == "__main__":
    learned, judged = (pickle.loads(Path(path).read_bytes()) for path in sys.argv[1:3])
    x, y, rooms, names = rows(learned)
    intercept, weights = fit(x, y, rooms)
    print((y < 2).sum(), "candidates,", (y == 1).sum(), "right")
    print(f"INTERCEPT = {intercept:.4f}")
    for name, weight in zip(names, weights, strict=True):
        print(f'    "{name}": {weight:.4f},')
    told = best_of(judged, intercept, dict(zip(names, weights, strict=True)))
    print("SLOPE, SHIFT = {:.4f}, {:.4f}".format(*line(*told)))
