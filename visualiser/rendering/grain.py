"""The photo's noise, measured on wall and paper, so that drawn pixels can share it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, to_linear
from visualiser.photo.photo import Photo
from visualiser.rendering.sight_lines import Region
from visualiser.statistics import robust_sigma

_ROUNDING = 8 * float(np.finfo(np.float32).eps)
_MOST_PER_LIGHT, _MOST_KINSHIP = 1e-3, 0.75
"""A white of 1 000 electrons: a small sensor in a dim room; and the correlation of neighbours that
demosaicing and noise reduction leave at most. What exceeds both is texture."""
_SOUND, _TOO_BRIGHT = (0.003, 0.9), (0.9, 0.985)
"""Levels at which noise shows as it is, and at which the tone curve holds it down."""
_TILE_PX = 512


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
    found = _noise_of(photo, regions, _SOUND)
    # On brick in good light only the sheet is smooth: its noise is held down, but it is noise.
    found = found or _noise_of(photo, regions, _TOO_BRIGHT)
    if not found:
        return Grain()
    calmest = np.array(sorted(found)[: math.ceil(len(found) / 3)])
    luma, chroma, kinship = np.median(calmest, axis=0)
    # White noise blurred by sigma has neighbours correlated by exp(-1 / (4 sigma^2)).
    blur = math.sqrt(-1 / (4 * math.log(np.clip(kinship, 0.02, 0.9))))
    luma = min(float(luma), _MOST_PER_LIGHT)
    return Grain(luma, min(float(chroma), luma), blur)


def _noise_of(
    photo: Photo, regions: list[Region], levels: tuple[float, float]
) -> list[tuple[float, float, float]]:
    """Noise of those patches that lie within the levels and are not textured."""
    patches = [
        _patch_noise(to_linear(photo.pixels[region.slices]), levels)
        for region in regions
        if min(region.width, region.height) >= 24
    ]
    return [p for p in patches if p and not (p[0] > _MOST_PER_LIGHT and p[2] > _MOST_KINSHIP)]


def _patch_noise(
    linear: LinearRgb, levels: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Variances of luminance and colour noise for unit light, and neighbours' correlation."""
    mean = linear.mean(axis=(0, 1))
    level = float(mean @ LUMINANCE_32)
    if not levels[0] < level < levels[1]:
        return None
    luma = linear @ LUMINANCE_32
    tint = linear[..., 0] - luma * np.float32(mean[0] / level)
    rest, tint = (f - cv2.GaussianBlur(f, (0, 0), 4) for f in (luma, tint))
    # Without scratches and specks; the floor is a few 8-bit levels, where medians turn coarse.
    calm = np.abs(rest) < 4 * max(float(robust_sigma(rest)), 0.003 * level)
    pairs = calm[:, 1:] & calm[:, :-1]
    variance = float((rest[calm] ** 2).mean())
    # Filtering rounds: an even patch comes out even to single precision only.
    if variance <= (_ROUNDING * level) ** 2 or pairs.sum() < 100:
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
    spread = np.sqrt(np.maximum(light @ LUMINANCE_32, 0) * np.float32(grain.per_light)) * cover
    noise = tint[cut] * np.float32(math.sqrt(grain.chroma_per_light / grain.per_light))
    noise += luma[cut]
    light += noise * spread[..., None]
