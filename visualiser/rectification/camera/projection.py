"""A room point's way into the photo, with every derivative the fit and its covariance need.

The lens is a pinhole with radial and tangential distortion (Brown 1971) or a fisheye (Kannala &
Brandt 2006), no skew, square pixels.

First guesses of the pose are those that would show a rectangle as it is seen.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import Matrix, PointsMm, PointsPx


@dataclass(frozen=True, slots=True)
class Lens:
    """How rays become pixels.

    Parameters
    ----------
    focal_px
        Focal length.
    centre_x_px, centre_y_px
        Principal point.
    k1, k2, k3
        Radial distortion: of the ray's tangent, or of a fisheye's angle.
    p1, p2
        Tangential distortion, as OpenCV counts it; a fisheye has none.
    fisheye
        Whether the picture grows with the angle from the axis, not with its tangent.

    References
    ----------
    D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8), 1971.
    J. Kannala & S. Brandt, "A generic camera model and calibration method for conventional, wide-
    angle, and fish-eye lenses", IEEE PAMI 28(8), 2006. Both with the terms as OpenCV counts them.
    """

    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0
    k3: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    fisheye: bool = False

    def to_pixels(self, rays: Matrix) -> PointsPx:
        """Undistorted normalised points (N, 2) to photo px (N, 2)."""
        rays = np.asarray(rays, float)
        stretch, _ = self._stretched((rays**2).sum(axis=1))
        return self._bent(rays, stretch) * self.focal_px + [self.centre_x_px, self.centre_y_px]

    def _bent(self, rays: Matrix, stretch: Matrix) -> Matrix:
        """Distort rays (N, 2) that the lens stretches by so much (N,)."""
        bent = rays * stretch[:, None]
        return bent + self._aside(rays) if self.p1 or self.p2 else bent

    def to_rays(self, points_px: PointsPx) -> Matrix:
        """Photo px (N, 2) to undistorted normalised points (N, 2), by Newton's method."""
        centred = (
            np.asarray(points_px, float) - [self.centre_x_px, self.centre_y_px]
        ) / self.focal_px
        rays = self._straightened(centred)
        if self.p1 or self.p2:
            for _ in range(6):
                rays = self._straightened(centred - self._aside(rays))
        return rays

    def radial(self, r2: Matrix) -> Radial:
        """Stretch (N,) of rays with these squared tangents (N,), and its derivatives."""
        if not self.fisheye:
            return Radial(*self._stretched(r2), np.stack([r2, r2**2, r2**3], axis=1))
        r = np.sqrt(np.maximum(r2, 1e-12))
        angle = np.arctan(r)
        a2 = angle**2
        powers = (angle / r)[:, None] * np.stack([a2, a2**2, a2**3], axis=1)
        stretch = angle / r + powers @ [self.k1, self.k2, self.k3]
        slope = (1 + a2 * (3 * self.k1 + a2 * (5 * self.k2 + a2 * 7 * self.k3))) / (1 + r2)
        return Radial(stretch, (slope - stretch) / (2 * np.maximum(r2, 1e-12)), powers)

    def _stretched(self, r2: Matrix) -> tuple[Matrix, Matrix]:
        """As `radial`, without derivatives by the lens."""
        if self.fisheye:
            return self.radial(r2)[:2]
        k1, k2, k3 = self.k1, self.k2, self.k3
        return 1 + r2 * (k1 + r2 * (k2 + r2 * k3)), k1 + r2 * (2 * k2 + 3 * k3 * r2)

    def _aside(self, rays: Matrix) -> Matrix:
        """Tangential shift of rays (N, 2)."""
        x, y = rays.T
        r2 = x * x + y * y
        return np.stack(
            [
                2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x),
                self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y,
            ],
            axis=1,
        )

    def _straightened(self, centred: Matrix) -> Matrix:
        """Undo the radial distortion of points (N, 2) about the principal point."""
        distorted_r = np.hypot(centred[:, 0], centred[:, 1])
        r = distorted_r.copy()
        for _ in range(12):
            stretch, by_r2 = self._stretched(r * r)
            step = (r * stretch - distorted_r) / np.maximum(stretch + 2 * r * r * by_r2, 0.1)
            # Beyond the fold of a strong lens there is no answer; stay finite.
            r = np.clip(r - step, 0.0, 4 * distorted_r)
            if np.abs(step).max(initial=0.0) < 1e-12:
                break
        scale = np.divide(r, distorted_r, out=np.ones_like(r), where=distorted_r > 0)
        return np.asarray(centred * scale[:, None])


class Radial(NamedTuple):
    """Stretch (N,) of rays by a lens, by squared tangent (N,) and by k1 to k3 (N, 3)."""

    stretch: Matrix
    by_r2: Matrix
    by_k: Matrix


Array = NDArray[np.float64]

CAMERA_PARAMETERS = (
    "rotation_x", "rotation_y", "rotation_z", "x_mm", "y_mm", "z_mm",
    "log_focal", "k1", "k2", "centre_x_px", "centre_y_px",
)  # fmt: skip
"""Order of a camera's parameters wherever one covariance speaks of them."""
POSE, LENS = slice(0, 6), slice(6, 11)
CAMERA_SIZE = len(CAMERA_PARAMETERS)


