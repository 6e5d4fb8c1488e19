"""Profiles across an edge: one channel of three, a step fitted to each, a line through all."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE

Array = NDArray[np.float64]

STEP_PX = 0.5
"""Spacing of the samples across the edge."""
SIGMA_FLOOR_PX = 0.02
"""No edge of a JPEG is believed to better than this, however quiet the picture."""
MIN_LIGHT_STEP, MIN_SURENESS = 0.04, 4.0
"""A step in light of less than this share of the darker side, or of less than so many sigmas, is
left to the hues."""
POOLING = 2.0
"""Weight of the noise common to an edge's blocks against a block's own idea of it."""


class StepFit(NamedTuple):
    """Steps fitted across blocks, all (B,): place, its sigma, level before, step and blur."""

    position: Array
    sigma: Array
    low: Array
    step: Array
    blur: Array


def fit_steps(light: Array, offsets: Array, start: Array, blur: float, reach_px: float) -> StepFit:
    """Least squares of ``low + step * Phi((u - position) / blur)`` in every block at once."""
    from scipy.special import ndtr

    count = len(start)
    half = int(np.ceil(reach_px / STEP_PX))
    middle = (len(offsets) - 1) / 2
    first = np.rint(middle + start / STEP_PX).astype(int) - half
    index = np.clip(first[:, None] + np.arange(2 * half + 1), 0, len(offsets) - 1)
    u = offsets[index]
    y = np.take_along_axis(light, index, axis=1)
    position, width = start.copy(), np.full(count, blur)
    amplitude = np.zeros(count)
    sigma = np.full(count, np.inf)
    level, ones, ridge = y - y.mean(axis=1, keepdims=True), np.ones_like(u), 1e-6 * np.eye(4)
    for _ in range(5):
        z = (u - position[:, None]) / width[:, None]
        phi = np.exp(-0.5 * z * z) / np.sqrt(2 * np.pi)
        edge = ndtr(z)
        # Linear in low and step; position and blur by Gauss-Newton on what is left.
        centred = edge - edge.mean(axis=1, keepdims=True)
        amplitude = (centred * level).sum(axis=1) / np.maximum((centred**2).sum(axis=1), 1e-12)
        residual = level - amplitude[:, None] * centred
        by_position = -amplitude[:, None] * phi / width[:, None]
        by_width = -amplitude[:, None] * phi * z / width[:, None]
        jacobian = np.stack([by_position, by_width, centred, ones], axis=1)
        normal = jacobian @ jacobian.transpose(0, 2, 1)
        scale = np.sqrt(np.maximum(normal.diagonal(axis1=1, axis2=2), 1e-20))
        normal = normal / scale[:, :, None] / scale[:, None, :] + ridge
        right = (jacobian @ residual[:, :, None])[:, :, 0] / scale
        inverse = np.linalg.inv(normal)
        change = (inverse @ right[:, :, None])[:, :, 0] / scale
        position = (position + change[:, 0].clip(-1, 1)).clip(u[:, 1], u[:, -2])
        width = (width + change[:, 1].clip(-0.5, 0.5)).clip(0.35, 6.0)
        # Samples half a pixel apart share their pixels: count them as half as many.
        variance = (residual**2).sum(axis=1) / max(u.shape[1] / 2 - 4, 1.0)
        sigma = np.sqrt(variance * inverse[:, 0, 0]) / scale[:, 0]
    low = y.mean(axis=1) - amplitude * edge.mean(axis=1)
    return StepFit(position, sigma, low, amplitude, width)


def pooled_sigma(fit: StepFit, good: NDArray[np.bool_]) -> Array:
    """Sigmas (B,) of blocks of one edge, each drawn towards what all of them say.

    A block's own residuals are a dozen: by chance alone one block would outweigh ten others.
    """
    step = np.maximum(np.abs(fit.step), 1e-9)
    common = float(np.median((fit.sigma * step)[good])) / step
    return np.asarray(np.sqrt((fit.sigma**2 + POOLING * common**2) / (1 + POOLING)))


def smooth_track(
    offset: Array, sigma: Array, good: NDArray[np.bool_]
) -> tuple[Array, NDArray[np.bool_], float]:
    """Fit a robust parabola along the edge: lenses and paper bend slowly, tape and print jump.

    Returns
    -------
    The parabola (B,), the blocks that follow it (B,), and the scatter of those about it.
    """
    t = np.linspace(-1, 1, len(offset))
    basis = np.stack([np.ones_like(t), t, t**2 - 1 / 3], axis=1)
    full = good / np.maximum(sigma, SIGMA_FLOOR_PX) ** 2
    weight = full
    scatter = 0.0
    for _ in range(6):
        weighted = basis.T * weight
        normal = weighted @ basis
        # A pinch of ridge on the curvature keeps a few clustered blocks from bending it wildly.
        normal.flat[::4] += [1e-9, 1e-9, 1e-3 * weight.sum() + 2e-9]
        curve = basis @ np.linalg.solve(normal, weighted @ offset)
        residual = offset - curve
        scatter = max(1.4826 * median(np.abs(residual[good])), 0.5 * SIGMA_FLOOR_PX)
        tukey = (1 - (residual / (4.5 * np.hypot(scatter, sigma))) ** 2).clip(0, 1) ** 2
        weight = full * tukey
    return curve, good & (tukey > 0.1), scatter


def median(values: Array) -> float:
    """Median of a few values (N,): numpy's own spends ten times as long on looking after them."""
    middle = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, middle)[middle])
    pair = np.partition(values, (middle - 1, middle))[middle - 1 : middle + 1]
    return float(pair.mean())


def one_channel(light: Array, offsets_px: Array, step: Array) -> tuple[Array, bool]:
    """One channel of three: the light; where it hardly differs, what tells the edge best.

    A white sheet on a white wall may differ by two grey levels, but by six in blue.

    Returns
    -------
    The channel (B, U), and whether it tells of hue more than of light.
    """
    difference = np.diff(light, axis=0).reshape(-1, 3)
    clipped = np.clip(difference, *np.percentile(difference, [10, 90], axis=0))
    noise = clipped.T @ clipped / max(len(clipped), 1)
    across = offsets_px
    sides = [np.median(light[:, a], axis=(0, 1)) for a in (across < -3, across > 3)]
    rise = float((sides[1] - sides[0]) @ LUMINANCE)
    dark = float(min(side @ LUMINANCE for side in sides))
    grain = float(np.sqrt(LUMINANCE @ noise @ LUMINANCE / len(light)))
    if abs(rise) > max(MIN_LIGHT_STEP * dark, MIN_SURENESS * grain):
        return np.asarray(light @ LUMINANCE), False
    # Fisher's discriminant. Where the contrast is ample, weights follow the contrast.
    regular = noise + np.eye(3) * ((0.1 * np.abs(step).max()) ** 2 + 1e-10)
    weight = np.linalg.solve(regular, step)
    weight /= np.abs(weight).sum()
    return np.asarray(light @ weight), True
