"""The plane and all hung frames in one robust least-squares estimate.

Unknown are the camera (held by what the coarse plane knew of it) and each frame's place, tilt, lean
and depth. Every known size measures the wall again; a badly hung frame does not bend the plane.
What shows within a frame, a mat's window or the moulding's lip, is seen more clearly than where the
moulding ends, but lies less surely in its frame: its place and size there are unknowns as well.

An edge is not seen quite where the moulding ends: it is eased, shaded, or continued by its shadow
on the wall. Most of that is common to the same side of all frames, since they share a light: the
fit estimates it there, and it cancels in what counts, the frames' places among themselves. What is
left to each side is estimated in its size: half-widths follow the photo at hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.as_hung.edges import SideView, sharpest_px
from visualiser.as_hung.frame import HungFrame
from visualiser.as_hung.residuals import (
    COMMON_SIGMA_MM,
    INNER,
    INNER_SIGMA,
    INSET_SIGMA_MM,
    KINDS,
    PLACE,
    SHARED_SIGMA_MM,
    TONE_SHARE,
    SideSpread,
    Trial,
    along_side,
    middle_residuals,
    shared_kind,
    side_residuals,
)
from visualiser.errors import MeasurementError
from visualiser.geometry import Matrix
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.plane import WallPlane

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
DEPTH_SIGMA_MM, ROUNDED_SIGMA = 1.0, 0.12
"""How well a depth is known; on a rounded face the edge's share of the depth is a guess."""
LOCATED_SIGMA_PX, LOCATED_SIGMA_DEG = 2.5, 1.0
"""How well the search alone finds a frame's middle and its tilt: it decides where sides are lost.
It looks for the frame's size on the plane as known so far, so it is no witness of any size."""
LEAST_ROUNDS, ROUNDS, SETTLED = 3, 10, 0.02
"""The estimate has settled when nothing of a frame moves by more than this, mm or degrees."""
UNTOLD_BLUR_PX = 0.8
"""Blur of edges whose own cannot be measured: an ordinary photo's."""
DRIFT_MM = 200.0
"""Frames are located to some millimetres: a fit that goes this far from there has failed."""
CAUCHY = 2.0
"""Residuals of this many sigmas lose half their weight."""


@dataclass(frozen=True, slots=True, eq=False)
class FrameFit:
    """Frames as fitted, with the joint covariance of their places.

    Parameters
    ----------
    plane
        The wall plane as refitted.
    frames
        Frames as they hang.
    covariance
        (5N, 5N) of x mm, y mm, tilt deg, lean deg, depth mm of each frame in turn.
    sides, offsets_px
        (N,) sides that were used; (V,) what is left between each view's edge and the fitted box.
    blur_px
        Median blur of the edges, as a standard deviation.
    """

    plane: WallPlane
    frames: tuple[HungFrame, ...]
    covariance: Matrix
    sides: NDArray[np.int_]
    offsets_px: Array
    blur_px: float


@dataclass(frozen=True, slots=True)
class _Unknowns:
    """Where each unknown stands: camera, places, shared errors, insets, each side's own."""

    frames: int
    views: int

    @property
    def size(self) -> int:
        return int(self.inner(self.frames)[0]) + 2 * self.views

    def place(self, frame: int) -> Indices:
        return CAMERA_SIZE + PLACE * frame + np.arange(PLACE)

    def shared(self, kind: int) -> Indices:
        return CAMERA_SIZE + PLACE * self.frames + 4 * kind + np.arange(4)

    @property
    def common(self) -> int:
        return int(self.shared(len(KINDS))[0])

    def inset(self, frame: int) -> int:
        return self.common + 1 + frame

    def inner(self, frame: int) -> Indices:
        return self.inset(self.frames) + INNER * frame + np.arange(INNER)

    def own(self, view: int) -> Indices:
        return int(self.inner(self.frames)[0]) + 2 * view + np.arange(2)


