"""From several photos of one flat target to the lens that took them, and the model it needs.

Phones straighten their pictures, cheap wide lenses need more terms, some are fisheyes. Which model
is taken is decided by photos that were left out of the fit: the simplest whose residuals there are
no worse than the best one's, within what chance does to them. What no model explains is kept as a
noise of its own: the target is not flat, the shutter rolls, the lens is what it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsMm, PointsPx
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.projection import LENS, POSE, CameraState, Lens

Array = NDArray[np.float64]
View = tuple[Array, Array]

MIN_VIEWS, MIN_POINTS = 3, 6
ENOUGH_VIEWS = 6
"""From so many photos on some are left out to choose the model; fewer give two radial terms."""
FOLDS = 4
WORTH = 0.02
"""A model that leaves less than this share fewer residuals on the photos it was fitted to is not
tried on others."""
STEPS, SETTLED = 60, 1e-7
PARAMETERS = ("log_focal", "k1", "k2", "centre_x_px", "centre_y_px", "k3", "p1", "p2")


@dataclass(frozen=True, slots=True)
class _Model:
    """Which parameters are fitted, and how rays become pixels."""

    fitted: tuple[int, ...]
    fisheye: bool = False


_PLAIN = (0, 1, 2, 3, 4)
MODELS = (
    _Model(_PLAIN),
    _Model(_PLAIN, fisheye=True),
    _Model((*_PLAIN, 6, 7)),
    _Model((*_PLAIN, 5)),
    _Model((*_PLAIN, 5), fisheye=True),
    _Model((*_PLAIN, 5, 6, 7)),
)
"""The simplest first."""


@dataclass(frozen=True, slots=True, eq=False)
class _Fitted:
    """A lens and where each photo was taken from; squared residuals by photo, px²."""

    lens: Lens
    states: list[CameraState]
    squares: Array


def calibrate_lens(
    views: Sequence[tuple[PointsMm, PointsPx]],
    width_px: int,
    height_px: int,
    camera: str = "",
    stated_focal_px: float | None = None,
) -> LensProfile:
    """Measure a lens from several photos of one flat target.

    Parameters
    ----------
    views
        For each photo the target's points in its own plane (N, 2), mm, and in the photo (N, 2).
    width_px, height_px
        Size of the photos.
    camera, stated_focal_px
        What their files say, to match the profile later.

    Raises
    ------
    MeasurementError
        If there are too few photos or points, or no lens explains them.

    References
    ----------
    Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI 22(11), 2000.
    """
    usable = [
        (np.asarray(a, float), np.asarray(b, float)) for a, b in views if len(a) >= MIN_POINTS
    ]
    if len(usable) < MIN_VIEWS:
        raise MeasurementError(
            f"A lens profile needs {MIN_VIEWS} photos of the target or more, got {len(usable)}.",
            hint="Photograph the target from the left, the right, above and below.",
        )
    start = _start(usable, width_px, height_px)
    best, model = _choose(usable, start)
    lens, count = best.lens, sum(len(a) for a, _ in usable)
    covariance = _covariance(best, usable, model)
    rms = float(np.sqrt(best.squares.sum() / count))
    if not (np.isfinite(covariance).all() and lens.focal_px > 0 and rms < 0.01 * width_px):
        raise MeasurementError(
            "The photos of the target do not agree on one lens.",
            hint="Take them with one phone at one zoom, from clearly different directions.",
        )
    return LensProfile(
        camera, stated_focal_px, width_px, height_px, lens, covariance, rms,
        _left_over_px(best, usable),
    )  # fmt: skip


def _start(views: Sequence[View], width_px: int, height_px: int) -> _Fitted:
    """First values: OpenCV's calibration with two radial terms."""
    flags = cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO
    guess = 0.8 * max(width_px, height_px)
    matrix = np.array(
        [[guess, 0, (width_px - 1) / 2], [0, guess, (height_px - 1) / 2], [0, 0, 1.0]]
    )
    solid = [np.c_[a, np.zeros(len(a))].astype(np.float32) for a, _ in views]
    flat = [b.astype(np.float32).reshape(-1, 1, 2) for _, b in views]
    try:
        _, matrix, bend, turns, shifts = cv2.calibrateCamera(
            solid, flat, (width_px, height_px), matrix, np.zeros(5),
            flags=flags | cv2.CALIB_USE_INTRINSIC_GUESS,
        )  # fmt: skip
    except cv2.error as error:
        raise MeasurementError(
            "No lens explains the photos of the target.",
            hint="Leave out blurred photos and those where the target is bent.",
        ) from error
    k1, k2 = (float(v) for v in np.ravel(bend)[:2])
    lens = Lens(float(matrix[0, 0]), float(matrix[0, 2]), float(matrix[1, 2]), k1, k2)
    states = [
        CameraState(np.asarray(cv2.Rodrigues(r)[0], float), np.ravel(t).astype(float), lens)
        for r, t in zip(turns, shifts, strict=True)
    ]
    return _Fitted(lens, states, _squares(lens, states, views))


