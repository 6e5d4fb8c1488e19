"""The photo's noise and sharpness, measured on the wall, so that drawn pixels can share them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LinearRgb, to_linear
from visualiser.photo.photo import Photo
from visualiser.rendering.sight_lines import Region

TYPICAL_BLUR_PX = 0.6
"""Gaussian sigma of a focused phone photo at its own size, when no edge tells better."""
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


@dataclass(frozen=True, slots=True)
class Grain:
    """Noise of a photo, as shot noise: variance in linear light grows with the light.

    Parameters
    ----------
    per_light
        Variance of luminance for each unit of linear light.
    chroma_per_light
        Variance of each channel's difference from luminance.
    chroma_blur_px
        How far colour noise is smoothed.
    """

    per_light: float = 0.0
    chroma_per_light: float = 0.0
    chroma_blur_px: float = 1.5


def measure_grain(photo: Photo, regions: list[Region]) -> Grain:
    """Noise on patches of bare wall: the calmest of them, so that texture counts as little."""
    luma_ratios, chroma_ratios = [], []
    for region in regions:
        if region.width < 24 or region.height < 24:
            continue
        linear = to_linear(photo.pixels[region.slices])
        mean = linear.mean(axis=(0, 1))
        level = float(mean @ _LUMA)
        if not 0.003 < level < 0.9:
            continue
        luma = linear @ _LUMA
        # Second differences remove shading; for white noise their variance is 36 times its own.
        kernel = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], np.float32)
        detail = cv2.filter2D(luma, -1, kernel)[1:-1, 1:-1]
        luma_ratios.append((1.4826 * float(np.median(np.abs(detail)))) ** 2 / 36 / level)
        red = linear[..., 0] - luma * np.float32(mean[0] / level)
        smooth = cv2.GaussianBlur(red, (0, 0), 6)
        chroma_ratios.append((1.4826 * float(np.median(np.abs(red - smooth)))) ** 2 / level)
    if not luma_ratios:
        return Grain()
    return Grain(float(np.median(luma_ratios)), float(np.median(chroma_ratios)))


def add_grain(light: LinearRgb, cover: NDArray[np.float32], grain: Grain, seed: int) -> None:
    """Add the photo's noise to drawn light, in place, as far as it covers each pixel."""
    if grain.per_light <= 0:
        return
    rng = np.random.default_rng(seed)
    spread = np.sqrt(np.maximum(light @ _LUMA, 0) * np.float32(grain.per_light)) * cover
    noise = rng.standard_normal(spread.shape, dtype=np.float32)
    light += (noise * spread)[..., None]
    if grain.chroma_per_light > 0:
        tint = rng.standard_normal((*spread.shape, 3), dtype=np.float32)
        sigma = grain.chroma_blur_px
        tint = np.asarray(cv2.GaussianBlur(tint, (0, 0), sigma), np.float32)
        tint *= np.float32(2 * math.sqrt(math.pi) * sigma)  # back to unit spread
        strength = math.sqrt(grain.chroma_per_light / max(grain.per_light, 1e-12))
        light += tint * (spread * np.float32(strength))[..., None]


def edge_blur(photo: Photo, corners_px: PointsPx) -> float:
    """Gaussian sigma of the photo's edges, from the four sides of the reference, px.

    The profile across each side is gathered at sub-pixel places; its slope's second moment is
    the blur's (that of the pixel's own breadth included, sharpening counted as negative blur).
    """
    sigmas = []
    centre = corners_px.mean(axis=0)
    for start, end in zip(corners_px, np.roll(corners_px, -1, axis=0), strict=True):
        along = end - start
        length = float(np.linalg.norm(along))
        if length < 24:
            continue
        along = along / length
        outward = np.array([along[1], -along[0]])
        if outward @ (start - centre) < 0:
            outward = -outward
        t = np.arange(0.2 * length, 0.8 * length, 0.5)
        d = np.arange(-6, 6.01, 0.25)
        points = start + t[:, None, None] * along + d[None, :, None] * outward
        if (points < 1).any() or (points > [photo.width_px - 2, photo.height_px - 2]).any():
            continue
        sigma = _profile_sigma(photo, points, d)
        if sigma is not None:
            sigmas.append(sigma)
    if not sigmas:
        return TYPICAL_BLUR_PX
    return float(np.clip(np.median(sigmas), 0.3, 6.0))


def _profile_sigma(
    photo: Photo, points: NDArray[np.float64], d: NDArray[np.float64]
) -> float | None:
    region = Region.around(points.reshape(-1, 2), 2, photo.pixels.shape)
    luma = to_linear(photo.pixels[region.slices]) @ _LUMA
    local = (points - [region.x, region.y]).astype(np.float32)
    samples = cv2.remap(luma, local[..., 0], local[..., 1], cv2.INTER_LINEAR)
    # Each line of samples has its own step within the edge; align them by their half height.
    low, high = samples[:, -6:].mean(axis=1), samples[:, :6].mean(axis=1)
    step = high - low
    good = np.abs(step) > 0.15 * np.abs(samples).max()
    if good.sum() < 8:
        return None
    profile = (samples[good] - low[good, None]) / step[good, None]
    shift = np.clip(profile, 0, 1).sum(axis=1) * 0.25 - 6.0
    grid = np.arange(-3, 3.01, 0.25)
    aligned = np.mean(
        [np.interp(grid + s, d, row) for s, row in zip(shift, profile, strict=True)], axis=0
    )
    slope = np.clip(-np.diff(aligned), 0, None)
    middle = (grid[:-1] + grid[1:]) / 2
    total = slope.sum()
    if total < 0.5:
        return None
    mean = (slope * middle).sum() / total
    variance = (slope * (middle - mean) ** 2).sum() / total
    # Looking up between pixels adds a triangle of one pixel: variance 1/6 at worst, 1/12 on mean.
    return math.sqrt(max(variance - 1 / 12, 0.05))
