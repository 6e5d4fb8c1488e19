"""The light on a wall as one smooth picture: a low-order surface, and what departs from it.

What departs is light where it is a shadow or a glow, and the wall's own where it is a brick or a
motif; the sizes at which it is found say which.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb
from visualiser.statistics import robust_sigma

_REACH_MM, _SPREAD = 6000.0, 3.0


def smooth_wall(
    linear: LinearRgb,
    x_mm: NDArray[np.float64],
    y_mm: NDArray[np.float64],
    usable: NDArray[np.bool_],
    seeds: NDArray[np.bool_],
) -> tuple[LinearRgb, NDArray[np.bool_], tuple[float, float]]:
    """Even out the wall: low-order surface of log light, robustly, plus a smoothed residual.

    Returns the wall's light everywhere, carried on under what stands before it; the pixels that
    were found to be wall; and how fast log light grows to the right and upwards, per metre.
    """
    height, width = usable.shape
    log = np.log(np.maximum(linear, np.float32(1e-4)))
    terms = _light_terms(x_mm, y_mm, seeds if seeds.any() else usable)
    start = seeds if seeds.sum() >= 20 else usable
    middle = np.median(log[start], axis=0)
    far_tone = np.abs((log - middle) @ LUMINANCE_32)
    tint = log - log.mean(axis=2, keepdims=True)
    off_tint = np.linalg.norm(tint - (middle - middle.mean()), axis=2)
    prior = usable * (far_tone < 1.2) * np.exp(-((off_tint / 0.12) ** 2))
    prior = np.where(seeds, np.maximum(prior, 0.5), prior).astype(np.float32)

    chosen = np.flatnonzero(prior.ravel() > 0.02)
    chosen = chosen[:: max(1, len(chosen) // 5000)]
    t, target = terms.reshape(-1, terms.shape[-1])[chosen], log.reshape(-1, 3)[chosen]
    weight, ridge = prior.ravel()[chosen].astype(float), np.diag([0, 1, 1, 4, 4, 4, 4.0])
    solution = np.zeros((terms.shape[-1], 3))
    limit = 0.6
    for turn in range(9):
        a = t * weight[:, None]
        # A small ridge on the bends keeps the surface tame where little wall is seen.
        left = a.T @ t + (0.002 * weight.sum() + 1e-9) * ridge
        solution = np.linalg.solve(left, a.T @ target)
        residual = np.abs(target - t @ solution).max(axis=1)
        kept = residual[weight > 0.3]
        spread = float(robust_sigma(kept)) if len(kept) else 0.1
        limit = max(0.05, 4 * spread, 0.6 * 0.65**turn)
        weight = prior.ravel()[chosen] * np.clip(1 - (residual / limit) ** 2, 0, None) ** 2
    surface = (terms @ solution.astype(np.float32)).astype(np.float32)
    away = log - surface
    # A door or a lampshade may be as bright as the wall but hardly of its very tint.
    away_tone = away @ LUMINANCE_32
    away_tint = np.abs(away - away_tone[..., None]).max(axis=2)
    core = np.abs(away_tone) < limit
    likely = core & usable & (prior > 0.3)
    tint_spread = float(np.median(away_tint[likely])) if likely.any() else 0.0
    trusted = usable & (np.abs(away_tone) < max(limit, 0.2))
    trusted &= away_tint < max(0.05, 4 * tint_spread)
    smooth = surface + _structure(away, trusted, max(width, height) / 60)
    # Vignetting has a term of its own, so the linear terms are the light's alone.
    rise = solution[1:3] @ LUMINANCE_32 / (_REACH_MM / _SPREAD / 1000)
    return np.exp(smooth).astype(np.float32), trusted, (float(rise[0]), float(rise[1]))


def _structure(away: LinearRgb, known: NDArray[np.bool_], sigma: float) -> LinearRgb:
    """Clear the residual of the wall's pattern: what is left is light's, beside the surface.

    Bricks and motifs differ one by one, so averages over them differ too: as white noise does, by
    a quarter of the variance for each octave of size above their own. Shadows and glows differ the
    more the larger they are. So each octave is kept by the part of its variance that is more than
    the pattern can have there (Wiener's filter). A plain wall's is next to nothing, and it keeps
    its shadows' edges.

    References
    ----------
    N. Wiener, Extrapolation, Interpolation and Smoothing of Stationary Time Series, MIT Press,
    1949: the gain S / (S + N). From memory.
    """
    mask = known.astype(np.float32)
    weighed = away * mask[..., None]

    def mean(spread: float) -> LinearRgb:
        support = cv2.GaussianBlur(mask, (0, 0), spread) + np.float32(0.02)
        return np.asarray(cv2.GaussianBlur(weighed, (0, 0), spread) / support[..., None])

    def power(band: LinearRgb) -> float:
        return float(np.square(band[known] @ LUMINANCE_32).mean()) if known.any() else 0.0

    means = [mean(sigma * 2**octave) for octave in (-1, 0, 1, 2)]
    bands = [*(means[i] - means[i + 1] for i in range(3)), means[3]]
    kept = np.zeros_like(away)
    # A course of bricks is several times as long as high: in the next octave it may differ as much.
    pattern = power(bands[0])
    for octave, band in enumerate(bands[1:]):
        # White noise after a Gaussian s has N / (4 pi s^2); from s to 2 s there is 0.45 of it.
        here = pattern if octave < 2 else pattern / 0.45
        # Where few patches of that size are seen, their variance may be more by chance.
        patches = max(mask.sum() / (4 * math.pi * (sigma * 2**octave) ** 2), 1.0)
        here *= 1 + 2 * math.sqrt(2 / patches)
        seen = power(band)
        kept += np.float32(max(1 - here / seen, 0.0) if seen > 0 else 0.0) * band
        pattern = max(pattern, seen) / 4
    return kept


def _light_terms(
    x_mm: NDArray[np.float64], y_mm: NDArray[np.float64], seeds: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Terms of the surface: second order on the wall in metres, and vignetting about the middle."""
    height, width = x_mm.shape
    middle_x, middle_y = float(np.nanmedian(x_mm[seeds])), float(np.nanmedian(y_mm[seeds]))
    # Far along an oblique wall a parabola in metres would run away: distance is compressed.
    x = np.nan_to_num(np.tanh((x_mm - middle_x) / _REACH_MM) * _SPREAD)
    y = np.nan_to_num(np.tanh((y_mm - middle_y) / _REACH_MM) * _SPREAD)
    v, u = np.mgrid[0:height, 0:width]
    r2 = ((u - width / 2) ** 2 + (v - height / 2) ** 2) / (max(height, width) / 2) ** 2
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y, r2], axis=-1).astype(np.float32)