class Projection(NamedTuple):
    """Photo px (N, 2) with derivatives by point in camera axes (N, 2, 3) and by lens (N, 2, 5)."""

    pixels: Array
    by_point: Array
    by_lens: Array


def rotation_from_vector(vector: Array) -> Array:
    """Rotation matrices (..., 3, 3) of rotation vectors (..., 3), radians (Rodrigues)."""
    vector = np.asarray(vector, float)
    angle = np.sqrt((vector * vector).sum(axis=-1))[..., None, None]
    cross = cross_matrix(vector)
    tiny = angle < 1e-9
    safe = np.where(tiny, 1.0, angle)
    a = np.where(tiny, 1.0, np.sin(safe) / safe)
    b = np.where(tiny, 0.5, (1 - np.cos(safe)) / safe**2)
    return np.asarray(np.eye(3) + a * cross + b * cross @ cross)


def vector_from_rotation(rotation: Array) -> Array:
    """Rotation vector (3,), radians, of a rotation matrix (3, 3) of less than half a turn."""
    axis = np.array(
        [
            rotation[2, 1] - rotation[1, 2],
            rotation[0, 2] - rotation[2, 0],
            rotation[1, 0] - rotation[0, 1],
        ]
    )
    sine = float(np.linalg.norm(axis)) / 2
    angle = float(np.arctan2(sine, (np.trace(rotation) - 1) / 2))
    return np.asarray(axis / 2 * (angle / sine if sine > 1e-12 else 1.0))


def cross_matrix(vectors: Array) -> Array:
    """Matrices (..., 3, 3) that take the cross product with vectors (..., 3)."""
    vectors = np.asarray(vectors, float)
    x, y, z = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    out = np.zeros((*vectors.shape, 3))
    out[..., 0, 1], out[..., 1, 0] = -z, z
    out[..., 0, 2], out[..., 2, 0] = y, -y
    out[..., 1, 2], out[..., 2, 1] = -x, x
    return out


def project(lens: Lens, camera_xyz: Array) -> Projection:
    """Project points in camera axes (N, 3) through the lens."""
    camera_xyz = np.asarray(camera_xyz, float)
    x, y, z = camera_xyz.T
    z = np.where(np.abs(z) < 1e-9, 1e-9, z)
    rays = np.empty((len(z), 2))
    rays[:, 0], rays[:, 1] = x / z, y / z
    r2 = rays[:, 0] ** 2 + rays[:, 1] ** 2
    stretch, by_r2, by_k = lens.radial(r2)
    f = lens.focal_px
    bent = lens._bent(rays, stretch) * f
    pixels = bent + [lens.centre_x_px, lens.centre_y_px]

    by_ray = (2 * f * by_r2)[:, None, None] * rays[:, :, None] * rays[:, None, :]
    by_ray[:, 0, 0] += f * stretch
    by_ray[:, 1, 1] += f * stretch
    if lens.p1 or lens.p2:
        u, v = rays.T
        across = 2 * f * (lens.p1 * u + lens.p2 * v)
        by_ray[:, 0, 0] += f * (2 * lens.p1 * v + 6 * lens.p2 * u)
        by_ray[:, 1, 1] += f * (6 * lens.p1 * v + 2 * lens.p2 * u)
        by_ray[:, 0, 1] += across
        by_ray[:, 1, 0] += across
    by_lens = np.zeros((len(z), 2, 5))
    by_lens[:, :, 0] = bent
    by_lens[:, :, 1:3] = f * rays[:, :, None] * by_k[:, None, :2]
    by_lens[:, 0, 3] = by_lens[:, 1, 4] = 1.0
    by_point = np.empty((len(z), 2, 3))
    by_point[:, :, :2] = by_ray / z[:, None, None]
    by_point[:, :, 2] = -(by_point[:, :, 0] * rays[:, :1] + by_point[:, :, 1] * rays[:, 1:])
    return Projection(pixels, by_point, by_lens)


def rays_by_lens(lens: Lens, rays: Array) -> Array:
    """How the rays (N, 2) of pixels that stay move with the lens (N, 2, 5)."""
    view = project(lens, homogeneous(rays))
    return -(inverted(view.by_point[:, :, :2]) @ view.by_lens)


def homogeneous(rays: Array) -> Array:
    """Rays (N, 2) as points (N, 3) at distance one along the axis."""
    points = np.ones((len(rays), 3))
    points[:, :2] = rays
    return points


def inverted(matrices: Array) -> Array:
    """Inverses (N, 2, 2) of matrices (N, 2, 2)."""
    a, b, c, d = (matrices[:, i, j] for i in (0, 1) for j in (0, 1))
    out = np.empty_like(matrices)
    out[:, 0, 0], out[:, 0, 1], out[:, 1, 0], out[:, 1, 1] = d, -b, -c, a
    out /= (a * d - b * c)[:, None, None]
    return out


