"""The wall around a hole, seen square on at a coarse scale: what is hole, and what is like it."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsMm, PointsPx
from visualiser.photo.linear_light import to_linear
from visualiser.photo.photo import PixelsRgb
from visualiser.raster import resized_px
from visualiser.rendering.sight_lines import Region, SightLines
from visualiser.statistics import robust_sigma
from visualiser.survey.survey import Survey

Mask = NDArray[np.bool_]

TAPE_REACH_MM = 40.0
"""How far tape sticks out beyond a sheet. Common practice, no source."""
_SURE_MM = 6.0
_CELLS = 360


class CoarseWall:
    """The wall around a hole, seen square on at a coarse scale.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 photo.
    survey
        Survey with the plane of these pixels.
    span
        (2, 2) lowest and highest x and y in wall mm.
    """

    def __init__(self, pixels: PixelsRgb, survey: Survey, span: NDArray[np.float64]) -> None:
        self.low = span[0]
        extent = span[1] - span[0]
        self.step_mm = float(extent.max() / _CELLS)
        self.columns, self.rows = (max(math.ceil(v / self.step_mm), 8) for v in extent)
        gx = self.low[0] + (np.arange(self.columns) + 0.5) * self.step_mm
        gy = self.low[1] + (self.rows - np.arange(self.rows) - 0.5) * self.step_mm
        self.x_mm, self.y_mm = np.meshgrid(gx, gy)
        points = np.c_[self.x_mm.ravel(), self.y_mm.ravel()]
        px = survey.to_photo(points)
        height, width = pixels.shape[:2]
        seen = ((px > 1) & (px < [width - 2, height - 2])).all(axis=1)
        self.seen = seen.reshape(self.rows, self.columns)
        region = Region.around(np.clip(px[seen], 0, [width, height]), 3, pixels.shape)
        patch = pixels[region.slices]
        # Shrink first, so that a coarse look averages instead of picking single pixels.
        pitch = self._px_per_cell(px)
        factor = max(pitch, 1.0)
        small = cv2.resize(
            patch,
            (max(round(patch.shape[1] / factor), 1), max(round(patch.shape[0] / factor), 1)),
            interpolation=cv2.INTER_AREA,
        )
        scale = np.array([small.shape[1] / patch.shape[1], small.shape[0] / patch.shape[0]])
        local = resized_px(px - [region.x, region.y], scale).astype(np.float32)
        local = local.reshape(self.rows, self.columns, 2)
        looked = cv2.remap(
            small, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        looked = to_linear(np.asarray(looked, np.uint8))
        self.log = np.log(np.maximum(looked, 1e-3)).astype(np.float32)

    def _px_per_cell(self, px: PointsPx) -> float:
        grid = px.reshape(self.rows, self.columns, 2)
        middle = grid[self.rows // 2, self.columns // 2 - 1 : self.columns // 2 + 1]
        return float(np.linalg.norm(middle[1] - middle[0]))

    def inside(self, polygon_mm: PointsMm, margin_mm: float) -> Mask:
        """Cells inside a polygon (N, 2) grown by a margin."""
        mask = np.zeros((self.rows, self.columns), np.uint8)
        local = np.c_[
            (polygon_mm[:, 0] - self.low[0]) / self.step_mm - 0.5,
            self.rows - (polygon_mm[:, 1] - self.low[1]) / self.step_mm - 0.5,
        ]
        local = np.clip(local, -1e4, 1e4)
        cv2.fillPoly(mask, [np.round(local * 16).astype(np.int32)], 1, shift=4)
        return self._grown(mask, margin_mm)

    def _grown(self, mask: NDArray[np.uint8], margin_mm: float) -> Mask:
        n = math.ceil(margin_mm / self.step_mm)
        if n <= 0:
            return np.asarray(mask > 0)
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * n + 1, 2 * n + 1))
        return np.asarray(cv2.dilate(mask, kernel) > 0)

    def hole(self, outline_mm: PointsMm) -> Mask:
        """Outline with a hem, and what is unlike wall and joined to it within tape's reach."""
        outline_mm = self._with_paper(outline_mm)
        sure = self.inside(outline_mm, _SURE_MM)
        reach = self.inside(outline_mm, TAPE_REACH_MM)
        around = self.inside(outline_mm, TAPE_REACH_MM + 60) & ~reach & self.seen
        if around.sum() < 20:
            return sure
        middle = np.median(self.log[around], axis=0)
        spread = robust_sigma(self.log[around] - middle, axis=0) + 0.012
        odd = (np.abs(self.log - middle) > 4 * spread).any(axis=2) & reach
        _, labels = cv2.connectedComponents((odd | sure).astype(np.uint8))
        attached = np.isin(labels, np.unique(labels[sure])) & (odd | sure)
        return self._grown(attached.astype(np.uint8), 1.5 * self.step_mm)

    def _with_paper(self, outline_mm: PointsMm) -> PointsMm:
        """Outline of a printed target, stretched to the sheet that it is printed on."""
        middle = outline_mm.mean(axis=0)
        size = float(np.linalg.norm(outline_mm[0] - outline_mm[2]))
        tone = self.log.mean(axis=2)

        def band(start: float, end: float) -> tuple[float, float]:
            inner = self._scaled(outline_mm, middle, 1 + start)
            ring = self._scaled(outline_mm, middle, 1 + end) & ~inner & self.seen
            if ring.sum() < 12:
                return 0.0, math.inf
            return float(np.median(tone[ring])), float(tone[ring].std())

        edge_mm = 2.5 * self.step_mm / size
        inside, _ = band(-0.12 - edge_mm, -edge_mm)
        outside, evenness = band(edge_mm, edge_mm + 0.06)
        if outside < inside + 0.7 or evenness > 0.12:
            return outline_mm  # not a dark border on white: the outline is the sheet's own
        reach = 0.0
        while reach < 0.9:
            level, evenness = band(reach + edge_mm, reach + edge_mm + 0.04)
            if abs(level - outside) > 0.12 or evenness > 0.15:
                break
            reach += 0.04
        return np.asarray(middle + (outline_mm - middle) * (1 + reach + edge_mm))

    def _scaled(self, outline_mm: PointsMm, middle: PointsMm, factor: float) -> Mask:
        return self.inside(middle + (outline_mm - middle) * factor, 0.0)

    def best_offset(self, hole: Mask, barred: Mask) -> NDArray[np.float64] | None:
        """Shift (x, y) in mm from the hole to the most alike bare wall."""
        rows, columns = np.flatnonzero(hole.any(axis=1)), np.flatnonzero(hole.any(axis=0))
        hem = max(4, round(25 / self.step_mm))
        top, bottom = max(rows[0] - hem, 0), min(rows[-1] + hem + 1, self.rows)
        left, right = max(columns[0] - hem, 0), min(columns[-1] + hem + 1, self.columns)
        window = (slice(top, bottom), slice(left, right))
        ring = (~barred[window]).astype(np.float32)
        if ring.sum() < 12:
            return None
        # Light may change from place to place: compare texture, with only a mild say for tone.
        sigma = max(12.0, 120 / self.step_mm)
        known = (~barred).astype(np.float32)
        support = np.asarray(cv2.GaussianBlur(known, (0, 0), sigma)) + np.float32(1e-6)
        mean = cv2.GaussianBlur(self.log * known[..., None], (0, 0), sigma) / support[..., None]
        texture = np.asarray((self.log - 0.7 * mean) * known[..., None], np.float32)
        cost = cv2.matchTemplate(
            texture, texture[window], cv2.TM_SQDIFF, mask=np.repeat(ring[..., None], 3, axis=2)
        )
        # The copy's inside must be bare, and its ring mostly.
        inner = cv2.matchTemplate(
            barred.astype(np.float32), (hole[window]).astype(np.float32), cv2.TM_CCORR
        )
        outer = cv2.matchTemplate(barred.astype(np.float32), ring, cv2.TM_CCORR)
        allowed = (inner < 0.5) & (outer < 0.1 * ring.sum())
        if not allowed.any():
            return None
        dy, dx = np.mgrid[0 : cost.shape[0], 0 : cost.shape[1]]
        distance = np.hypot(dy - top, dx - left) * self.step_mm
        scored = cost / (3 * ring.sum()) + 1e-7 * distance
        scored[~allowed] = np.inf
        row, column = np.unravel_index(np.argmin(scored), scored.shape)
        return np.array([(column - left) * self.step_mm, -(row - top) * self.step_mm])

    def hem(self, hole: Mask, barred: Mask, width_mm: float) -> Mask:
        """Bare wall close around a hole."""
        return self._grown(hole.astype(np.uint8), width_mm) & ~barred

    def at(self, field: NDArray[np.float32], lines: SightLines) -> NDArray[np.float32]:
        """Look a coarse field up at the pixels of a region."""
        u = (lines.x_mm - np.float32(self.low[0])) / np.float32(self.step_mm) - np.float32(0.5)
        v = np.float32(self.rows - 0.5) - (lines.y_mm - np.float32(self.low[1])) / np.float32(
            self.step_mm
        )
        return np.asarray(
            cv2.remap(field, u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
        )


def carried_across(
    values: NDArray[np.float32], known: NDArray[np.float32], finest: float
) -> NDArray[np.float32]:
    """Fill a field (H, W, 3) from where it is known: coarser averages where finer ones end.

    References
    ----------
    The pull-push interpolation of S. J. Gortler et al., "The Lumigraph", SIGGRAPH 1996.
    """
    pyramid = [(np.asarray(values * known[..., None], np.float32), known)]
    while min(pyramid[-1][1].shape) > 2:
        size = (max(pyramid[-1][1].shape[1] // 2, 1), max(pyramid[-1][1].shape[0] // 2, 1))
        halves = (cv2.resize(level, size, interpolation=cv2.INTER_AREA) for level in pyramid[-1])
        total, weight = (np.asarray(half, np.float32) for half in halves)
        pyramid.append((total, weight))
    total, weight = pyramid[-1]
    field = total.mean(axis=(0, 1), keepdims=True) / max(float(weight.mean()), 1e-9)
    skipped = max(round(math.log2(max(finest, 1.0))), 0)
    for total, weight in pyramid[:skipped:-1] if skipped else pyramid[::-1]:
        size = weight.shape[::-1]
        field = cv2.resize(np.asarray(field, np.float32), size, interpolation=cv2.INTER_LINEAR)
        gain = np.clip(weight * 4, 0, 1)[..., None]
        field = field + gain * (total / (weight[..., None] + np.float32(1e-9)) - field)
    whole = cv2.resize(
        np.asarray(field, np.float32), known.shape[::-1], interpolation=cv2.INTER_LINEAR
    )
    return np.asarray(cv2.GaussianBlur(whole, (0, 0), max(0.5 * finest, 0.8)), np.float32)
