"""Camera geometry: pinhole and Brown-Conrady lens.

World in millimetres, wall plane z = 0, x right and y up as seen from the room, z into the room.
Pixels (N, 2) as x right, y down, with (0, 0) the centre of the top-left pixel of the upright
picture.

Distortion (Brown-Conrady, ideal to observed), in normalised coordinates
(x, y) = ((u - cx)/f, (v - cy)/f)::

    r2 = x^2 + y^2
    x' = x (1 + k1 r2 + k2 r2^2) + 2 p1 x y + p2 (r2 + 2 x^2)
    y' = y (1 + k1 r2 + k2 r2^2) + p1 (r2 + 2 y^2) + 2 p2 x y

This is OpenCV's five-coefficient model with k3 = 0, so `cv2.undistortPoints` inverts it with the
same numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import RectBivariateSpline
from scipy.ndimage import map_coordinates

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Pose and intrinsics of one upright photo."""

    width: int
    height: int
    f_px: float
    cx: float
    cy: float
    position_mm: tuple[float, float, float]
    yaw_deg: float
    pitch_deg: float
    roll_deg: float
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0

    @property
    def k_matrix(self) -> Array:
        """3 x 3 calibration matrix."""
        return np.array([[self.f_px, 0, self.cx], [0, self.f_px, self.cy], [0, 0, 1.0]])

    @property
    def rotation(self) -> Array:
        """World -> camera rotation; rows are the camera's right, down and forward axes.

        yaw > 0 turns to the photographer's right, pitch > 0 looks up, roll > 0 turns the camera
        clockwise.
        """
        yaw, pitch, roll = np.radians([self.yaw_deg, self.pitch_deg, self.roll_deg])
        forward = np.array(
            [np.sin(yaw) * np.cos(pitch), np.sin(pitch), -np.cos(yaw) * np.cos(pitch)]
        )
        right = np.cross(forward, [0.0, 1.0, 0.0])
        right /= np.linalg.norm(right)
        up = np.cross(right, forward)
        right, up = (
            np.cos(roll) * right - np.sin(roll) * up,
            np.cos(roll) * up + np.sin(roll) * right,
        )
        return np.array([right, -up, forward])

    @property
    def homography(self) -> Array:
        """3 x 3 map wall mm (x, y, 1) -> pinhole pixel, scaled so that the last element is 1."""
        r = self.rotation
        h = self.k_matrix @ np.c_[r[:, 0], r[:, 1], -r @ np.asarray(self.position_mm)]
        return h / h[2, 2]

    def distort(self, pinhole_px: Array) -> Array:
        """Pinhole pixels -> observed pixels."""
        x, y = ((np.asarray(pinhole_px, float) - [self.cx, self.cy]) / self.f_px).T
        r2 = x * x + y * y
        radial = 1 + self.k1 * r2 + self.k2 * r2 * r2
        xd = x * radial + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x)
        yd = y * radial + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y
        return np.c_[xd, yd] * self.f_px + [self.cx, self.cy]

    def undistort(self, observed_px: Array) -> Array:
        """Observed pixels -> pinhole pixels (fixed-point iteration to 1e-9 px)."""
        target = np.asarray(observed_px, float)
        guess = target.copy()
        for _ in range(60):
            step = target - self.distort(guess)
            guess = guess + step
            if np.abs(step).max(initial=0) < 1e-9:
                break
        return guess

    def project(self, xyz_mm: Array, observed: bool = True) -> Array:
        """World points (N, 3) in mm -> pixels; `observed` adds the lens distortion."""
        p = (np.asarray(xyz_mm, float) - self.position_mm) @ self.rotation.T
        px = p[:, :2] / p[:, 2:] * self.f_px + [self.cx, self.cy]
        return self.distort(px) if observed else px

    def depth(self, xyz_mm: Array) -> Array:
        """Distance of world points (N, 3) along the optical axis, mm."""
        return np.asarray((np.asarray(xyz_mm, float) - self.position_mm) @ self.rotation[2])

    def inside(self, px: Array, margin: float = 0.0) -> NDArray[np.bool_]:
        """Which pixels lie in the picture, at least `margin` px from its border."""
        x, y = np.asarray(px).T
        return (
            (x >= margin)
            & (y >= margin)
            & (x <= self.width - 1 - margin)
            & (y <= self.height - 1 - margin)
        )

    def sees(self, xyz_mm: Array, margin: float = 0.0) -> NDArray[np.bool_]:
        """Which world points (N, 3) fall in the picture, at least `margin` px from its border.

        Far outside the picture the distortion polynomial folds back, so the ideal pixel is checked
        as well.
        """
        xyz_mm = np.asarray(xyz_mm, float)
        ahead = self.depth(xyz_mm) > 100
        ideal = self.project(
            np.where(ahead[:, None], xyz_mm, self.position_mm + 1e3 * self.rotation[2]),
            observed=False,
        )
        x0, y0, width, height = self.overscan()
        near = ((ideal >= [x0, y0]) & (ideal < [x0 + width, y0 + height])).all(1)
        return np.asarray(ahead & near & self.inside(self.distort(ideal), margin))

    def overscan(self) -> tuple[int, int, int, int]:
        """Pinhole picture that fills this one after distortion: x0, y0, width, height."""
        x, y = np.linspace(0, self.width - 1, 60), np.linspace(0, self.height - 1, 60)
        rim = np.vstack(
            [
                np.c_[x, 0 * x],
                np.c_[x, 0 * x + self.height - 1],
                np.c_[0 * y, y],
                np.c_[0 * y + self.width - 1, y],
            ]
        )
        p = self.undistort(rim)
        x0, y0 = np.floor(p.min(0)).astype(int) - 4
        x1, y1 = np.ceil(p.max(0)).astype(int) + 4
        return int(x0), int(y0), int(x1 - x0 + 1), int(y1 - y0 + 1)

    def warp(self, pinhole: NDArray[np.float32], origin: tuple[int, int]) -> NDArray[np.float32]:
        """Resample a pinhole picture (whose first pixel is `origin`) through the lens."""
        # The map is smooth: solve it every 16 px and spline between (agrees with the full
        # solution to 1e-6 px).
        ys, xs = (
            np.linspace(0, self.height - 1, self.height // 16),
            np.linspace(0, self.width - 1, self.width // 16),
        )
        gy, gx = np.meshgrid(ys, xs, indexing="ij")
        source = self.undistort(np.c_[gx.ravel(), gy.ravel()]) - origin
        rows, columns = np.arange(self.height), np.arange(self.width)
        mx, my = (
            RectBivariateSpline(ys, xs, source[:, i].reshape(gx.shape))(rows, columns)
            for i in (0, 1)
        )
        # Not cv2.remap: its fixed-point positions were seen to be off by up to 0.05 px.
        channels = [
            map_coordinates(pinhole[..., c], [my, mx], order=3, output=np.float32, mode="nearest")
            for c in range(3)
        ]
        return np.maximum(np.stack(channels, -1), 0)