@dataclass(frozen=True, slots=True, eq=False)
class CameraState:
    """Pose and lens while they are being fitted: wall axes to camera axes, then to pixels."""

    rotation: Array
    translation_mm: Array
    lens: Lens

    def to_camera(self, xyz_mm: Array) -> Array:
        """Room points (N, 3) in camera axes."""
        return np.asarray(xyz_mm @ self.rotation.T + self.translation_mm)

    @property
    def centre_mm(self) -> Array:
        """Where the camera stands (3,) in the room."""
        return np.asarray(-self.rotation.T @ self.translation_mm)

    def moved(self, change: Array) -> CameraState:
        """Apply a change of all parameters (11,); rotation turns about the camera's axes."""
        lens = replace(
            self.lens,
            focal_px=self.lens.focal_px * float(np.exp(np.clip(change[6], -0.5, 0.5))),
            k1=self.lens.k1 + float(change[7]),
            k2=self.lens.k2 + float(change[8]),
            centre_x_px=self.lens.centre_x_px + float(change[9]),
            centre_y_px=self.lens.centre_y_px + float(change[10]),
        )
        rotation = rotation_from_vector(change[:3]) @ self.rotation
        u, _, vt = np.linalg.svd(rotation)
        return CameraState(u @ vt, _shifted(self.translation_mm, change[3:6]), lens)

    def change_to(self, other: CameraState) -> Array:
        """Find the change (11,) that makes this camera another: the inverse of `moved`."""
        old, new = self.lens, other.lens
        return np.array(
            [
                *vector_from_rotation(other.rotation @ self.rotation.T),
                *_shift_between(self.translation_mm, other.translation_mm),
                float(np.log(new.focal_px / old.focal_px)),
                new.k1 - old.k1,
                new.k2 - old.k2,
                new.centre_x_px - old.centre_x_px,
                new.centre_y_px - old.centre_y_px,
            ]
        )

    def project(self, xyz_mm: Array) -> tuple[Array, Array, Array]:
        """Room points (N, 3) to pixels (N, 2), by parameters (N, 2, 11), by point (N, 2, 3)."""
        turned = xyz_mm @ self.rotation.T
        view = project(self.lens, turned + self.translation_mm)
        by_camera = np.empty((len(turned), 2, CAMERA_SIZE))
        # The cross product of each turned point with the rows of its derivative.
        x, y, z = turned.T[:, :, None]
        dx, dy, dz = (view.by_point[:, :, k] for k in range(3))
        by_camera[:, :, 0] = y * dz - z * dy
        by_camera[:, :, 1] = z * dx - x * dz
        by_camera[:, :, 2] = x * dy - y * dx
        by_camera[:, :, 3:6] = view.by_point
        by_camera[:, :, LENS] = view.by_lens
        by_xyz = (view.by_point.reshape(-1, 3) @ self.rotation).reshape(-1, 2, 3)
        return view.pixels, by_camera, by_xyz


def _shifted(translation_mm: Array, change: Array) -> Array:
    """Change a translation, the distance growing by a factor and the bearing by a step.

    To first order a sum. Focal length and distance hide behind each other, and so do bearing and
    lateral place: along these valleys the sum would climb out of them where this follows.
    """
    x, y, z = translation_mm
    if not z > 0:
        return np.asarray(translation_mm + change)
    far = z * float(np.exp(np.clip(change[2] / z, -0.7, 0.7)))
    bearing = (translation_mm[:2] + change[:2] - np.array([x, y]) * change[2] / z) / z
    return np.asarray([*(far * bearing), far])


def _shift_between(one_mm: Array, other_mm: Array) -> Array:
    """Find the change that `_shifted` takes from one translation to another."""
    near, far = float(one_mm[2]), float(other_mm[2])
    if not (near > 0 and far > 0):
        return np.asarray(other_mm - one_mm)
    bearing = one_mm[:2] / near
    deeper = near * float(np.log(far / near))
    aside = near * other_mm[:2] / far - one_mm[:2] + bearing * deeper
    return np.array([*aside, deeper])


FLIP = np.diag([1.0, -1.0, -1.0])
"""Wall axes (y up, z to the viewer) to camera axes (y down, z forward) of a frontal view."""


def plane_poses(points_mm: PointsMm, points_px: PointsPx, lens: Lens) -> list[CameraState]:
    """Both poses from which known wall points are seen so, the better one first.

    A small plane seen nearly head-on has two: tilted one way or the other about equally far.

    References
    ----------
    T. Collins & A. Bartoli, "Infinitesimal plane-based pose estimation", IJCV 109, 2014.
    """
    rays = lens.to_rays(points_px)
    flat = np.c_[np.asarray(points_mm, float), np.zeros(len(points_mm))] @ FLIP
    _, rotations, translations, errors = cv2.solvePnPGeneric(
        np.ascontiguousarray(flat), np.ascontiguousarray(rays), np.eye(3), None,
        flags=cv2.SOLVEPNP_IPPE,
    )  # fmt: skip
    poses = []
    for index in np.argsort(np.ravel(errors)):
        turn = cv2.Rodrigues(rotations[index])[0] @ FLIP
        shift = np.ravel(translations[index])
        if np.isfinite(turn).all() and shift[2] > 0:
            poses.append(CameraState(turn, shift, lens))
    return poses
