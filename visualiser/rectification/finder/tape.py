"""Strips of tape over a sheet's corners, or over the middle of its top edge.

What is taped up to measure by shows its tape: a strip of one colour, neither paper's nor wall's,
that lies half on the sheet and half on the wall. A picture in its frame has none; what is printed
ends at the print's edge, and a wallpaper's pattern at the frame's.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE, decode_srgb
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.light_planes import LightPlanes, light_planes

Map = NDArray[np.float32]

TAPED = 3.2
"""Log-odds that strips at two places or in the middle of an edge say: half of the sheets put up
have such (common practice, no source); of some 170 other rectangles none did, so that at most one
in fifty does (the rule of three: Hanley & Lippman-Hand, JAMA 249, 1983)."""
MARGIN_MM, MM_PER_PX = 60.0, 1.5
REACH_MM = 36.0
"""Strips are looked for so far from a corner or the middle of an edge."""
LEAST_PART_MM2, MOST_MM2 = 45.0, 2200.0
"""Area on either side of the edge at least, and in all at most: 12 to 50 mm wide, short pieces."""
NARROW = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
"""What it does not fit into is narrower than any tape, 10 mm: a stripe of the wall that ends at it.
"""
OTHER_HUE = 0.12
"""How much, as a logarithm, the strip's hue must differ from paper's, the wall's and all
between."""
SAME_HUE, COMMON = 0.1, 0.04
"""Within this a wall's hues count as one; and share of what surrounds a sheet that makes a hue the
wall's: every stripe of a wallpaper does, no strip of tape."""
ONE_COLOUR = 0.12
"""Difference of hue from one end of a strip to the other, and between two, at most."""
USUAL_PAPER, DARKEST = 0.5, 0.1
"""Linear light of paper in a photo of usual exposure; and as how dark a one, beside it, another is
taken at most: below, a phone's picture is all noise."""
CORE = 0.7
"""Share of its clearest colour that a strip's core shows."""


def is_taped(photo: Photo, corners_px: PointsPx, size_mm: tuple[float, float]) -> bool:
    """Whether strips of tape hold a rectangle up.

    Parameters
    ----------
    photo
        The photo.
    corners_px
        (4, 2) its corners, clockwise from top-left as seen.
    size_mm
        Length of its top edge and of its sides, were it the sheet looked for.
    """
    flat = _flattened(photo, corners_px, size_mm)
    if flat is None:
        return False
    planes, on_sheet, corners = flat
    hues = planes.values[..., 1:]
    paper = np.median(hues[on_sheet], axis=0)
    places = [*corners, (corners[0] + corners[1]) / 2]
    off_way = _off_the_way(hues, paper, _wall_hues(hues, on_sheet, places))
    at_corners = [_strip(hues, on_sheet, off_way, place) for place in places[:4]]
    seen = [hue for hue in at_corners if hue is not None]
    if len(seen) >= 2:
        middle = np.median(seen, axis=0)
        if sum(float(np.abs(hue - middle).max()) < ONE_COLOUR for hue in seen) >= 2:
            return True
    return _strip(hues, on_sheet, off_way, places[4]) is not None


def _flattened(
    photo: Photo, corners_px: PointsPx, size_mm: tuple[float, float]
) -> tuple[LightPlanes, NDArray[np.bool_], NDArray[np.float64]] | None:
    """Planes of the sheet seen face on with its surroundings, what is sheet, and its corners."""
    width, height = (round((v + 2 * MARGIN_MM) / MM_PER_PX) for v in size_mm)
    edge = MARGIN_MM / MM_PER_PX - 0.5
    right, bottom = (edge + v / MM_PER_PX for v in size_mm)
    corners = np.array([[edge, edge], [right, edge], [right, bottom], [edge, bottom]])
    way = cv2.getPerspectiveTransform(
        corners.astype(np.float32), np.asarray(corners_px, np.float32)
    )
    rim = np.array([[[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]]], float)
    seen = cv2.perspectiveTransform(rim, way)[0]
    if (seen < 0).any() or (seen > [photo.width_px - 1, photo.height_px - 1]).any():
        return None
    flat = cv2.warpPerspective(
        photo.pixels, way, (width, height), flags=cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    )
    on_sheet = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(on_sheet, np.round(corners).astype(np.int32), 1)
    paper = decode_srgb(np.median(flat[on_sheet.astype(bool)], axis=0) / 255) @ LUMINANCE
    # In a dark photo hues are as different as in a light one, once its noise is not held down.
    white = float(np.clip(paper / USUAL_PAPER, DARKEST, 1.0))
    planes = light_planes(np.asarray(flat, np.uint8), white=white)
    return planes, on_sheet.astype(bool), corners


def _window(at: NDArray[np.float64]) -> tuple[slice, slice]:
    """Rows and columns about a place where a strip is looked for."""
    reach = round(REACH_MM / MM_PER_PX)
    x, y = np.round(at).astype(int)
    return slice(y - reach, y + reach + 1), slice(x - reach, x + reach + 1)


def _wall_hues(
    hues: Map, on_sheet: NDArray[np.bool_], places: Sequence[NDArray[np.float64]]
) -> Map:
    """Hues (K, 2) that the wall shows around the sheet, but where strips are looked for."""
    beside = ~on_sheet
    for place in places:
        beside[_window(place)] = False
    seen = hues[beside]
    cells = np.rint(seen / SAME_HUE).astype(np.int32)
    _, cell, counts = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    common = np.flatnonzero(counts >= COMMON * len(seen))
    means = [np.median(seen[cell.ravel() == index], axis=0) for index in common]
    return np.array(means or [np.median(seen, axis=0)], np.float32)


def _strip(
    hues: Map, on_sheet: NDArray[np.bool_], off_way: Map, at: NDArray[np.float64]
) -> Map | None:
    """Hue (2,) of a strip that crosses the sheet's edge at a place, or None."""
    window = _window(at)
    near, inside, off_way = hues[window], on_sheet[window], off_way[window]
    if inside.all() or not inside.any():
        return None
    end = len(inside)
    mask = cv2.morphologyEx((off_way > OTHER_HUE).astype(np.uint8), cv2.MORPH_OPEN, NARROW)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    area_mm2 = MM_PER_PX**2
    for index in range(1, count):
        part = labels == index
        column, row, width, height, _ = stats[index]
        cut_off = min(column, row) == 0 or max(column + width, row + height) == end
        on, off = (float((part & side).sum()) * area_mm2 for side in (inside, ~inside))
        if cut_off or min(on, off) < LEAST_PART_MM2 or on + off > MOST_MM2:
            continue
        # The strip's own colour is seen away from its blurred rim, on both sides of the edge.
        core = part & (off_way > CORE * np.percentile(off_way[part], 90))
        if min((core & inside).sum(), (core & ~inside).sum()) < 4:
            continue
        step = np.median(near[core & inside], axis=0) - np.median(near[core & ~inside], axis=0)
        if float(np.abs(step).max()) < ONE_COLOUR:
            return np.asarray(np.median(near[core], axis=0), np.float32)
    return None


def _off_the_way(hues: Map, paper: Map, wall: Map) -> Map:
    """How far hues (..., 2) lie from all that paper and any of the wall's (K, 2) blend to."""
    off = np.full(hues.shape[:-1], np.inf, np.float32)
    for one in wall:
        way = one - paper
        share = ((hues - paper) @ way) / max(float(way @ way), 1e-9)
        nearest = paper + np.clip(share, 0, 1)[..., None] * way
        off = np.minimum(off, np.linalg.norm(hues - nearest, axis=-1))
    return np.asarray(off, np.float32)
