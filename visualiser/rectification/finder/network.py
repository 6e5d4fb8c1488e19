"""The learned look at a picture: where sheets and cards lie, as a small network sees them.

The network gives maps at a quarter of its input: masks of sheet and of card, edges, corners, and
for each place where the four corners of what it belongs to are. Sightings are read out of these.
How it was trained is in tests/training.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import PixelsRgb
from visualiser.rectification.quadrilaterals import clockwise, is_convex

Array = NDArray[np.float64]
Map = NDArray[np.float32]

CELL = 4
"""Input px a cell of the maps covers, either way."""
OFFSET_UNIT_PX = 64.0
"""Unit of the offsets that the network gives (tests/training/network.py)."""
GREY = 114
"""Level that fills a picture up to a square, as in training."""
SEEN, OUTLINED = 0.35, 0.5
"""Mask from which cells are taken as one sighting, and from which they outline it."""
FEWEST_CELLS, MOST_SIGHTINGS = 5, 8
STEP_PX = 64
"""The network halves its input six times, so that its side is a multiple of this."""
MOST_ENLARGED = 1.5
"""How much a part of a picture is enlarged at most. Of eight sheets in path-traced rooms, 50 to 120
px long and enlarged to a square of 512, the network saw two, as it never learned from any so
blurred; enlarged half as much it saw all eight."""
PEAK_REACH = 0.22
"""How far from where it is expected a corner's peak is looked for, as a share of the size."""
LEAST_PEAK = 0.15
ALONG = 24
"""Places along a side at which its edge is looked up."""
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True, eq=False)
class Maps:
    """What the network saw in (a part of) a picture.

    Parameters
    ----------
    sheet, card, edge, corner
        (h, w) shares, 0 to 1.
    offsets
        (4, 2, h, w) corners, input px from each cell's centre.
    scale, shift_px
        Input px are photo px (less the part's first) times the scale plus the shift.
    first_px
        Photo px at which the part begins.
    """

    sheet: Map
    card: Map
    edge: Map
    corner: Map
    offsets: Map
    scale: float
    shift_px: Array
    first_px: Array

    @property
    def mask(self) -> Map:
        """Share of sheet or card, whichever is more."""
        return np.maximum(self.sheet, self.card)

    def to_photo(self, points_px: PointsPx) -> PointsPx:
        """Input px to photo px."""
        return np.asarray((points_px + 0.5 - self.shift_px) / self.scale - 0.5 + self.first_px)

    def to_input(self, points_px: PointsPx) -> PointsPx:
        """Photo px to input px."""
        return np.asarray((points_px + 0.5 - self.first_px) * self.scale + self.shift_px - 0.5)


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """How well maps agree with a quadrilateral.

    Parameters
    ----------
    inside
        Mean mask inside it.
    overlap
        Intersection over union of it and the mask.
    edges
        (4,) mean edge along each side.
    peaks
        (4,) highest corner near each corner.
    card
        Share of card in the mask inside.
    """

    inside: float
    overlap: float
    edges: Array
    peaks: Array
    card: float


@cache
def _network() -> cv2.dnn.Net:
    data = (files("visualiser.rectification.finder") / "finder.onnx").read_bytes()
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))


def look(pixels: PixelsRgb, side_px: int, first_px: tuple[int, int] = (0, 0)) -> Maps:
    """Look at (a part of) a picture, brought to a square of a given side."""
    height, width = pixels.shape[:2]
    scale = side_px / max(height, width)
    wide, tall = max(1, round(width * scale)), max(1, round(height * scale))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    small = cv2.resize(pixels, (wide, tall), interpolation=way)
    square = np.full((side_px, side_px, 3), GREY, np.uint8)
    x, y = (side_px - wide) // 2, (side_px - tall) // 2
    square[y : y + tall, x : x + wide] = small
    blob = np.ascontiguousarray(square[..., ::-1].transpose(2, 0, 1)[None], np.float32)
    with _LOCK:  # a network of OpenCV's holds its last answer
        net = _network()
        net.setInput(blob / 255 - 0.5)
        out = np.array(net.forward()[0])
    shares = np.asarray(1 / (1 + np.exp(-np.clip(out[:4], -30, 30))), np.float32)
    offsets = np.asarray(out[4:].reshape(4, 2, *out.shape[1:]) * OFFSET_UNIT_PX, np.float32)
    return Maps(
        *(shares[0], shares[1], shares[2], shares[3]),
        offsets,
        scale,
        np.array([x, y], float),
        np.array(first_px, float),
    )


