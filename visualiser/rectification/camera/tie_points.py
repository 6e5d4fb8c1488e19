"""Points seen in two photographs of one wall, as residuals between two cameras.

A point on the wall's plane is where both say it is: seen in the first, it lies at one place of the
wall, which the second has to see where it does (two residuals); likewise a point on the floor. A
point anywhere in the room only has to lie on both rays (one residual). The points themselves are
eliminated: no kind brings unknowns of its own; a whole set may stand off its plane together, and a
patch of wall off the rest.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import on_plane
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    LENS,
    CameraState,
    cross_matrix,
    project,
    rays_by_lens,
)

Array = NDArray[np.float64]
TieKind = Literal["wall", "floor", "room"]

ON_PLANE_SIGMA_MM: dict[TieKind, float] = {"wall": 1.5, "floor": 4.0}
"""How far what is taken for the wall or the floor itself lies off its plane: plaster's waves, paper
and paint; boards, joints and a carpet's pile (from memory)."""
WAVES_MM = 1.2
"""How much of that a patch of wall does together: plaster's waves are longer than a note taped to
it, and a hundred points on one note are one witness of where the plane is."""
PATCH_MM = 400.0
"""Side of such a patch: waves of plaster are 0.6 to 3 m long (from memory)."""
ACROSS_PLANE: dict[TieKind, int] = {"wall": 2, "floor": 1}
"""The wall axis that a plane is square to."""


class TieResiduals(NamedTuple):
    """Residuals (M,) in sigmas, by the first camera (M, 11), the second (M, 11), stand-off (M,)."""

    residual: Array
    by_first: Array
    by_second: Array
    by_stand_off: Array


@dataclass(frozen=True, eq=False)
class TiePoints:
    """Points seen in two photos.

    Parameters
    ----------
    first, second
        The photos, counted from zero.
    kind
        Whether they lie on the wall's plane, on the floor or anywhere in the room.
    first_px, second_px
        (N, 2) where each is seen.
    sigma_px
        (N,) how well, in either.
    stand_off_sigma_mm
        How far all of them together may lie before the wall: where two photos share nothing but
        pictures, their fronts are what looks like the wall. Of the floor: how well its height is
        known.
    plane_mm
        Where their plane lies along the axis across it: 0 for the wall, the floor's height.
    patch
        (N,) the patch of wall on which each lies, of all that stand before or behind the plane by
        themselves; none where it is not asked.
    """

    first: int
    second: int
    kind: TieKind
    first_px: Array
    second_px: Array
    sigma_px: Array
    stand_off_sigma_mm: float = 0.0
    plane_mm: float = 0.0
    patch: NDArray[np.intp] | None = None

    @cached_property
    def patches(self) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Which patches there are (P,), and the place of each point's among them (N,)."""
        if self.patch is None:
            return np.empty(0, np.intp), np.zeros(len(self.sigma_px), np.intp)
        return np.unique(self.patch, return_inverse=True)

    @property
    def size(self) -> int:
        """Count the residuals."""
        return len(self.sigma_px) * (1 if self.kind == "room" else 2)

    def weights(self, one: CameraState, other: CameraState) -> Array:
        """Find what turns residuals into sigmas: (N, 2, 2) on a plane, (N,) in the room.

        Taken at the cameras an adjustment starts from, and kept: were they to move with it, steps
        by derivatives that leave this out would get stuck.
        """
        if self.kind != "room":
            carried, parallax = self._carried(one, other)[3:]
            spread = self.sigma_px[:, None, None] ** 2
            spread = spread * (np.eye(2) + carried @ carried.swapaxes(1, 2))
            # Off the plane, a point is seen aside in both: what does not cancel is its parallax.
            variance = ON_PLANE_SIGMA_MM[self.kind] ** 2
            if self.patch is not None:  # what a patch does together has a parameter of its own
                variance -= WAVES_MM**2
            spread = spread + variance * parallax[:, :, None] * parallax[:, None, :]
            return np.asarray(np.linalg.inv(np.linalg.cholesky(spread)))
        near, far = _Sight.of(one, self.first_px), _Sight.of(other, self.second_px)
        base, _ = _bearing(far.centre - near.centre)
        # In pixels: by how much both points have to move for the rays to meet.
        by_near = np.einsum("nj,njk->nk", np.cross(far.along, base), near.by_pixel)
        by_far = np.einsum("nj,njk->nk", np.cross(base, near.along), far.by_pixel)
        slope = np.linalg.norm(np.concatenate([by_near, by_far], axis=1), axis=1)
        return np.asarray(1 / np.maximum(slope * self.sigma_px * _focal(one, other), 1e-12))

    def linearise(
        self,
        one: CameraState,
        other: CameraState,
        weights: Array | None = None,
        stand_off_mm: float | Array = 0.0,
    ) -> TieResiduals:
        """Residuals and derivatives at given cameras; weights as of these if none are given.

        All stand off their plane by one ``stand_off_mm``, or each by its own (N,).
        """
        weights = self.weights(one, other) if weights is None else weights
        if self.kind != "room":
            return self._on_plane(one, other, weights, stand_off_mm)
        return self._in_room(one, other, weights)

    def depths(self, one: CameraState, other: CameraState) -> tuple[Array, Array]:
        """How far each lies off its plane (N,), mm, to first order, and how well that is known.

        Infinitely badly where both photos were taken from one place.
        """
        pixels, _, _, _, parallax = self._carried(one, other)
        size = np.maximum((parallax**2).sum(axis=1), 1e-18)
        depth = (parallax * (self.second_px - pixels)).sum(axis=1) / size
        return depth, self.sigma_px * np.sqrt(2 / size)

    def _carried(self, one: CameraState, other: CameraState) -> _Carried:
        return _Carried.of(one, other, self.first_px, ACROSS_PLANE[self.kind], self.plane_mm)

    def _on_plane(
        self, one: CameraState, other: CameraState, white: Array, stand_off_mm: float | Array
    ) -> TieResiduals:
        pixels, by_first, by_second, carried, parallax = self._carried(one, other)
        off = np.broadcast_to(stand_off_mm, len(pixels))[:, None] * parallax
        gap = white @ (pixels + off - self.second_px)[:, :, None]
        return TieResiduals(
            gap.reshape(-1),
            (-white @ carried @ by_first).reshape(-1, CAMERA_SIZE),
            (white @ by_second).reshape(-1, CAMERA_SIZE),
            (white @ parallax[:, :, None]).reshape(-1),
        )

    def _in_room(self, one: CameraState, other: CameraState, weights: Array) -> TieResiduals:
        near, far = _Sight.of(one, self.first_px), _Sight.of(other, self.second_px)
        # Only the bearing of the two places counts: by their distance apart, rays that miss each
        # other would miss by less the closer the places are.
        base, by_base = _bearing(far.centre - near.centre)
        normal = np.cross(near.along, far.along)
        by_near = np.cross(far.along, base)  # by the first ray's direction
        by_far = np.cross(base, near.along)
        moved = normal @ by_base
        # Rays close up as the focal length grows. Were the gap not brought back to pixels by the
        # focal length as it is, every residual would shrink by lengthening that, right or wrong.
        weights = weights * _focal(one, other)
        gap = (normal @ base) * weights
        by_first = np.einsum("nj,njk->nk", by_near, near.by_camera) - moved @ near.centre_by_camera
        by_second = np.einsum("nj,njk->nk", by_far, far.by_camera) + moved @ far.centre_by_camera
        by_first, by_second = by_first * weights[:, None], by_second * weights[:, None]
        by_first[:, LENS.start] += gap / 2
        by_second[:, LENS.start] += gap / 2
        return TieResiduals(gap, by_first, by_second, np.zeros(len(weights)))


