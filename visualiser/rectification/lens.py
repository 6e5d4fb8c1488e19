"""The lens: pinhole with radial distortion (Brown 1971), no skew, square pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.geometry import Matrix, PointsPx


@dataclass(frozen=True, slots=True)
class Lens:
    """Focal length and principal point in px, radial distortion k1, k2 (as OpenCV counts them)."""

    focal_px: float
    centre_x_px: float
    centre_y_px: float
    k1: float = 0.0
    k2: float = 0.0

    def to_pixels(self, rays: Matrix) -> PointsPx:
        """Undistorted normalised points (N, 2) to photo px (N, 2)."""
        rays = np.asarray(rays, float)
        r2 = (rays**2).sum(axis=1, keepdims=True)
        distorted = rays * (1 + self.k1 * r2 + self.k2 * r2**2)
        return np.asarray(distorted * self.focal_px + [self.centre_x_px, self.centre_y_px])

    def to_rays(self, points_px: PointsPx) -> Matrix:
        """Photo px (N, 2) to undistorted normalised points (N, 2), by Newton's method."""
        centred = (
            np.asarray(points_px, float) - [self.centre_x_px, self.centre_y_px]
        ) / self.focal_px
        distorted_r = np.hypot(centred[:, 0], centred[:, 1])
        r = distorted_r.copy()
        for _ in range(12):
            r2 = r * r
            value = r * (1 + r2 * (self.k1 + self.k2 * r2)) - distorted_r
            step = value / np.maximum(1 + r2 * (3 * self.k1 + 5 * self.k2 * r2), 0.1)
            # Beyond the fold of a strong lens there is no answer; stay finite.
            r = np.clip(r - step, 0.0, 4 * distorted_r)
            if np.abs(step).max(initial=0.0) < 1e-12:
                break
        scale = np.divide(r, distorted_r, out=np.ones_like(r), where=distorted_r > 0)
        return np.asarray(centred * scale[:, None])