def _choose(views: Sequence[View], start: _Fitted) -> tuple[_Fitted, _Model]:
    """Fit every model, and take the simplest that photos left out do not speak against."""
    fits = [_adjust(views, _as_model(start, model), model) for model in MODELS]
    tried = [0]
    if len(views) >= ENOUGH_VIEWS:
        bar = (1 - WORTH) * fits[0].squares.sum()
        tried += [i for i in range(1, len(MODELS)) if fits[i].squares.sum() < bar]
    if len(tried) == 1:
        return fits[0], MODELS[0]
    held_out = np.array([_held_out(views, fits[i], MODELS[i]) for i in tried])
    counts = np.array([len(a) for a, _ in views])
    mean = held_out / counts
    best = int(mean.mean(axis=1).argmin())
    for i, row in zip(tried, mean, strict=True):
        worse = row - mean[best]
        if worse.mean() <= worse.std(ddof=1) / np.sqrt(len(views)):
            return fits[i], MODELS[i]
    return fits[tried[best]], MODELS[tried[best]]


def _as_model(start: _Fitted, model: _Model) -> _Fitted:
    if not model.fisheye:
        return start
    # tan a = a + a³/3 + …: what a plain lens has for no distortion, a fisheye has for 1/3.
    lens = replace(start.lens, k1=start.lens.k1 + 1 / 3, k2=0.0, fisheye=True)
    return _Fitted(lens, start.states, start.squares)


def _held_out(views: Sequence[View], fit: _Fitted, model: _Model) -> Array:
    """Squared residuals (V,) of each photo under a lens that was fitted without it."""
    squares = np.zeros(len(views))
    for fold in range(FOLDS):
        out = np.arange(len(views)) % FOLDS == fold
        rest = [i for i in range(len(views)) if not out[i]]
        start = _Fitted(fit.lens, [fit.states[i] for i in rest], fit.squares[rest])
        lens = _adjust([views[i] for i in rest], start, model).lens
        for i in (int(v) for v in np.flatnonzero(out)):
            posed = _adjust([views[i]], _Fitted(lens, [fit.states[i]], fit.squares[:1]), None)
            squares[i] = posed.squares[0]
    return squares


def _adjust(views: Sequence[View], start: _Fitted, model: _Model | None) -> _Fitted:
    """Least squares over the lens and every photo's pose; without a model over the poses alone."""
    fitted = list(model.fitted) if model else []
    lens, states = start.lens, start.states
    squares = _squares(lens, states, views)
    damping = 1e-4
    for _ in range(STEPS):
        blocks = [
            _block(state, lens, view, fitted) for state, view in zip(states, views, strict=True)
        ]
        information = sum((b[0] for b in blocks), np.zeros((len(fitted),) * 2))
        gradient = sum((b[1] for b in blocks), np.zeros(len(fitted)))
        scale = np.sqrt(np.diag(information) + 1e-300)
        damped = information + damping * np.diag(scale**2)
        change: Array = np.zeros(0)
        if fitted:
            change = np.asarray(-np.linalg.solve(damped, gradient), float)
        moved_lens = _moved(lens, fitted, change)
        moved = [
            replace(state, lens=moved_lens).moved(np.r_[-(gain @ change) - own, np.zeros(5)])
            for state, (_, _, gain, own) in zip(states, blocks, strict=True)
        ]
        new = _squares(moved_lens, moved, views)
        if np.isfinite(new).all() and new.sum() <= squares.sum():
            settled = squares.sum() - new.sum() < SETTLED * squares.sum()
            lens, states, squares = moved_lens, moved, new
            damping = max(damping / 5, 1e-9)
            if settled:
                break
        else:
            damping *= 8
            if damping > 1e4:
                break
    return _Fitted(lens, states, squares)


