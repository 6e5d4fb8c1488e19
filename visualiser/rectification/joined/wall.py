"""A wall measured through several photographs at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Covariances, Matrix, PointsMm, PointsPx, frozen
from visualiser.rectification.camera.projection import CAMERA_SIZE
from visualiser.rectification.plane import (
    WallPlane,
    faces_wall,
    length_between,
    worst_half_width,
)

FEWEST, MOST = 2, 8
"""Photos of one wall."""


@dataclass(frozen=True, slots=True, eq=False)
class JoinedWall:
    """One wall over several photos, in the wall mm of its first reference.

    Parameters
    ----------
    photos
        The wall as each photo shows it; all share one origin, level and lens.
    sizes_px
        Width and height of each photo.
    first
        Which photo holds the reference at the origin.
    cameras_covariance
        (11 N, 11 N) of all photos' camera parameters together.
    reference_tilt_deg
        How far the first reference's top edge is off level, counter-clockwise positive.
    ties
        (N, N) how many points tie each pair of photos.
    findings
        What limits this measurement and what to do about it.
    """

    photos: tuple[WallPlane, ...]
    sizes_px: tuple[tuple[int, int], ...]
    first: int
    cameras_covariance: Matrix
    reference_tilt_deg: float
    ties: Matrix
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        count = len(self.photos)
        size = (CAMERA_SIZE * count,) * 2
        object.__setattr__(self, "cameras_covariance", frozen(self.cameras_covariance, size))
        object.__setattr__(self, "ties", frozen(self.ties, (count, count)))

    def homography(self, photo: int) -> Matrix:
        """Wall mm to one photo's px, (3, 3), its lens left out."""
        plane = self.photos[photo]
        f = plane.lens.focal_px
        inner = np.array(
            [[f, 0, plane.lens.centre_x_px], [0, f, plane.lens.centre_y_px], [0, 0, 1]]
        )
        return np.asarray(inner @ np.c_[plane.rotation[:, :2], plane.translation_mm])

    def to_photo(self, points_mm: PointsMm, photo: int | None = None) -> PointsPx:
        """Wall mm (N, 2) to px (N, 2) of one photo, the first reference's if none is given."""
        return self.photos[self.first if photo is None else photo].to_photo(points_mm)

    def to_wall(self, points_px: PointsPx, photo: int | None = None) -> PointsMm:
        """Pixels (N, 2) of one photo, the first reference's if none is given, to wall mm (N, 2)."""
        return self.photos[self.first if photo is None else photo].to_wall(points_px)

    def shown_by(self, points_mm: PointsMm) -> Matrix:
        """Which photos show which wall points, (photos, N) of bool."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        shown = np.zeros((len(self.photos), len(points)), bool)
        for k, (plane, (width, height)) in enumerate(zip(self.photos, self.sizes_px, strict=True)):
            ahead = (np.c_[points, np.zeros(len(points))] @ plane.rotation.T)[:, 2]
            ahead = ahead + plane.translation_mm[2] > 1.0
            px = plane.to_photo(points)
            held = (px >= 0).all(axis=1) & (px[:, 0] <= width - 1) & (px[:, 1] <= height - 1)
            held &= ahead
            held[held] = faces_wall(plane, px[held])
            shown[k] = held
        return shown

    def best_photo(self, points_mm: PointsMm) -> Matrix:
        """Through which photo (N,) each wall point is known best.

        Of those that show it; of all where none does.
        """
        points = np.asarray(points_mm, float).reshape(-1, 2)
        spread = np.array([np.trace(c, axis1=1, axis2=2) for c in self._covariances(points)])
        shown = self.shown_by(points)
        return np.asarray((spread + np.where(shown, 0.0, 1e12)).argmin(axis=0))

    def covariance(self, points_mm: PointsMm, photo: int | None = None) -> Covariances:
        """Covariance (N, 2, 2), mm², of where wall points really are.

        Parameters
        ----------
        points_mm
            Wall points (N, 2).
        photo
            Through which photo they are seen; each through its best one if not given.
        """
        points = np.asarray(points_mm, float).reshape(-1, 2)
        if photo is not None:
            return self.photos[photo].covariance(points)
        return np.asarray(
            self._covariances(points)[self.best_photo(points), np.arange(len(points))]
        )

    def joint_covariance(self, points_mm: PointsMm) -> Matrix:
        """Covariance (2N, 2N), mm², of several wall points, each through its best photo."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        slopes = np.zeros((2 * len(points), len(self.cameras_covariance)))
        alone = np.zeros((2 * len(points),) * 2)
        for i, k in enumerate(self.best_photo(points)):
            slope, own = self.photos[k].sensitivity(points[i : i + 1])
            slopes[2 * i : 2 * i + 2, CAMERA_SIZE * k : CAMERA_SIZE * (k + 1)] = slope[0]
            alone[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] = own[0]
        return np.asarray(slopes @ self.cameras_covariance @ slopes.T + alone)

    def length(self, start_mm: PointsMm, end_mm: PointsMm) -> tuple[float, float]:
        """Distance between two wall points and its 95 % half-width, both mm."""
        ends = np.array([np.ravel(start_mm), np.ravel(end_mm)], float)
        return length_between(ends, self.joint_covariance(ends))

    def half_width(self, points_mm: PointsMm) -> Matrix:
        """95 % half-width (N,), mm, of each point's position in its worst direction."""
        return worst_half_width(self.covariance(points_mm))

    def middle_mm(self, photo: int) -> PointsMm:
        """Wall mm (1, 2) that the middle of a photo shows."""
        width, height = self.sizes_px[photo]
        return self.photos[photo].to_wall(np.array([[(width - 1) / 2, (height - 1) / 2]]))

    def _covariances(self, points: PointsMm) -> Matrix:
        return np.array([plane.covariance(points) for plane in self.photos])
