"""The plane and all hung frames in one robust least-squares estimate.

Unknown are the camera (held by what the coarse plane knew of it) and each frame's place, tilt and
lean. Every frame's known size measures the wall again, and since every frame is free to hang
askew, a badly hung one does not bend the plane.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Matrix
from visualiser.hanging.frame_box import LEAN_DEG, LEAN_SIGMA_DEG, HungFrame, box_corners
from visualiser.hanging.frame_sides import SIDE_ENDS, SideView
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.projection import CAMERA_SIZE, CameraState

Array = NDArray[np.float64]

PLACE = 4
"""Numbers of one frame's place: x mm, y mm, tilt deg, lean deg."""
INSET_MM, INSET_SIGMA_MM = 0.5, 0.7
"""Edges of mouldings are eased: they are seen this much inside the outline; only a prior."""
LOCATED_SIGMA_PX = 2.5
"""How well a frame's corners are known from the search alone: it decides where a side is lost."""
SKEW_SIGMA_PX = 0.12
"""How far shading or a crooked rail may turn a side, at its ends."""
ROUNDS = 8
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
        (4N, 4N) of x mm, y mm, tilt deg, lean deg of each frame in turn.
    rms_px
        (N,) root mean square residual of each frame's edges.
    sides
        (N,) number of sides that were used.
    offsets_px
        (V,) what is left between each view's edge and the fitted box.
    """

    plane: WallPlane
    frames: tuple[HungFrame, ...]
    covariance: Matrix
    rms_px: Array
    sides: NDArray[np.int_]
    offsets_px: Array


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
    """
    state = CameraState(plane.rotation, plane.translation_mm, plane.lens)
    places = np.array([[f.x_mm, f.y_mm, f.tilt_deg, f.lean_deg] for f in frames])
    seen = [plane.project(f.corners_xyz_mm(front=True)) for f in frames]
    whiten = _whitener(plane.parameter_covariance)
    moved = np.zeros(CAMERA_SIZE)
    count, first_bias = len(frames), CAMERA_SIZE + PLACE * len(frames) + 1
    inset_at, inset = first_bias - 1, INSET_MM
    biases = np.zeros((len(views), 2))
    unknowns = first_bias + biases.size
    normal = np.eye(unknowns)
    residuals: list[Array] = []
    for _ in range(ROUNDS):
        normal = np.zeros((unknowns, unknowns))
        right = np.zeros(len(normal))
        normal[:CAMERA_SIZE, :CAMERA_SIZE] = whiten.T @ whiten
        right[:CAMERA_SIZE] = -whiten.T @ whiten @ moved
        for index in range(count):
            at = CAMERA_SIZE + PLACE * index + 3
            normal[at, at] += 1 / LEAN_SIGMA_DEG**2
            right[at] += (LEAN_DEG - places[index, 3]) / LEAN_SIGMA_DEG**2
            residual, jacobian = _corner_residuals(state, frames[index], places[index], seen[index])
            columns = np.r_[np.arange(CAMERA_SIZE), CAMERA_SIZE + PLACE * index + np.arange(PLACE)]
            normal[np.ix_(columns, columns)] += jacobian.T @ jacobian / LOCATED_SIGMA_PX**2
            right[columns] += jacobian.T @ residual / LOCATED_SIGMA_PX**2
        normal[inset_at, inset_at] += 1 / INSET_SIGMA_MM**2
        right[inset_at] += (INSET_MM - inset) / INSET_SIGMA_MM**2
        residuals = []
        for number, view in enumerate(views):
            frame = frames[view.frame]
            residual, by_camera, by_place = _side_residuals(
                state, frame, np.r_[places[view.frame], inset], view
            )
            skew = _along(view)
            own = biases[number, 0] + biases[number, 1] * skew
            residual = residual - own
            sigma = view.samples.sigma_px
            weight = 1 / sigma**2 / (1 + (residual / (CAUCHY * np.hypot(sigma, 0.1))) ** 2)
            columns = np.r_[
                np.arange(CAMERA_SIZE),
                CAMERA_SIZE + PLACE * view.frame + np.arange(PLACE),
                inset_at,
                first_bias + 2 * number,
                first_bias + 2 * number + 1,
            ]
            jacobian = np.c_[by_camera, by_place, np.ones(len(residual)), skew]
            normal[np.ix_(columns, columns)] += (jacobian * weight[:, None]).T @ jacobian
            right[columns] += jacobian.T @ (weight * residual)
            for k, sigma_bias in enumerate((view.bias_sigma_px, SKEW_SIGMA_PX)):
                # A side that is lost to a shadow is let go: its bias is believed ever wider.
                value, at = biases[number, k], first_bias + 2 * number + k
                spread = sigma_bias**2 * (1 + (value / (3 * sigma_bias)) ** 2)
                normal[at, at] += 1 / spread
                right[at] -= value / spread
            residuals.append(residual + own)
        change = _solve(normal, right)
        moved += change[:CAMERA_SIZE]
        state = state.moved(change[:CAMERA_SIZE])
        places = places + change[CAMERA_SIZE:inset_at].reshape(count, PLACE)
        inset += float(change[inset_at])
        biases = biases + change[first_bias:].reshape(-1, 2)
    covariance = _inverse(normal)
    medians = np.array([float(np.median(r)) for r in residuals])
    rms = np.full(count, np.inf)
    sides = np.zeros(count, int)
    for index in range(count):
        own = np.array([v.frame == index for v in views])
        if own.any():
            rms[index] = float(np.sqrt(np.mean(medians[own] ** 2)))
        sides[index] = len({v.side for v in views if v.frame == index})
    refitted = replace(
        plane,
        lens=state.lens,
        rotation=state.rotation,
        translation_mm=state.translation_mm,
        parameter_covariance=covariance[:CAMERA_SIZE, :CAMERA_SIZE],
    )
    return FrameFit(
        refitted,
        tuple(
            replace(
                f, x_mm=float(p[0]), y_mm=float(p[1]), tilt_deg=float(p[2]), lean_deg=float(p[3])
            )
            for f, p in zip(frames, places, strict=True)
        ),
        covariance[CAMERA_SIZE:inset_at, CAMERA_SIZE:inset_at],
        rms,
        sides,
        medians,
    )