def fit_frames(plane: WallPlane, frames: list[HungFrame], views: list[SideView]) -> FrameFit:
    """Fit plane and frames to the sampled edges.

    Parameters
    ----------
    plane
        Coarse plane; its parameter covariance is the prior of the camera.
    frames
        Frames as located.
    views
        Edge samples of their sides.

    Raises
    ------
    MeasurementError
        If the frames contradict each other.
    """
    at = _Unknowns(len(frames), len(views))
    state = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    seen = [plane.project(f.corners_xyz_mm(front=True)).mean(axis=0) for f in frames]
    middles = np.array([[f.x_mm, f.y_mm] for f in frames])
    sharp_px = sharpest_px([v.samples for v in views], UNTOLD_BLUR_PX)
    tone_mm = TONE_SHARE * sharp_px * float(np.median(plane.mm_per_px(middles)))
    whiten = _whitener(plane.parameter_covariance)
    spreads = [
        SideSpread(np.array([v.sigma_px for v in views])),
        SideSpread(np.array([v.twist_sigma_px for v in views])),
    ]
    value, prior = np.zeros(at.size), np.zeros(at.size)
    for k, f in enumerate(frames):
        value[at.place(k)] = [f.x_mm, f.y_mm, f.tilt_deg, f.lean_deg, 0.0]
        prior[at.place(k)[2]], prior[at.place(k)[3]] = f.tilt_deg, f.lean_prior_deg[0]
    start = value.copy()
    covariance, left = np.eye(at.size), [np.zeros(1)] * len(views)
    camera_at, skews = np.arange(CAMERA_SIZE), [along_side(view) for view in views]
    for round_ in range(ROUNDS):
        normal = np.zeros((at.size, at.size))
        normal[:CAMERA_SIZE, :CAMERA_SIZE] = whiten.T @ whiten
        normal[at.common, at.common] += 1 / (COMMON_SIGMA_MM**2 + tone_mm**2)
        for number, sigma_mm in enumerate(SHARED_SIGMA_MM.values()):
            normal[at.shared(number), at.shared(number)] += 1 / sigma_mm**2
        for k, frame in enumerate(frames):
            tilt, lean, depth = at.place(k)[2:]
            unsure = 0.0 if frame.has_arris else ROUNDED_SIGMA * frame.depth_mm
            normal[tilt, tilt] += 1 / LOCATED_SIGMA_DEG**2
            normal[lean, lean] += 1 / frame.lean_prior_deg[1] ** 2
            normal[depth, depth] += 1 / (DEPTH_SIGMA_MM**2 + unsure**2)
            normal[at.inset(k), at.inset(k)] += 1 / INSET_SIGMA_MM**2
            if frame.inner is not None:
                within = at.inner(k)
                normal[within, within] += 1 / INNER_SIGMA[frame.inner.kind] ** 2
            else:
                normal[at.inner(k), at.inner(k)] += 1.0
        for number in range(len(views)):
            own = at.own(number)
            normal[own, own] += [1 / s.variance[number] for s in spreads]
        right = normal @ (prior - value)
        for k, frame in enumerate(frames):
            residual, jacobian = middle_residuals(state, frame, value[at.place(k)], seen[k])
            columns = np.concatenate([camera_at, at.place(k)])
            normal[np.ix_(columns, columns)] += jacobian.T @ jacobian / LOCATED_SIGMA_PX**2
            right[columns] += jacobian.T @ residual / LOCATED_SIGMA_PX**2
        trials, moves = _trials(at, value, frames, views)
        held = iter(zip(side_residuals(state, trials), moves, strict=True))
        for number, view in enumerate(views):
            (residual, by_camera, by_place, by_inset), moved = min(
                [next(held) for _ in view.edges],
                key=lambda one: abs(np.median(one[0][0])) if view.edges[1:] else 0.0,
            )
            own, skew = at.own(number), skews[number]
            columns = np.concatenate([camera_at, at.place(view.frame), moved, own])
            left[number] = residual
            residual = residual - value[own[0]] - value[own[1]] * skew
            sigma = view.samples.sigma_px
            weight = 1 / sigma**2 / (1 + (residual / (CAUCHY * np.hypot(sigma, 0.1))) ** 2)
            if view.edges[0].within:
                by_moved = np.column_stack([by_place[:, :3], by_inset, by_place[:, 4]])
                by_place = by_place * [1, 1, 1, 1, 0]
            else:
                by_moved = np.repeat(by_inset[:, None], 3, axis=1)
            jacobian = np.column_stack([by_camera, by_place, by_moved, np.ones(len(skew)), skew])
            normal[columns[:, None], columns] += (jacobian * weight[:, None]).T @ jacobian
            right[columns] += jacobian.T @ (weight * residual)
        covariance = _inverse(normal)
        change = covariance @ right
        state = state.moved(change[:CAMERA_SIZE])
        value = value + change
        first = int(at.own(0)[0])
        used = [spread.variance for spread in spreads]
        for k, spread in enumerate(spreads):
            if round_ > 1:
                spread.learn(value[first + k :: 2], np.diag(covariance)[first + k :: 2])
        if round_ > LEAST_ROUNDS and np.abs(change[CAMERA_SIZE:first]).max() < SETTLED:
            break
    for k, spread in enumerate(spreads):
        own_at = np.arange(first + k, at.size, 2)
        normal[own_at, own_at] += 1 / spread.told - 1 / used[k]
    covariance = _inverse(normal)
    drift = np.abs(value - start)[[i for k in range(len(frames)) for i in at.place(k)[:2]]]
    if not np.isfinite(value).all() or drift.max() > DRIFT_MM:
        raise MeasurementError(
            "The frames seen in this photo contradict each other.",
            hint="Check the sizes of the pieces, or photograph the group from the front.",
        )
    refitted = replace(
        plane,
        lens=state.lens,
        rotation=state.rotation,
        translation_mm=state.translation_mm,
        parameter_covariance=covariance[:CAMERA_SIZE, :CAMERA_SIZE],
    )
    places = slice(CAMERA_SIZE, int(at.shared(0)[0]))
    return FrameFit(
        refitted,
        tuple(_placed(f, value[at.place(k)]) for k, f in enumerate(frames)),
        covariance[places, places],
        np.array([_seen_sides(views, k) for k in range(len(frames))]),
        np.array([np.median(residual) for residual in left]),
        float(np.median([v.samples.look.blur_px for v in views if v.samples.look] or [0.0])),
    )


