"""The wall as an instrument: photo pixels to wall millimetres and back, with its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Covariances, Matrix, PointsMm, PointsPx, frozen
from visualiser.rectification.lens import Lens


@dataclass(frozen=True, slots=True, eq=False)
class WallPlane:
    """A measured wall.

    Wall mm: origin at the centre of the first reference, x right, y up (against gravity), z out
    of the wall into the room.

    Parameters
    ----------
    lens
        Focal length, centre and distortion.
    rotation
        (3, 3) wall axes to camera axes (x right, y down, z forward).
    translation_mm
        (3,) the wall's origin in camera axes.
    reference_corners_px
        (4, 2) corners of the first reference as fitted.
    reference_tilt_deg
        How far the reference's top edge is off level, counter-clockwise positive.
    parameter_covariance
        Covariance of the fitted parameters, as the fit orders them.
    findings
        What limits this survey and what to do about it.
    level_sigma_deg
        Standard uncertainty of level.
    """

    lens: Lens
    rotation: Matrix
    translation_mm: Matrix
    reference_corners_px: PointsPx
    reference_tilt_deg: float
    parameter_covariance: Matrix
    findings: tuple[Finding, ...] = ()
    level_sigma_deg: float = 0.0

    def __post_init__(self) -> None:
        for name, shape in (
            ("rotation", (3, 3)),
            ("translation_mm", (3,)),
            ("reference_corners_px", (4, 2)),
        ):
            object.__setattr__(self, name, frozen(getattr(self, name), shape))

    def project(self, points_xyz_mm: Matrix) -> PointsPx:
        """Room points (N, 3), z out of the wall, to photo px (N, 2), lens included."""
        camera = np.asarray(points_xyz_mm, float) @ self.rotation.T + self.translation_mm
        return self.lens.to_pixels(camera[:, :2] / camera[:, 2:])

    def to_photo(self, points_mm: PointsMm) -> PointsPx:
        """Wall mm (N, 2) to photo px (N, 2), lens included."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        return self.project(np.c_[points, np.zeros(len(points))])

    def to_wall(self, points_px: PointsPx) -> PointsMm:
        """Photo px (N, 2) to wall mm (N, 2), lens removed."""
        rays = self.lens.to_rays(np.asarray(points_px, float).reshape(-1, 2))
        homography = np.c_[self.rotation[:, :2], self.translation_mm]
        wall = np.linalg.solve(homography, np.c_[rays, np.ones(len(rays))].T).T
        return np.asarray(wall[:, :2] / wall[:, 2:])

    def covariance(self, points_mm: PointsMm) -> Covariances:
        """Covariance (N, 2, 2), mm², of where wall points really are."""
        raise NotImplementedError