def _block(
    state: CameraState, lens: Lens, view: View, fitted: Sequence[int]
) -> tuple[Array, Array, Array, Array]:
    """One photo's share of the lens's normal equations, its pose eliminated (Schur complement).

    Returns
    -------
    Information and gradient of the lens, how the pose follows the lens, and its own step.
    """
    points_mm, points_px = view
    state = replace(state, lens=lens)
    xyz = np.c_[points_mm, np.zeros(len(points_mm))]
    pixels, by_camera, _ = state.project(xyz)
    residual = (pixels - points_px).ravel()
    pose = by_camera[:, :, POSE].reshape(len(residual), 6)
    by_lens = _by_lens(state, xyz, by_camera, fitted)
    normal = pose.T @ pose
    own = np.asarray(np.linalg.solve(normal, pose.T @ residual), float)
    gain = np.asarray(np.linalg.solve(normal, pose.T @ by_lens), float)
    free = by_lens - pose @ gain
    return free.T @ free, free.T @ (residual - pose @ own), gain, own


def _by_lens(state: CameraState, xyz: Array, by_camera: Array, fitted: Sequence[int]) -> Array:
    """Differentiate pixels (2N, K) by the fitted parameters; beyond the five by differences."""
    columns = by_camera[:, :, LENS].reshape(-1, 5)
    more = []
    for i in (i for i in fitted if i >= 5):
        ahead, behind = (
            replace(state, lens=_moved(state.lens, [i], np.array([h]))).project(xyz)[0]
            for h in (1e-5, -1e-5)
        )
        more.append((ahead - behind).ravel() / 2e-5)
    kept = columns[:, [i for i in fitted if i < 5]]
    return np.column_stack([kept, *more]) if more else kept


def _moved(lens: Lens, fitted: Sequence[int], change: Array) -> Lens:
    full = np.zeros(len(PARAMETERS))
    full[list(fitted)] = change
    return replace(
        lens,
        focal_px=lens.focal_px * float(np.exp(np.clip(full[0], -0.5, 0.5))),
        **{
            name: getattr(lens, name) + float(value)
            for name, value in zip(PARAMETERS[1:], full[1:], strict=True)
        },
    )


def _squares(lens: Lens, states: Sequence[CameraState], views: Sequence[View]) -> Array:
    """Squared residuals (V,) of each photo, px²."""
    return np.array([float((off**2).sum()) for off in _residuals(lens, states, views)])


def _residuals(lens: Lens, states: Sequence[CameraState], views: Sequence[View]) -> list[Array]:
    found = []
    for state, (points_mm, points_px) in zip(states, views, strict=True):
        xyz = state.to_camera(np.c_[points_mm, np.zeros(len(points_mm))])
        found.append(lens.to_pixels(xyz[:, :2] / xyz[:, 2:]) - points_px)
    return found


def _covariance(fit: _Fitted, views: Sequence[View], model: _Model) -> Array:
    """Covariance (5, 5) of the lens with every photo's pose left free.

    The residuals of one photo go together (its target bends its own way), so that each photo counts
    as one witness beside what its points would say were they independent: how far the lens moves as
    each in turn is left out.

    References
    ----------
    R. G. Miller, "The jackknife - a review", Biometrika 61, 1974 (from memory); to first order.
    """
    fitted = list(_PLAIN)
    blocks = [_block(s, fit.lens, v, fitted) for s, v in zip(fit.states, views, strict=True)]
    information = sum((b[0] for b in blocks), np.zeros((5, 5)))
    without = np.array([np.linalg.solve(information - b[0], b[1]) for b in blocks])
    count = sum(2 * len(a) for a, _ in views)
    spare = max(count - 6 * len(views) - len(model.fitted), 1)
    independent = np.linalg.inv(information) * float(fit.squares.sum()) / spare
    return np.asarray(independent + without.T @ without * (len(views) - 1) / len(views))


def _left_over_px(fit: _Fitted, views: Sequence[View]) -> float:
    """Estimate the standard deviation, px, of what neighbouring points' residuals share."""
    shared, count = 0.0, 0
    for off, (points_mm, _) in zip(_residuals(fit.lens, fit.states, views), views, strict=True):
        nearest = np.asarray(KDTree(points_mm).query(points_mm, k=[2])[1])[:, 0]
        shared += float((off * off[nearest]).sum())
        count += off.size
    return float(np.sqrt(max(shared / count, 0.0)))