def look_at(pixels: PixelsRgb, corners_px: PointsPx, zoom: float, side_px: int) -> Maps | None:
    """Look closely at what lies around a quadrilateral; None where hardly any of it is in view.

    Parameters
    ----------
    pixels
        The picture.
    corners_px
        (4, 2) corners of the quadrilateral.
    zoom
        How many times its size is looked at.
    side_px
        Side of the square that this is brought to, at most: a small part is hardly enlarged.
    """
    height, width = pixels.shape[:2]
    middle = (corners_px.min(axis=0) + corners_px.max(axis=0)) / 2
    half = max(float(np.ptp(corners_px, axis=0).max()) * zoom / 2, 40.0)
    x0, y0 = np.maximum(np.rint(middle - half), 0).astype(int)
    x1, y1 = np.minimum(np.rint(middle + half), [width, height]).astype(int)
    if x1 - x0 < 12 or y1 - y0 < 12:
        return None
    enough = STEP_PX * int(np.ceil(MOST_ENLARGED * max(x1 - x0, y1 - y0) / STEP_PX))
    return look(pixels[y0:y1, x0:x1], min(side_px, enough), (int(x0), int(y0)))


def evidence(maps: Maps, corners_px: PointsPx) -> Evidence:
    """Hold maps against a quadrilateral in photo px."""
    quad = maps.to_input(np.asarray(corners_px, float))
    return _evidence(maps, maps.mask, quad, None)


def _evidence(maps: Maps, mask: Map, quad: PointsPx, own: NDArray[np.bool_] | None) -> Evidence:
    height, width = mask.shape
    cells = (quad + 0.5) / CELL - 0.5
    drawn = np.zeros((height, width), np.uint8)
    cv2.fillConvexPoly(drawn, np.rint(np.clip(cells, -999, 9999) * 16).astype(np.int32), 1, shift=4)
    inside = drawn > 0
    if own is None:
        own = _touching(mask > OUTLINED, inside)
    both, either = int((inside & own).sum()), int((inside | own).sum())
    edges, peaks = np.zeros(4), np.zeros(4)
    near = cv2.dilate(maps.edge, np.ones((3, 3), np.uint8))
    size = float(np.sqrt(max(inside.sum(), 1)))
    for k in range(4):
        t = np.linspace(0.05, 0.95, ALONG)[:, None]
        at = np.rint(cells[k] * (1 - t) + cells[(k + 1) % 4] * t).astype(int)
        seen = ((at >= 0) & (at < [width, height])).all(axis=1)
        edges[k] = float(near[at[seen, 1], at[seen, 0]].sum()) / ALONG
        peaks[k] = _peak(maps.corner, cells[k], max(1.6, 0.08 * size))[1]
    share = maps.card[inside].sum() / max(float((maps.card + maps.sheet)[inside].sum()), 1e-6)
    return Evidence(
        float(mask[inside].mean()) if inside.any() else 0.0,
        both / max(either, 1),
        edges,
        peaks,
        float(share),
    )


