"""First guesses at quadrilaterals: outlines of patches that are lighter or bluer than around them.

Each plane is cut at a ladder of levels above its surroundings, and the whole at a few strengths of
edge; a sheet is a patch of its own in some of these, whatever the wall. Nothing is decided here:
guesses are many and cheap, and are judged later by their sides.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.rectification.light_planes import LightPlanes, Plane

Array = NDArray[np.float64]

MIN_PATCH_PX = 150
"""Smallest patch worth a look, working px²."""
MAX_PATCHES = 150
"""At one level, the largest count: a wallpaper has thousands, none of them a sheet."""
MIN_FILL = 0.62
"""Least share of its best quadrilateral that a patch's hull covers."""
TOP_LEVEL = (0.8, 0.25, 0.4)
"""Contrast at which each plane's ladder of levels ends."""
LEVELS = 9
EDGE_LEVELS = (6.0, 12.0, 24.0)
"""Strengths of edge, in noise, that part one smooth area from the next."""


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
    quads: list[Array] = []
    seen: set[tuple[int, ...]] = set()
    for mask in _masks(planes, both_signs=both_signs):
        for contour in _patches(mask, seen):
            quads += outline_quads(contour)
    return np.array(quads).reshape(-1, 4, 2)


def _masks(planes: LightPlanes, *, both_signs: bool) -> Iterator[NDArray[np.bool_]]:
    """Everything above each level, and everything between edges."""
    lightness, blue, red = np.moveaxis(planes.values, 2, 0)
    near, far = _middling(lightness, 8), _middling(lightness, 3)
    raised = [
        (lightness - near, planes.noise[0], TOP_LEVEL[0]),
        (lightness - far, planes.noise[0], TOP_LEVEL[0]),
        (blue - _middling(blue, 8), planes.noise[1], TOP_LEVEL[1]),
    ]
    if both_signs:
        raised += [
            (near - lightness, planes.noise[0], TOP_LEVEL[0]),
            (_middling(blue, 8) - blue, planes.noise[1], TOP_LEVEL[1]),
            (red - _middling(red, 8), planes.noise[2], TOP_LEVEL[2]),
        ]
    for plane, noise, top in raised:
        for level in np.geomspace(max(1.5 * noise, 0.008), top, LEVELS):
            yield plane > level
    yield from _unbroken(planes)


def _middling(plane: Plane, parts: int) -> Plane:
    """Surroundings as the median over a window, a given part of the picture wide."""
    height, width = plane.shape
    shrink = 4 * 8 // parts
    small = cv2.resize(plane, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA)
    low, high = float(small.min()), float(small.max())
    codes = np.rint((small - low) / max(high - low, 1e-6) * 255).astype(np.uint8)
    window = max(max(small.shape) // parts // 2 * 2 + 1, 3)
    middle = cv2.medianBlur(codes, window).astype(np.float32) / 255 * (high - low) + low
    middle = cv2.GaussianBlur(middle, (0, 0), window / 6)
    return np.asarray(cv2.resize(middle, (width, height)), np.float32)


def _unbroken(planes: LightPlanes) -> list[NDArray[np.bool_]]:
    """Smooth areas between edges of any kind, at several strengths of edge."""
    smooth = cv2.GaussianBlur(planes.values, (0, 0), 1.0)
    dx, dy = cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)
    strength = (np.hypot(dx, dy) / planes.noise.astype(np.float32)).max(axis=2)
    return [strength < level for level in EDGE_LEVELS]


def _patches(mask: NDArray[np.bool_], seen: set[tuple[int, ...]]) -> list[NDArray[np.int32]]:
    """Outer contours of compact patches, but for those seen before at another level."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    area, box = stats[:, 4], stats[:, 2] * stats[:, 3]
    wanted = (area >= MIN_PATCH_PX) & (area < 0.3 * mask.size) & (area > 0.3 * box)
    wanted[0] = False
    found = []
    indices = np.flatnonzero(wanted)
    for index in indices[np.argsort(-area[indices])][:MAX_PATCHES]:
        key = tuple(np.rint(stats[index, :4] / 2).astype(int).tolist())
        if key in seen:
            continue
        seen.add(key)
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
    return np.roll(quad, -int(np.argmax(run[:, 0] / np.maximum(np.hypot(*run.T), 1e-9))), axis=0)


def is_convex(quad: PointsPx) -> bool:
    """Whether a clockwise quadrilateral is strictly convex."""
    run = np.roll(quad, -1, axis=0) - quad
    after = np.roll(run, -1, axis=0)
    return bool((run[:, 0] * after[:, 1] - run[:, 1] * after[:, 0] > 0).all())


def _area(quad: PointsPx) -> float:
    """Signed area, positive when clockwise as seen (y down)."""
    x, y = quad.T
    return float(0.5 * (x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
