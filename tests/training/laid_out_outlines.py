"""Fit the network that tells outlines of framed pieces from other rectangles of a top view.

    python -m tests.training.laid_out_outlines WEIGHTS.npz

Floors are drawn (tests/laid_out/drawn_floor.py), each from its seed; rectangles are looked for in
them as in photographs, and labelled by how far their sides lie from where a piece's are.
"""

from __future__ import annotations

import argparse
import warnings
from pathlib import Path

import cv2
import numpy as np
from sklearn.exceptions import ConvergenceWarning
from sklearn.neural_network import MLPClassifier

from tests.laid_out.drawn_floor import random_floor, sheet_reference
from visualiser.laid_out.close_up import VIEW_HEIGHT_MM
from visualiser.laid_out.outlines import NAMES, Ground, candidate_outlines, features
from visualiser.laid_out.support import EdgeField
from visualiser.laid_out.top_view import TopView, see_from_above
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.marks import Marks
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.quadrilaterals import clockwise, outward_normals

SEEDS, LONG_PX = 32, 1600
"""Seeds below are for fitting; the benchmark's are 1000 and more."""
RIGHT_MM, WRONG_MM = 7.0, 12.0
"""Sides off by less are a piece's, by more are not; what lies between counts neither way."""
HIDDEN, DECAY, EPOCHS, MOST_SPREADS = 14, 1.0, 200, 6.0


def in_view(plane: WallPlane, view: TopView, pixels: np.ndarray) -> np.ndarray:
    """Samples (N, 2) of a top view at which photo pixels are seen."""
    rays = np.c_[plane.lens.to_rays(pixels), np.ones(len(pixels))] @ plane.rotation
    centre = plane.camera_mm
    far = (view.height_mm - centre[2]) / rays[:, 2]
    return view.from_mm(centre[:2] + far[:, None] * rays[:, :2])


def sides_off(quads: np.ndarray, foot: np.ndarray, front: np.ndarray) -> np.ndarray:
    """How far the worst side of rectangles (R, 4, 2) lies outside all between foot and front."""
    foot, front = clockwise(foot[None]), clockwise(front[None])
    normals = outward_normals(foot)[0]
    worst = np.zeros(len(quads))
    for side, normal in enumerate(normals):
        ends = [side, (side + 1) % 4]
        both = np.r_[foot[0, ends], front[0, ends]] @ normal
        at = quads[:, ends] @ normal
        worst = np.maximum(worst, np.maximum(both.min() - at, at - both.max()).max(axis=1))
    return worst


def rows(seed: int, long_px: int) -> tuple[np.ndarray, np.ndarray]:
    """Features (R, F) of one floor's rectangles, and how far each is off the nearest piece, mm."""
    floor = random_floor(seed, long_px)
    plane = fit_wall_plane(floor.photo, [sheet_reference(floor)], Marks(find_lines=False))
    view = see_from_above(floor.photo, plane, VIEW_HEIGHT_MM)
    field = EdgeField(cv2.cvtColor(view.pixels, cv2.COLOR_RGB2LAB))
    quads, bins = candidate_outlines(view, field)
    if not len(quads):
        return np.empty((0, len(NAMES))), np.empty(0)
    sheet = view.from_mm(plane.to_wall(floor.sheet_px))
    ground = Ground(view, field.lab.astype(np.uint8), sheet)
    off = np.full(len(quads), np.inf)
    for piece in floor.pieces:
        foot, front = (
            in_view(plane, view, floor.camera.project(np.c_[piece.corners(), np.full(4, z)]))
            for z in (0.0, piece.depth_mm)
        )
        off = np.minimum(off, sides_off(quads, foot, front) * view.step_mm)
    return features(quads, bins, field, ground, view.step_mm), off


def fit(values: np.ndarray, right: np.ndarray) -> dict[str, np.ndarray]:
    """Fit one hidden layer to scaled features: the arrays that `choosing` reads."""
    mean, spread = values.mean(axis=0), values.std(axis=0) + 1e-9
    scaled = ((values - mean) / spread).clip(-MOST_SPREADS, MOST_SPREADS)
    network = MLPClassifier((HIDDEN,), alpha=DECAY, max_iter=EPOCHS, random_state=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)  # the count of epochs is the stop
        network.fit(scaled, right)
    arrays = {
        "mean": mean,
        "spread": spread,
        "first": network.coefs_[0],
        "first_bias": network.intercepts_[0],
        "second": network.coefs_[1][:, 0],
        "second_bias": network.intercepts_[1][0],
    }
    return {name: np.asarray(value, np.float32) for name, value in arrays.items()}


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("weights", type=Path)
    asked.add_argument("--floors", type=int, default=SEEDS)
    asked.add_argument("--width", type=int, default=LONG_PX, help="longer side of the photos, px")
    wanted = asked.parse_args()
    cv2.setNumThreads(1)
    found = []
    for seed in range(wanted.floors):
        found.append(rows(seed, wanted.width))
        off = found[-1][1]
        print(seed, len(off), "rectangles,", int((off < RIGHT_MM).sum()), "right", flush=True)
    values, off = (np.concatenate(parts) for parts in zip(*found, strict=True))
    sure = (off < RIGHT_MM) | (off > WRONG_MM)
    np.savez_compressed(wanted.weights, **fit(values[sure], off[sure] < RIGHT_MM))


if __name__ == "__main__":
    main()
