"""First guesses at quadrilaterals: outlines of patches that are lighter or bluer than around them.

Each plane is cut at a ladder of levels above its own surroundings; a sheet is a patch of its own at
some of them, whatever the wall. Nothing is decided here: guesses are many and cheap, and are judged
later by their sides.
"""

from __future__ import annotations

import itertools

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.rectification.light_planes import LightPlanes, Plane

Array = NDArray[np.float64]

MIN_PATCH_PX = 150
"""Smallest patch worth a look, working px²."""
MIN_FILL = 0.62
"""Least share of its best quadrilateral that a patch's hull covers."""
TOP_LEVEL = (0.8, 0.25, 0.4)
"""Contrast at which each plane's ladder of levels ends."""
LEVELS = 9


def patch_outlines(planes: LightPlanes, *, both_signs: bool) -> Array:
    """Guess quadrilaterals around patches that stand out.

    Parameters
    ----------
    planes
        The working planes.
    both_signs
        Whether darker and yellower patches count too, as for a card.

    Returns
    -------
    (Q, 4, 2) corners in working px, clockwise as seen.
    """
    lightness, blue, red = np.moveaxis(planes.values, 2, 0)
    # The darkest channel falls only where something is coloured or dark: paper is neither.
    least = lightness - np.maximum(np.abs(blue), np.abs(red))
    sources = [
        (lightness, planes.noise[0], TOP_LEVEL[0]),
        (blue, planes.noise[1], TOP_LEVEL[1]),
        (least, planes.noise[0] + planes.noise[1], TOP_LEVEL[0]),
    ]
    if both_signs:
        sources += [
            (-lightness, planes.noise[0], TOP_LEVEL[0]),
            (-blue, planes.noise[1], TOP_LEVEL[1]),
            (red, planes.noise[2], TOP_LEVEL[2]),
        ]
    quads: list[Array] = []
    for plane, noise, top in sources:
        raised = _above_surroundings(plane)
        for level in np.geomspace(max(1.5 * noise, 0.008), top, LEVELS):
            for contour in _patches(raised > level):
                quads += outline_quads(contour)
    return np.array(quads).reshape(-1, 4, 2)


def _above_surroundings(plane: Plane) -> Plane:
    """Subtract what stays when all narrower than an eighth of the picture is shaved off."""
    height, width = plane.shape
    small = cv2.resize(plane, (width // 4, height // 4), interpolation=cv2.INTER_AREA)
    size = max(small.shape) // 8
    ball = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    shaved = cv2.morphologyEx(small, cv2.MORPH_OPEN, ball, borderType=cv2.BORDER_REFLECT)
    shaved = cv2.GaussianBlur(shaved, (0, 0), 2)
    return np.asarray(plane - cv2.resize(shaved, (width, height)), np.float32)


def _patches(mask: NDArray[np.bool_]) -> list[NDArray[np.int32]]:
    """Outer contours of compact patches."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    area, box = stats[:, 4], stats[:, 2] * stats[:, 3]
    wanted = (area >= MIN_PATCH_PX) & (area < 0.3 * mask.size) & (area > 0.3 * box)
    wanted[0] = False
    found = []
    for index in np.flatnonzero(wanted):
        x, y, width, height = (int(v) for v in stats[index, :4])
        part = (labels[y : y + height, x : x + width] == index).astype(np.uint8)
        contours, _ = cv2.findContours(
            part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE, offset=(x, y)
        )
        found.append(max(contours, key=len))
    return found


def outline_quads(contour: NDArray[np.int32]) -> list[Array]:
    """Quadrilaterals that a patch's outline suggests: its longest straight runs, and its box.

    Tape makes an octagon of a sheet; its four longest runs are still the sheet's sides.
    """
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if hull_area < MIN_PATCH_PX:
        return []
    box = np.asarray(cv2.boxPoints(cv2.minAreaRect(hull)), float)
    if hull_area < MIN_FILL * _area(box):
        return []
    guesses = [clockwise(box)]
    runs = _longest_runs(contour.reshape(-1, 2).astype(float))
    if runs is not None:
        guesses.append(runs)
    return guesses


def _longest_runs(points: Array) -> PointsPx | None:
    """Quadrilateral through the four longest straight runs of a closed outline."""
    extent = float(np.hypot(*np.ptp(points, axis=0)))
    simple = cv2.approxPolyDP(points.astype(np.float32), max(0.02 * extent, 1.2), closed=True)
    corners = np.asarray(simple, float).reshape(-1, 2)
    if not 4 <= len(corners) <= 24:
        return None
    ends = np.roll(corners, -1, axis=0)
    length = np.hypot(*(ends - corners).T)
    longest = np.sort(np.argsort(-length)[:4])
    lines = [np.cross(np.r_[corners[i], 1], np.r_[ends[i], 1]) for i in longest]
    meets = np.array([np.cross(a, b) for a, b in itertools.pairwise([lines[-1], *lines])])
    if (np.abs(meets[:, 2]) < 1e-6 * np.abs(meets).max()).any():
        return None
    quad = meets[:, :2] / meets[:, 2:]
    if not np.isfinite(quad).all() or np.hypot(*np.ptp(quad, axis=0)) > 1.6 * extent:
        return None
    quad = clockwise(quad)
    return quad if is_convex(quad) else None


def clockwise(quad: PointsPx) -> PointsPx:
    """Bring four corners into order: top-left first, clockwise as seen.

    Top-left is the corner from which the side nearest to level runs rightwards, so that a sheet
    hung a little crooked keeps its top.
    """
    quad = np.asarray(quad, float)
    if _area(quad) < 0:
        quad = quad[::-1]
    run = np.roll(quad, -1, axis=0) - quad
    return np.roll(quad, -int(np.argmax(run[:, 0] / np.hypot(*run.T))), axis=0)


def is_convex(quad: PointsPx) -> bool:
    """Whether a clockwise quadrilateral is strictly convex."""
    run = np.roll(quad, -1, axis=0) - quad
    after = np.roll(run, -1, axis=0)
    return bool((run[:, 0] * after[:, 1] - run[:, 1] * after[:, 0] > 0).all())


def _area(quad: PointsPx) -> float:
    """Signed area, positive when clockwise as seen (y down)."""
    x, y = quad.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