def _trials(
    at: _Unknowns, value: Array, frames: list[HungFrame], views: list[SideView]
) -> tuple[list[Trial], list[Indices]]:
    """Hold every view against each line it may be; also which unknowns move that line besides."""
    trials, moves = [], []
    for view in views:
        frame = frames[view.frame]
        for edge in view.edges:
            place = value[at.place(view.frame)]
            if edge.within:
                moved = at.inner(view.frame)
                right_mm, up_mm, turned, inset, out_mm = value[moved]
                place = place + [right_mm, up_mm, turned, 0.0, 0.0]
                place[4] = out_mm
            else:
                shared = int(at.shared(KINDS.index(shared_kind(frame, edge)))[view.side])
                moved = np.array([at.common, shared, at.inset(view.frame)])
                inset = value[moved].sum()
            trials.append(Trial(frame, place, float(inset), edge, view))
            moves.append(moved)
    return trials, moves


def _seen_sides(views: list[SideView], frame: int) -> int:
    return len({v.side for v in views if v.frame == frame and not v.edges[0].within})


def _placed(frame: HungFrame, place: Array) -> HungFrame:
    x, y, tilt, lean = (float(v) for v in place[:4])
    return replace(frame, x_mm=x, y_mm=y, tilt_deg=tilt, lean_deg=lean)


def _whitener(covariance: Matrix) -> Matrix:
    """Matrix W with WᵀW the inverse of a covariance, parameters known exactly held fast."""
    scale = np.sqrt(np.maximum(np.diag(covariance), 1e-18))
    values, vectors = np.linalg.eigh(covariance / scale / scale[:, None])
    return np.asarray((vectors / np.sqrt(np.maximum(values, 1e-9))).T / scale)


def _inverse(normal: Matrix) -> Matrix:
    scale = 1 / np.sqrt(np.diag(normal))
    return np.asarray(np.linalg.inv(normal * scale * scale[:, None]) * scale * scale[:, None])
