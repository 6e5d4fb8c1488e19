"""Points that two photographs both show: scale-invariant features, matched both ways."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.raster import resized_px

Array = NDArray[np.float64]

LONG_SIDE = 1600
"""Longer side of the photo in which features are looked for: 2 megapixels are enough."""
MOST_FEATURES = 5000
LEAST_CONTRAST = 0.008
"""A fifth of SIFT's usual threshold: painted walls have little else."""
RATIO = 0.82
"""How much nearer the best match must be than the second: Lowe 2004 has 0.8."""
FEATURE_SIGMA_PX = 0.35
"""How well the smallest features are placed, in pixels of the photo looked at; larger ones in
proportion to their size (from memory)."""
SMALLEST = 4.0
"""Diameter of the smallest features, in the same pixels."""


class Features(NamedTuple):
    """Places (N, 2), px, standard uncertainties (N,) and descriptors (N, 128) of features."""

    points_px: PointsPx
    sigma_px: Array
    descriptors: NDArray[np.float32]


class Matches(NamedTuple):
    """Places (N, 2) of the same things in two photos, and how well either is placed (N,), px."""

    first_px: PointsPx
    second_px: PointsPx
    sigma_px: Array


def find_features(photo: Photo) -> Features:
    """Find features of a photo.

    References
    ----------
    D. G. Lowe, "Distinctive image features from scale-invariant keypoints", IJCV 60, 2004;
    R. Arandjelovic & A. Zisserman, "Three things everyone should know to improve object retrieval",
    CVPR 2012 (square roots of descriptors).
    """
    scale = min(1.0, LONG_SIDE / max(photo.width_px, photo.height_px))
    size = (round(photo.width_px * scale), round(photo.height_px * scale))
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA) if scale < 1 else grey
    make = cv2.SIFT_create  # type: ignore[attr-defined]
    detector = make(nfeatures=MOST_FEATURES, contrastThreshold=LEAST_CONTRAST)
    found, descriptors = detector.detectAndCompute(small, None)
    if descriptors is None or len(found) < 2:
        return Features(np.empty((0, 2)), np.empty(0), np.empty((0, 128), np.float32))
    at = np.array([point.pt for point in found])
    diameter = np.array([point.size for point in found])
    factor = np.array([photo.width_px, photo.height_px]) / size
    sigma = FEATURE_SIGMA_PX * np.maximum(diameter / SMALLEST, 1.0) / scale
    share = descriptors / np.maximum(descriptors.sum(axis=1, keepdims=True), 1e-9)
    return Features(resized_px(at, factor), sigma, np.sqrt(share).astype(np.float32))


def match_features(one: Features, other: Features) -> Matches:
    """Match features that are each other's nearest, and clearly so; each place once."""
    if min(len(one.sigma_px), len(other.sigma_px)) < 2:
        return Matches(np.empty((0, 2)), np.empty((0, 2)), np.empty(0))
    likeness = one.descriptors @ other.descriptors.T
    rows = np.arange(len(likeness))
    best, back = likeness.argmax(axis=1), likeness.argmax(axis=0)
    likest = likeness[rows, best]
    likeness[rows, best] = -np.inf
    # Of unit vectors: how far apart the nearest and the second nearest are.
    nearest, second = (
        np.sqrt(np.maximum(2 - 2 * like, 0.0)) for like in (likest, likeness.max(axis=1))
    )
    good = (nearest < RATIO * second) & (back[best] == rows)
    i, j = rows[good], best[good]
    # One place has a feature for each of its directions: one match of it is enough.
    order = np.argsort(nearest[good], kind="stable")
    places = np.concatenate([one.points_px[i], other.points_px[j]], axis=1)
    cells = np.round(places[order]).astype(np.int64)
    _, first = np.unique(cells, axis=0, return_index=True)
    kept = order[np.sort(first)]
    i, j = i[kept], j[kept]
    sigma = np.sqrt((one.sigma_px[i] ** 2 + other.sigma_px[j] ** 2) / 2)
    return Matches(one.points_px[i], other.points_px[j], sigma)
