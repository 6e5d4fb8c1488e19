"""Place one patch of a printed pattern in a photo, to a few hundredths of a pixel.

A patch holds edges from black to white and from white to black. Blur, exposure and tone curve shift
the two kinds by the same amount in opposite directions, so that its place is found without bias.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np

from visualiser.photo.linear_light import decoding_16
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.printed_pattern import (
    Array,
    Grey,
    PrintedPattern,
    drawn_pattern,
    moved_drawing,
)

LEAST_LIKENESS = 0.85
"""Correlation with the photo below which a patch is covered, or another thing. Photos drawn with
blur, noise and JPEG of quality 70 stay above 0.93; what else a marker is read in, below 0.75."""
COVERED_SHARE = 0.25
"""Share of the contrast by which a pixel of a covered corner misfits; an edge that is in its place
to a tenth of a pixel stays under a tenth."""
NEARLY_ALIGNED_PX = 0.25
"""Last step from which on misfits are covered pixels and not edges on their way."""
LEAST_NOISE = 0.015
"""Share of contrast that misfits in the cleanest photo: tone, sharpening and 8-bit steps."""
FARTHEST_PX = 3.0
"""A patch that would have to move further lies outside what the first guess can be off by."""
SMALLEST_SIGMA_PX = 0.03
"""Floor of a patch's uncertainty: what sharpening and compression leave, however many edges."""
CORRELATED = 2.0
"""Residuals of neighbouring pixels go together (sharpening, JPEG), so that as many count as this
many times fewer; measured on drawn photos, where errors over stated sigmas are 0.8 to 1.2."""
MAX_SIGMA_PX = 0.35
"""A patch less surely placed adds nothing."""
WORST_CONDITION = 1e4
"""Ratio of what the photo says of a patch's place along and across its edges: beyond it, the patch
slides along a single edge."""
_STEPS = 6


class PatternView(NamedTuple):
    """The part of the photo that holds the pattern, and the pattern as it would be seen there."""

    seen: Grey
    drawn: Grey
    slopes: tuple[Grey, Grey]
    origin_px: Array

    @classmethod
    def of(
        cls, photo: Photo, pattern: PrintedPattern, around: Array, to_photo: Array, blur_px: float
    ) -> PatternView:
        """Cut out of the photo what lies around points of the pattern, and draw it there."""
        margin = int(np.ceil(FARTHEST_PX + 3 * blur_px)) + 1
        low = np.maximum(np.floor(around.min(axis=0)).astype(int) - margin, 0)
        high = np.ceil(around.max(axis=0)).astype(int) + margin + 1
        high = np.minimum(high, [photo.width_px, photo.height_px])
        part = np.ascontiguousarray(photo.pixels[low[1] : high[1], low[0] : high[0]])
        linear = cv2.LUT(part, decoding_16()).astype(np.float32).mean(axis=2) / np.float32(65535)
        drawn = drawn_pattern(pattern, to_photo, (int(low[0]), int(low[1])), linear.shape, blur_px)
        down, across = np.gradient(drawn)
        slopes = np.asarray(across, np.float32), np.asarray(down, np.float32)
        return cls(np.asarray(linear, np.float32), drawn, slopes, low.astype(float))


def place_patch(view: PatternView, corners_px: Array) -> tuple[Array, float, float, float] | None:
    """Move one patch: shift (2,) px, sigma, likeness, noise by contrast; None if it disagrees."""
    local = corners_px - view.origin_px
    reach = int(np.ceil(FARTHEST_PX)) + 2
    size = np.array(view.seen.shape[::-1])
    low = np.clip(np.floor(local.min(axis=0)).astype(int) - reach, 0, size - 1)
    high = np.clip(np.ceil(local.max(axis=0)).astype(int) + reach + 1, low + 1, size)
    part = np.s_[low[1] : high[1], low[0] : high[0]]
    seen, layers = view.seen[part], (view.drawn[part], *(s[part] for s in view.slopes))
    inside = np.zeros(seen.shape, np.uint8)
    cv2.fillConvexPoly(inside, np.round(local - low).astype(np.int32), 1)
    where = inside > 0
    if where.sum() < 60 or np.ptp(layers[0][where]) < 0.3:
        return None
    down, across = (v.astype(np.float64) - v.mean() for v in np.nonzero(where))
    seen_here = seen[where].astype(np.float64)
    shift = np.zeros(2)
    weight = np.ones(len(seen_here))
    for _ in range(_STEPS):
        model, by_x, by_y = (moved_drawing(one, shift)[where].astype(np.float64) for one in layers)
        # A tone curve makes black swell or shrink: half-levels are free, so that it moves nothing.
        light = np.c_[np.ones_like(model), across, down, model, model * (1 - model)]
        moved = np.c_[-by_x, -by_y]
        gains, residual = (v[..., 0] for v in _without(light, seen_here[:, None], weight))
        # Light is fitted with the shift, so that a shadow's edge is not taken for a movement.
        slope = (gains[3] + gains[4] * (1 - 2 * model))[:, None]
        moved = slope * moved
        free = _without(light, moved, weight)[1]
        normal = (weight[:, None] * free).T @ free
        if gains[3] <= 0 or np.linalg.cond(normal) > WORST_CONDITION:
            return None
        step = np.linalg.solve(normal, free.T @ (weight * residual))
        # What lies over a corner of the patch misfits by more than any aligned edge does.
        if np.abs(step).max() < NEARLY_ALIGNED_PX:
            weight = 1 / (1 + (residual / (COVERED_SHARE * gains[3])) ** 2) ** 2
        shift = shift + np.clip(step, -1.0, 1.0)
        if np.abs(shift).max() > FARTHEST_PX:
            return None
        if np.abs(step).max() < 0.005:
            break
    spread = float(np.sqrt((weight * residual**2).sum() / weight.sum()))
    whole = float(np.std(residual))
    total = float(np.std(seen_here - light[:, :3] @ gains[:3]))
    likeness = float(np.sqrt(max(0.0, 1 - (whole / max(total, 1e-9)) ** 2)))
    if likeness < LEAST_LIKENESS:
        return None
    # However clean a photo, tone and sharpening misfit by so much, and along the same edges.
    misfit = max(spread, 2 * LEAST_NOISE * float(gains[3]))
    covariance = np.linalg.inv(normal) * misfit**2 * CORRELATED**2
    sigma = float(np.hypot(np.sqrt(np.trace(covariance) / 2), SMALLEST_SIGMA_PX))
    noise = whole / max(float(gains[3]), 1e-9)
    return (shift, sigma, likeness, noise) if sigma <= MAX_SIGMA_PX else None


def _without(light: Array, values: Array, weight: Array) -> tuple[Array, Array]:
    """Fit columns of light to values (N, K) by weight: coefficients, and what is left."""
    weighted = light * weight[:, None]
    tied = weighted.T @ light + 1e-9 * np.eye(light.shape[1])
    gains = np.asarray(np.linalg.solve(tied, weighted.T @ values), np.float64)
    return gains, values - light @ gains