def _touching(mask: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Those connected parts of a mask that lie, for half of them, inside."""
    count, labels = cv2.connectedComponents(mask.view(np.uint8), connectivity=4)
    area = np.bincount(labels.ravel(), minlength=count)
    within = np.bincount(labels[inside], minlength=count)
    kept = within > 0.3 * area
    kept[0] = False
    return np.asarray(kept[labels])


def _peak(corner: Map, cell: Array, reach: float) -> tuple[Array, float]:
    """Find the highest corner near a place, weighted by nearness; its cell and height."""
    height, width = corner.shape
    x0, y0 = np.maximum(np.floor(cell - reach), 0).astype(int)
    x1, y1 = np.minimum(np.ceil(cell + reach) + 1, [width, height]).astype(int)
    if x1 <= x0 or y1 <= y0:
        return cell, 0.0
    part = corner[y0:y1, x0:x1]
    rows, cols = np.mgrid[y0:y1, x0:x1]
    near = np.exp(-((cols - cell[0]) ** 2 + (rows - cell[1]) ** 2) / (2 * (0.6 * reach) ** 2))
    row, col = np.unravel_index(int((part * near).argmax()), part.shape)
    height_there = float(part[row, col])
    a, b = slice(max(row - 2, 0), row + 3), slice(max(col - 2, 0), col + 3)
    weight = part[a, b] ** 2
    at = np.array([(cols[a, b] * weight).sum(), (rows[a, b] * weight).sum()])
    return at / max(float(weight.sum()), 1e-9), height_there


@dataclass(frozen=True, slots=True, eq=False)
class Sighting:
    """A quadrilateral that the maps show: corners in photo px, clockwise, and its evidence."""

    corners_px: PointsPx
    evidence: Evidence

    @property
    def worth(self) -> float:
        """Order among sightings of one look."""
        e = self.evidence
        return e.inside * e.overlap * (0.3 + float(e.edges.mean())) * (0.3 + float(e.peaks.mean()))


def sightings(maps: Maps) -> list[Sighting]:
    """Read quadrilaterals out of maps, best first."""
    mask = maps.mask
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (mask > SEEN).view(np.uint8), connectivity=4
    )
    weights = np.bincount(labels.ravel(), mask.ravel().astype(float), minlength=count)
    order = [k for k in np.argsort(-weights) if k > 0 and stats[k, 4] >= FEWEST_CELLS]
    found = []
    for k in order[:MOST_SIGHTINGS]:
        own = labels == k
        outlined = own & (mask > OUTLINED)
        best: Sighting | None = None
        for start in _starts(maps, mask, own, outlined):
            for snapped in (True, False):
                quad = _snapped(maps.corner, start, float(stats[k, 4])) if snapped else start
                if not is_convex(quad[None])[0]:
                    continue
                seen = _evidence(maps, mask, quad, outlined)
                one = Sighting(clockwise(maps.to_photo(quad)[None])[0], seen)
                if best is None or one.worth > best.worth:
                    best = one
        if best is not None:
            found.append(best)
    return sorted(found, key=lambda one: -one.worth)


def _snapped(corner: Map, quad: PointsPx, area: float) -> PointsPx:
    """Move corners, input px, to the peaks near them."""
    out = quad.copy()
    reach = max(1.6, PEAK_REACH * float(np.sqrt(area)))
    for k in range(4):
        at, height = _peak(corner, (quad[k] + 0.5) / CELL - 0.5, reach)
        if height > LEAST_PEAK:
            out[k] = (at + 0.5) * CELL - 0.5
    return out


def _starts(
    maps: Maps, mask: Map, own: NDArray[np.bool_], outlined: NDArray[np.bool_]
) -> list[PointsPx]:
    """Guess corners, input px, from the offsets' median and from the outline of the mask."""
    rows, cols = np.nonzero(own)
    weight = mask[rows, cols]
    centres = np.stack([cols, rows], axis=1) * float(CELL) + (CELL - 1) / 2
    quads = maps.offsets[:, :, rows, cols].transpose(2, 0, 1) + centres[:, None]
    middle = np.average(centres, axis=0, weights=weight)
    off = np.hypot(*(centres - middle).T) / (CELL * np.sqrt(len(rows)))
    kept = np.argsort(0.02 * off - weight, kind="stable")[: max(5, len(rows) // 2)]
    quads = quads[kept]
    common = quads[0]
    for _ in range(2):  # which corner is called first differs from cell to cell
        apart = [np.abs(np.roll(quads, k, axis=1) - common).sum(axis=(1, 2)) for k in range(4)]
        turn = np.argmin(apart, axis=0)
        quads = np.stack([np.roll(q, int(k), axis=0) for q, k in zip(quads, turn, strict=True)])
        common = np.median(quads, axis=0)
    starts = [np.asarray(common, float)]
    hull = _hull_quad(outlined)
    if hull is not None:
        away = hull - hull.mean(axis=0)
        away /= np.maximum(np.hypot(*away.T), 1e-6)[:, None]
        starts.append((hull + 0.5 * away + 0.5) * CELL - 0.5)
    return starts


def _hull_quad(mask: NDArray[np.bool_]) -> PointsPx | None:
    """Reduce the hull of a mask to four corners, dropping the side that adds the least area."""
    if mask.sum() < 9:
        return None
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.convexHull(max(contours, key=cv2.contourArea))
    corners = cv2.approxPolyDP(hull, 0.6, True)[:, 0].astype(float)
    while len(corners) > 4:
        n, best = len(corners), None
        for k in range(n):
            before, start, end, after = (corners[(k + j) % n] for j in (-1, 0, 1, 2))
            one, other = start - before, end - after
            turn = one[0] * other[1] - one[1] * other[0]
            if abs(turn) < 1e-9:
                continue
            gap = after - before
            t = (gap[0] * other[1] - gap[1] * other[0]) / turn
            u = (gap[0] * one[1] - gap[1] * one[0]) / turn
            if t < 1 or u < 1:
                continue
            met = before + one * t
            a, b = end - start, met - start
            added = abs(a[0] * b[1] - a[1] * b[0]) / 2
            if best is None or added < best[0]:
                best = (added, k, met)
        if best is None:
            return None
        _, k, met = best
        kept = [corners[j] for j in range(n) if j not in (k, (k + 1) % n)]
        kept.insert(k if (k + 1) % n else len(kept), met)
        corners = np.array(kept)
    return corners if len(corners) == 4 else None
