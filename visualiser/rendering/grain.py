"""The photo's noise and sharpness, measured on the wall, so that drawn pixels can share them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE, LinearRgb, to_linear
from visualiser.photo.photo import Photo
from visualiser.rendering.sight_lines import Region

TYPICAL_BLUR_PX = 0.55
"""Gaussian sigma of a focused phone photo at its own size, when no edge tells better."""
_MOST_PER_LIGHT = 1e-3
"""A white of 1 000 electrons: a small sensor in a dim room. More than that is texture."""
_TILE_PX = 512
_LUMINANCE = LUMINANCE.astype(np.float32)


@dataclass(frozen=True, slots=True)
class Grain:
    """Noise of a photo, as shot noise: variance in linear light grows with the light.

    Parameters
    ----------
    per_light
        Variance of luminance for each unit of linear light.
    chroma_per_light
        Variance of each channel's difference from luminance.
    blur_px, chroma_blur_px
        Gaussian sigma over which luminance and colour noise are smoothed: demosaicing, noise
        reduction and JPEG leave little of the finest.
    """

    per_light: float = 0.0
    chroma_per_light: float = 0.0
    blur_px: float = 0.6
    chroma_blur_px: float = 1.5


def measure_grain(photo: Photo, regions: list[Region]) -> Grain:
    """Noise on patches of wall and paper: that of the calmest third.

    Brick, plaster and print are never calmer than the noise on them, so what is least is noise.
    """
    found = [
        values
        for region in regions
        if min(region.width, region.height) >= 24
        and (values := _patch_noise(to_linear(photo.pixels[region.slices]))) is not None
    ]
    if not found:
        return Grain()
    calmest = np.array(sorted(found)[: math.ceil(len(found) / 3)])
    luma, chroma, kinship = np.median(calmest, axis=0)
    # White noise blurred by sigma has neighbours correlated by exp(-1 / (4 sigma^2)).
    blur = math.sqrt(-1 / (4 * math.log(np.clip(kinship, 0.02, 0.9))))
    luma = min(float(luma), _MOST_PER_LIGHT)
    return Grain(luma, min(float(chroma), luma), blur)


def _patch_noise(linear: LinearRgb) -> tuple[float, float, float] | None:
    """Variances of luminance and colour noise for unit light, and neighbours' correlation."""
    mean = linear.mean(axis=(0, 1))
    level = float(mean @ _LUMINANCE)
    if not 0.003 < level < 0.9:
        return None
    luma = linear @ _LUMINANCE
    tint = linear[..., 0] - luma * np.float32(mean[0] / level)
    rest, tint = (f - cv2.GaussianBlur(f, (0, 0), 4) for f in (luma, tint))
    # Without scratches and specks; the floor is a few 8-bit levels, where medians turn coarse.
    calm = np.abs(rest) < 4 * max(1.4826 * float(np.median(np.abs(rest))), 0.003 * level)
    pairs = calm[:, 1:] & calm[:, :-1]
    variance = float((rest[calm] ** 2).mean())
    if variance == 0 or pairs.sum() < 100:
        return None
    kinship = float((rest[:, 1:] * rest[:, :-1])[pairs].mean() / variance)
    return variance / level, float((tint[calm] ** 2).mean()) / level, kinship


@cache
def _noise(
    blur_px: float, chroma_blur_px: float
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Make unit noise to tile: luminance (N, N, 1) and colour (N, N, 3), smoothed."""
    rng = np.random.default_rng(11)

    def smoothed(channels: int, sigma: float) -> NDArray[np.float32]:
        raw = rng.standard_normal((_TILE_PX, _TILE_PX, channels), dtype=np.float32)
        raw = np.pad(raw, ((32, 32), (32, 32), (0, 0)), mode="wrap")  # so that tiles join
        soft = np.asarray(cv2.GaussianBlur(raw, (0, 0), sigma), np.float32)
        soft = soft.reshape(*raw.shape)[32:-32, 32:-32]
        soft = np.ascontiguousarray(soft / soft.std())
        soft.flags.writeable = False
        return soft

    return smoothed(1, blur_px), smoothed(3, chroma_blur_px)


def add_grain(light: LinearRgb, cover: NDArray[np.float32], grain: Grain, seed: int) -> None:
    """Add the photo's noise to drawn light, in place, as far as it covers each pixel."""
    if grain.per_light <= 0:
        return
    luma, tint = _noise(round(max(grain.blur_px, 0.2), 1), round(grain.chroma_blur_px, 1))
    # Each piece takes its own cut of the tile; no repeat is noticed at the noise's strength.
    down, right = np.random.default_rng(seed).integers(0, _TILE_PX, 2)
    rows = (np.arange(light.shape[0]) + down) % _TILE_PX
    columns = (np.arange(light.shape[1]) + right) % _TILE_PX
    cut = np.ix_(rows, columns)
    spread = np.sqrt(np.maximum(light @ _LUMINANCE, 0) * np.float32(grain.per_light)) * cover
    noise = tint[cut] * np.float32(math.sqrt(grain.chroma_per_light / grain.per_light))
    noise += luma[cut]
    light += noise * spread[..., None]


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
        d = np.arange(-8, 8.01, 0.25)
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
    luma = to_linear(photo.pixels[region.slices]) @ _LUMINANCE
    local = (points - [region.x, region.y]).astype(np.float32)
    samples = cv2.remap(luma, local[..., 0], local[..., 1], cv2.INTER_LINEAR)
    # Each line of samples has its own step within the edge; align them by their half height.
    low, high = samples[:, -6:].mean(axis=1), samples[:, :6].mean(axis=1)
    step = high - low
    good = np.abs(step) > 0.3 * np.abs(samples).max()  # pale edges drown in noise
    if good.sum() < 8:
        return None
    profile = (samples[good] - low[good, None]) / step[good, None]
    shift = np.clip(profile, 0, 1).sum(axis=1) * 0.25 - 8.0
    grid = np.arange(-5, 5.01, 0.25)
    aligned = np.mean(
        [np.interp(grid + s, d, row) for s, row in zip(shift, profile, strict=True)], axis=0
    )
    slope = np.clip(-np.diff(aligned), 0, None)
    middle = (grid[:-1] + grid[1:]) / 2
    slope[slope < 0.03 * slope.max()] = 0  # what is left of the noise
    total = slope.sum()
    if total < 0.5:
        return None
    mean = (slope * middle).sum() / total
    variance = (slope * (middle - mean) ** 2).sum() / total
    # Looking up between pixels adds a triangle of one pixel: variance 1/6 at worst, 1/12 on mean.
    return math.sqrt(max(variance - 1 / 12, 0.05))
