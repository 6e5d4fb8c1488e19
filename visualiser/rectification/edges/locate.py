"""Straight edges in a photo, located to a few hundredths of a pixel, each point with its sigma.

A strip along the expected edge is resampled in linear light, averaged in short blocks along the
edge, and an error function (a step behind a Gaussian blur) is fitted across each block. Corners
are not used: tape hides them and paper curls there; a side offers hundreds of pixels instead of
one point. Of the three channels the clearest is taken.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.linear_light import LUMINANCE
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.reference import EdgeLook, EdgeSamples
from visualiser.statistics import MAD_TO_SIGMA, robust_sigma

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
    common = median((fit.sigma * step)[good]) / step
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
        scatter = max(MAD_TO_SIGMA * median(np.abs(residual[good])), 0.5 * SIGMA_FLOOR_PX)
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


SHOULDER_LEVEL, CLIPPED_LEVEL = 0.85, 0.98
"""Brightness, in linear light, from which a tone curve bends, and where it has come to its end."""
CLIPPED_SHIFT = 0.4
"""How far clipping moves the half-level out, in blurs. Clipped white is really brighter by an
unknown factor c: the half-level then lies at the quantile 1 / 2c of the step, for c from 1.15 to
1.6 between 0.16 and 0.49 blurs outside."""
HUE_SIGMA_PX = 0.8
"""What coding moves a whole edge by that only its hue tells: JPEG keeps hues at half the sharpness
of light, in blocks of 16 px, after the camera has smoothed them."""
SHARPEST_HUE_PX, STUCK_PX = 1.0, 8 / np.sqrt(12) / np.sqrt(2)
"""An edge that only its hue tells, sharper than the first, is the border between two blocks of the
JPEG: at half the sharpness of light none is so sharp. It sticks to that border, straight and
clear, wherever within half a block the true one lies, and however it leans: both as a whole and at
its ends, together by the deviation of what is even over 8 px. (Ten such sides of sheets in
rendered rooms: 1.3 px as a whole, 1.9 at the ends, root mean square.)"""
WANDER_PX, WANDER_HUE_PX = 4.0, 8.0
"""Uncertainty of a whole edge as faint as what is about it, px; it falls as the edge stands out.
A matched filter places a step to its width over its signal-to-noise ratio. A faint step in a JPEG
is told by blocks of 8 px, one that only its hue tells by blocks of 16: half a block. (Sides of
sheets in rendered rooms, 4 to 35 times as strong as what is about them: 3 to 6 px.)"""
CLEAR_PX = 4.0
"""From this far off the edge on, what the profiles show is noise to it."""
SETTLED_PX = 0.01
"""An edge and its blur have been found when another look moves neither by more than this."""
MIN_BLOCKS = 5
"""Fewer good blocks than this are no edge."""


def sample_side(
    photo: Photo,
    start_px: PointsPx,
    end_px: PointsPx,
    *,
    search_px: float | None = None,
    trim: float = 0.09,
) -> EdgeSamples:
    """Locate the edge between two approximate end points.

    Parameters
    ----------
    photo
        The photo.
    start_px, end_px
        (2,) approximate ends of the side, good to about ``search_px``.
    search_px
        How far from the straight line between the ends the edge may lie. Default: 2.5 % of the
        length, at least 5 px, at most 16 px.
    trim
        Fraction of the length left out at each end, where tape lies and corners curl and blur.

    Returns
    -------
    Points on the edge with unit normals and a standard uncertainty along the normal. Empty where
    no edge stands out from the noise.
    """
    start, end = np.asarray(start_px, float).reshape(2), np.asarray(end_px, float).reshape(2)
    length = float(np.hypot(*(end - start)))
    reach = float(np.clip(0.025 * length, 5.0, 16.0)) if search_px is None else search_px
    if length < 12:
        return no_samples()
    view = LinearView.around(photo.pixels, np.array([start, end]), reach + 10)
    margin = trim * length + 1.5
    fraction = np.linspace(margin / length, 1 - margin / length, max(int(length - 2 * margin), 8))
    path = start + fraction[:, None] * (end - start)
    return sample_path(view, path, reach)


def sample_path(view: LinearView, path_px: PointsPx, search_px: float) -> EdgeSamples:
    """Locate the edge along a smooth path of about 1 px spacing, given to within ``search_px``.

    Returns
    -------
    As `sample_side`.
    """
    tangent = np.gradient(path_px, axis=0)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    normal = np.c_[-tangent[:, 1], tangent[:, 0]]
    keep = view.contains(path_px, 1.0)
    if keep.sum() < 10:
        return no_samples()
    path_px, normal = path_px[keep], normal[keep]
    profiles = _Profiles.cut(view, path_px, normal, search_px + 5.0)
    track = _find_track(profiles, search_px)
    if track is None:
        return no_samples()
    across, sigma, good, look = _refine(profiles, track)
    points = profiles.centres_px + across[:, None] * profiles.normals_px
    good &= view.contains(points, 0.0)
    if good.sum() < MIN_BLOCKS or good.sum() < 0.25 * len(good):
        return no_samples()
    # The edge is not quite parallel to the path: turn the normals by the slope of the track.
    along = np.r_[0.0, np.cumsum(np.linalg.norm(np.diff(profiles.centres_px, axis=0), axis=1))]
    slope = np.polyval(np.polyder(np.polyfit(along[good], across[good], 1)), along)
    tangents = np.c_[profiles.normals_px[:, 1], -profiles.normals_px[:, 0]]
    normals = profiles.normals_px - slope[:, None] * tangents
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return EdgeSamples(points[good], normals[good], sigma[good], look)


def block_count(length: int) -> int:
    """How many blocks along a path of so many points are looked at: at most as many samples."""
    return int(np.clip(length // 7, MIN_BLOCKS + 3, 48))


def no_samples() -> EdgeSamples:
    """No edge was found."""
    return EdgeSamples(np.empty((0, 2)), np.empty((0, 2)), np.empty(0))


@dataclass(frozen=True, slots=True, eq=False)
class _Profiles:
    """Light across the edge, averaged along short blocks: (B, U, 3), at offsets (U,)."""

    light: Array
    offsets_px: Array
    centres_px: Array
    normals_px: Array

    @classmethod
    def cut(cls, view: LinearView, path_px: Array, normal: Array, reach_px: float) -> _Profiles:
        half = int(np.ceil(reach_px / STEP_PX))
        offsets = np.arange(-half, half + 1) * STEP_PX
        count = block_count(len(path_px))
        per_block = len(path_px) // count
        if per_block > 24:  # a long line: a part of its pixels is enough
            stride = per_block // 12
            path_px, normal = path_px[::stride], normal[::stride]
            per_block = len(path_px) // count
        used = per_block * count
        grid = path_px[:used, None, :] + offsets[None, :, None] * normal[:used, None, :]
        strip = view.sample(grid).astype(float)
        light = strip.reshape(count, per_block, len(offsets), 3).mean(axis=1)
        centres = path_px[:used].reshape(count, per_block, 2).mean(axis=1)
        normals = normal[:used].reshape(count, per_block, 2).mean(axis=1)
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return cls(light, np.asarray(offsets, float), centres, normals)


def _gradient(light: Array, width_px: float) -> Array:
    """Differentiate by a Gaussian across the edge (axis 1)."""
    from scipy.ndimage import gaussian_filter1d

    return np.asarray(gaussian_filter1d(light, width_px / STEP_PX, axis=1, order=1, mode="nearest"))


def _find_track(profiles: _Profiles, search_px: float) -> tuple[Array, Array] | None:
    """Find the line along which the step is strongest, coherently over all blocks and channels.

    Returns
    -------
    Offset of the edge (B,) and the mean step of each channel (3,); None when nothing stands out.
    """
    gradient = _gradient(profiles.light, 1.0)
    noise = np.maximum(robust_sigma(np.diff(gradient, axis=0), axis=(0, 1)), 1e-5)
    count, width = gradient.shape[:2]
    first, last, along = _tracks(count, width, int(search_px / STEP_PX))
    # Winsorised, so that a strip of tape or a neighbour's corner cannot outvote the rest.
    limit = 3 * np.median(np.abs(gradient).max(axis=1), axis=0) + noise
    sums = along @ np.clip(gradient, -limit, limit).reshape(count * width, -1)
    score = ((sums / noise) ** 2).sum(axis=1)
    best = int(score.argmax())
    if score[best] < 30 * count / 2 and score[best] < 150:
        return None
    t = np.linspace(0, 1, count)
    track = (first[best] * (1 - t) + last[best] * t) * STEP_PX
    return track, sums[best] / count


@lru_cache(24)
def _tracks(count: int, width: int, reach: int) -> tuple[NDArray[np.int_], NDArray[np.int_], Any]:
    """List all straight lines across blocks of samples.

    Returns
    -------
    Their first and last offsets (T,) from the middle, in samples, and a sparse matrix
    (T, count * width) that adds up what lies along each.
    """
    from scipy.sparse import csr_array

    ends = np.arange(-reach, reach + 1)
    first, last = (v.ravel() for v in np.meshgrid(ends, ends, indexing="ij"))
    t = np.linspace(0, 1, count)
    index = np.rint((width - 1) / 2 + first[:, None] * (1 - t) + last[:, None] * t).astype(int)
    places = (np.arange(count) * width + index).ravel()
    starts = np.arange(0, places.size + 1, count)
    along = csr_array((np.ones(places.size), places, starts), shape=(len(first), count * width))
    return first, last, along


def _refine(
    profiles: _Profiles, track: tuple[Array, Array]
) -> tuple[Array, Array, NDArray[np.bool_], EdgeLook | None]:
    """Fit an error function across each block.

    Returns
    -------
    Offset (B,), standard uncertainty (B,), which blocks are good (B,), and how the edge looks.
    """
    offset, step = track
    light, by_hue = one_channel(profiles.light, profiles.offsets_px, step)
    good = np.ones(len(offset), bool)
    blur = 1.0
    for round_ in range(4):
        reach = max(3.0, 3.2 * blur)
        fit = fit_steps(light, profiles.offsets_px, offset, blur, reach)
        typical = median(fit.step[good]) if good.any() else 0.0
        good = (
            (fit.step * np.sign(typical) > 0.35 * abs(typical))
            & (np.abs(fit.step) < 3.0 * abs(typical))
            & (np.abs(fit.position - offset) < (3.0 if round_ == 0 else 2.0))
            & np.isfinite(fit.sigma)
        )
        if good.sum() < MIN_BLOCKS:
            return offset, fit.sigma, good, None
        sigma = pooled_sigma(fit, good)
        smooth, good, scatter = smooth_track(fit.position, sigma, good)
        before, offset, sharper = offset, smooth, blur
        blur = float(np.clip(median(fit.blur[good]), 0.5, 6.0))
        if np.abs(offset - before).max() < SETTLED_PX and abs(blur - sharper) < SETTLED_PX:
            break
    spread = max(1.0, scatter / max(median(sigma[good]), 1e-6))
    brightest = float(np.quantile(profiles.light @ LUMINANCE, 0.9))
    bent = (brightest - SHOULDER_LEVEL) / (CLIPPED_LEVEL - SHOULDER_LEVEL)
    share = float(np.clip(bent, 0.0, 1.0))
    shift = np.sign(step.sum()) * CLIPPED_SHIFT * blur * share
    low, typical = median(fit.low[good]), median(fit.step[good])
    contrast = typical / low if low > 1e-4 else np.inf
    blind = float(profiles.offsets_px[-1]) / np.sqrt(3)
    wander = (WANDER_HUE_PX if by_hue else WANDER_PX) * _faintness(
        light, profiles.offsets_px, smooth
    )
    stuck = STUCK_PX if by_hue and blur < SHARPEST_HUE_PX else 0.0
    look = EdgeLook(
        contrast,
        blur,
        max(HUE_SIGMA_PX, stuck) if by_hue else 0.0,
        max(min(wander, blind), stuck),
        clipped_share=share,
    )
    return fit.position + shift, np.maximum(sigma * spread, SIGMA_FLOOR_PX), good, look


def _faintness(light: Array, across_px: Array, offset: Array) -> float:
    """Hold the steps along lines beside an edge, that are none, against its own.

    Blocks' own scatter can't tell: what compression and shading do to an edge they do to many
    blocks alike.

    Returns
    -------
    Noise over signal of the edge as a whole; infinite where there is nothing to compare.
    """
    from scipy.ndimage import map_coordinates

    gradient = _gradient(light[..., None], 1.0)[..., 0]
    beside = np.arange(-across_px[-1], across_px[-1] + STEP_PX, STEP_PX)
    column = (offset[None, :] + beside[:, None] - across_px[0]) / STEP_PX
    block = np.broadcast_to(np.arange(len(light)), column.shape)
    steps = map_coordinates(gradient, [block, column], order=1, mode="nearest").mean(axis=1)
    within = (column.min(axis=1) >= 2) & (column.max(axis=1) <= light.shape[1] - 3)
    noise = steps[within & (np.abs(beside) >= CLEAR_PX)]
    edge = float(np.abs(steps[np.abs(beside) <= STEP_PX]).max())
    return float(np.sqrt(np.mean(noise**2))) / edge if len(noise) and edge > 0 else np.inf
