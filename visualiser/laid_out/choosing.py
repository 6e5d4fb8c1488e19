"""The outlines that are taken for pieces: the likeliest ones that do not lie over each other."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.laid_out.leftover import (
    Leftover,
    cut_outlines,
    find_leftovers,
    leftover_findings,
)
from visualiser.laid_out.outlines import Ground, candidate_outlines, features, square_corners
from visualiser.laid_out.support import EdgeField
from visualiser.laid_out.top_view import TopView

Array = NDArray[np.float64]

ACCEPTED = -2.0
"""Log-odds from which an outline is taken for a piece."""
LAPPED = 0.12
"""Share of the smaller of two outlines from which they are held to lie over each other."""
SHEET_OVERLAP = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """Outlines (N, 4, 2) of pieces in a top view, their log-odds (N,), and what was left out."""

    outlines: Array
    log_odds: Array
    findings: tuple[Finding, ...] = ()

    def confidence(self, index: int) -> float:
        """How sure it is that one of them is a piece, 0 to 1."""
        return float(1 / (1 + np.exp(-self.log_odds[index])))


@cache
def _model() -> dict[str, Array]:
    with np.load(Path(__file__).with_name("outline_model.npz")) as stored:
        return {name: np.asarray(stored[name], float) for name in stored.files}


def outline_log_odds(values: Array) -> Array:
    """Log-odds (R,) that rectangles with these features (R, F) are pieces' outlines.

    A small network (one hidden layer), fitted to drawn floors.
    """
    model = _model()
    scaled = ((values - model["mean"]) / model["spread"]).clip(-6, 6)
    hidden = np.maximum(scaled @ model["first"] + model["first_bias"], 0)
    return np.asarray(hidden @ model["second"] + model["second_bias"])


def choose_outlines(view: TopView, field: EdgeField, sheet: Array) -> Chosen:
    """Choose the outlines of pieces in a top view.

    Parameters
    ----------
    view, field
        The view and its edges.
    sheet
        (4, 2) corners of the reference in it.
    """
    corners = square_corners(view, field)
    quads, bins = candidate_outlines(view, field, corners)
    ground = Ground(view, field.lab.astype(np.uint8), sheet)
    if not len(quads):
        return Chosen(np.empty((0, 4, 2)), np.empty(0))
    odds = outline_log_odds(features(quads, bins, field, ground, view.step_mm))
    taken: list[int] = []
    for k in np.argsort(-odds, kind="stable"):
        if odds[k] < ACCEPTED:
            break
        if overlap(quads[k], sheet) > SHEET_OVERLAP:
            continue
        if all(overlap(quads[k], quads[j]) < LAPPED for j in taken):
            taken.append(int(k))
    cut = cut_outlines(view, ground, quads[taken])
    whole = [k for k, off in zip(taken, cut, strict=True) if not off]
    left = [
        Leftover(quads[k].mean(axis=0), "cut") for k, off in zip(taken, cut, strict=True) if off
    ]
    left += find_leftovers(view, corners, ground, quads[taken], sheet)
    return Chosen(quads[whole], odds[whole], tuple(leftover_findings(view, left)))


def overlap(one: Array, other: Array) -> float:
    """Share of the smaller of two quadrilaterals (4, 2) that lies within the other."""
    a, b = one.astype(np.float32), other.astype(np.float32)
    common = float(cv2.intersectConvexConvex(a, b)[0])
    return common / max(min(abs(cv2.contourArea(a)), abs(cv2.contourArea(b))), 1e-6)