def patches_of(wall_mm: Array) -> NDArray[np.intp]:
    """Give the number of the patch of wall on which each point (N, 2) lies: (N,)."""
    cells = np.clip(np.floor(wall_mm / PATCH_MM), -1000, 1000).astype(np.intp)
    return np.asarray(cells[:, 0] * 4096 + cells[:, 1])


def _focal(one: CameraState, other: CameraState) -> float:
    """Focal length (px) of two photos, in the geometric mean."""
    return float(np.sqrt(one.lens.focal_px * other.lens.focal_px))


def _bearing(apart: Array) -> tuple[Array, Array]:
    """Direction (3,) of a vector, and how it moves with it (3, 3)."""
    length = max(float(np.linalg.norm(apart)), 1.0)
    unit = apart / length
    return unit, (np.eye(3) - np.outer(unit, unit)) / length


class _Carried(NamedTuple):
    """Pixels (N, 2) carried over a plane of the room, and how they move.

    By the first camera at its pixel and by the second (N, 2, 11), by the first pixel (N, 2, 2), and
    by a stand-off (N, 2).
    """

    pixels: Array
    by_first: Array
    by_second: Array
    carried: Array
    parallax: Array

    @classmethod
    def of(
        cls, one: CameraState, other: CameraState, first_px: Array, across: int, at_mm: float
    ) -> _Carried:
        points = on_plane(one, first_px, across, at_mm)
        _, by_first, first_by_xyz = one.project(points)
        pixels, by_second, second_by_xyz = other.project(points)
        along = [axis for axis in range(3) if axis != across]
        carried = second_by_xyz[:, :, along] @ np.linalg.inv(first_by_xyz[:, :, along])
        off = first_by_xyz[:, :, [across]]
        parallax = second_by_xyz[:, :, across] - (carried @ off)[:, :, 0]
        return cls(pixels, by_first, by_second, carried, parallax)


class _Sight(NamedTuple):
    """Rays (N, 3) in wall axes with derivatives by pixel and camera; their centre (3,)."""

    along: Array
    by_pixel: Array
    by_camera: Array
    centre: Array
    centre_by_camera: Array

    @classmethod
    def of(cls, camera: CameraState, points_px: Array) -> _Sight:
        rays = camera.lens.to_rays(points_px)
        ahead = np.c_[rays, np.ones(len(rays))]
        turn = camera.rotation.T
        view = project(camera.lens, ahead)
        by_pixel = turn[:, :2] @ np.linalg.inv(view.by_point[:, :, :2])
        by_camera = np.zeros((len(rays), 3, CAMERA_SIZE))
        by_camera[:, :, :3] = turn @ cross_matrix(ahead)
        by_camera[:, :, LENS] = turn[:, :2] @ rays_by_lens(camera.lens, rays)
        centre = -turn @ camera.translation_mm
        centre_by_camera = np.zeros((3, CAMERA_SIZE))
        centre_by_camera[:, :3] = -turn @ cross_matrix(camera.translation_mm)
        centre_by_camera[:, 3:6] = -turn
        return cls(ahead @ camera.rotation, by_pixel, by_camera, centre, centre_by_camera)