def _along(view: SideView) -> Array:
    """Place (S,) of each sample along its side, -1 to 1."""
    points = view.samples.points_px
    span = points[-1] - points[0]
    t = (points - points[0]) @ span / max(float(span @ span), 1e-9)
    return np.asarray(2 * t - 1)


def _corner_residuals(
    state: CameraState, frame: HungFrame, place: Array, seen_px: Array
) -> tuple[Array, Array]:
    """Distance (8,) of the front corners from where the search saw them, derivatives (8, 15)."""
    corners = box_corners(frame, place, True)
    predicted, by_camera, by_point = state.project(corners)
    by_place = np.einsum(
        "skx,sxp->skp", by_point, _corners_by_place(frame, np.r_[place, 0.0], True)
    )
    jacobian = np.concatenate([by_camera, by_place[:, :, :PLACE]], axis=2)
    return (seen_px - predicted).ravel(), jacobian.reshape(8, -1)


def _corners_by_place(frame: HungFrame, place: Array, front: bool) -> Array:
    """Differentiate a box's corners by x, y, tilt, lean and inset: (4, 3, 5)."""
    step = np.array([0.5, 0.5, 0.02, 0.02, 0.1])
    out = np.empty((4, 3, len(step)))
    for k, size in enumerate(step):
        shift = np.zeros(len(step))
        shift[k] = size
        ahead, behind = (
            box_corners(frame, p[:PLACE], front, p[PLACE]) for p in (place + shift, place - shift)
        )
        out[:, :, k] = (ahead - behind) / (2 * size)
    return out


def _side_residuals(
    state: CameraState, frame: HungFrame, place: Array, view: SideView
) -> tuple[Array, Array, Array]:
    """Distance of the samples from the predicted edge along their normals, with derivatives.

    Returns
    -------
    Residual (S,) px, by camera (S, 11), by place and inset (S, 5).
    """
    i, j = SIDE_ENDS[view.side]
    points, normals = view.samples.points_px, view.samples.normals_px

    def against(front: bool) -> tuple[Array, Array, Array]:
        ends = box_corners(frame, place[:PLACE], front, place[PLACE])[[i, j]]
        ends_px, _, _ = state.project(ends)
        along = ends_px[1] - ends_px[0]
        t = ((points - ends_px[0]) @ along / (along @ along))[:, None]
        # Perspective: the same share along the picture is another share along the edge.
        depth = state.to_camera(ends)[:, 2]
        t = t * depth[0] / (depth[1] + t * (depth[0] - depth[1]))
        predicted, by_camera, by_point = state.project(ends[0] + t * (ends[1] - ends[0]))
        residual = (normals * (points - predicted)).sum(axis=1)
        camera = np.einsum("sk,skp->sp", normals, by_camera)
        by_ends = _corners_by_place(frame, place, front)[[i, j]]
        xyz_by_place = by_ends[0] + t[:, :, None] * (by_ends[1] - by_ends[0])
        by_place = np.einsum("sk,skx,sxp->sp", normals, by_point, xyz_by_place)
        return residual, camera, by_place

    if view.edge == "front":
        return against(front=True)
    if view.edge == "back":
        return against(front=False)
    front, back = against(front=True), against(front=False)
    return min(front, back, key=lambda choice: abs(float(np.median(choice[0]))))


def _whitener(covariance: Matrix) -> Matrix:
    """Matrix W with WᵀW the inverse of a covariance, parameters known exactly held fast."""
    scale = np.sqrt(np.maximum(np.diag(covariance), 1e-18))
    values, vectors = np.linalg.eigh(covariance / scale / scale[:, None])
    return np.asarray((vectors / np.sqrt(np.maximum(values, 1e-9))).T / scale)


def _solve(normal: Matrix, right: Array) -> Array:
    scale = 1 / np.sqrt(np.diag(normal))
    return np.asarray(scale * np.linalg.solve(normal * scale * scale[:, None], right * scale))


def _inverse(normal: Matrix) -> Matrix:
    scale = 1 / np.sqrt(np.diag(normal))
    return np.asarray(np.linalg.inv(normal * scale * scale[:, None]) * scale * scale[:, None])
