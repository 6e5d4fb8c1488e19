"""What the photo says of the wall, each as residuals in sigmas with exact derivatives.

Every observation may bring parameters of its own: a line's offset, where a second sheet hangs,
how far a sheet's true size strays from its nominal one. Those with a finite ``own_sigma`` are
held near zero by it, the others are free.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.marks import LineDirection, TapedLength
from visualiser.rectification.projection import CAMERA_SIZE, CameraState, cross_matrix, project
from visualiser.rectification.reference import EdgeSamples, Reference

Array = NDArray[np.float64]

BLOOM_SIGMA_PX = 0.08
"""Bright paper spreads into its surroundings (tone curve, flare): all sides move out together."""
SIDE_SIGMA_PX = 0.04
"""What else moves one side as a whole: a shadow along it, lateral colour."""
BULGE_SIGMA_MM = 1.0
"""Paper taped at its ends stands off between them."""
STAND_OFF_SIGMA_MM = 0.5
"""Thickness, tape and plaster: how far the whole reference lies off the wall's plane."""
MARK_SIGMA_PX = 0.1
"""A printed target's corner (CALC and literature agree on 0.02 to 0.3 px)."""
CLICK_SIGMA_PX = 1.0
"""A corner clicked by hand."""

AXES: dict[LineDirection, Array] = {
    "plumb": np.array([0.0, 1.0, 0.0]),
    "level": np.array([1.0, 0.0, 0.0]),
}
"""Direction of room lines in wall axes."""


class Linearised(NamedTuple):
    """Residuals (M,) in sigmas, by camera (M, 11), by own parameters (M, K)."""

    residual: Array
    by_camera: Array
    by_own: Array


class Observation(Protocol):
    """One source of evidence."""

    @property
    def own_sigma(self) -> Array:
        """Prior sigma (K,) of its own parameters; infinite where they are free."""
        ...

    def own_start(self, camera: CameraState) -> Array:
        """First values (K,) of its own parameters."""
        ...

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives at given values."""
        ...


_SIDE_ENDS = ((0, 1), (1, 2), (2, 3), (3, 0))
_CORNER_SIGNS = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceObservation:
    """A rectangle of known size on the wall: its sides, its marks, or its bare corners.

    Own parameters: x, y of its centre (mm) and turn (rad) on the wall, error of width and of
    height (mm), stand-off (mm), bloom (px), then bulge (mm) and shift (px) of each side.

    Parameters
    ----------
    reference
        Size, corners and marks.
    sides
        Edge samples of its four sides; empty ones are passed over.
    at_origin
        Whether its centre is the wall's origin (the first reference) or free (any other).
    tilt_sigma_rad
        How well its top edge is known to be level; infinite where nothing is assumed.
    corner_sigma_px
        Uncertainty of its corners where they are used; 0 leaves them out.
    """

    reference: Reference
    sides: tuple[EdgeSamples, ...]
    at_origin: bool
    tilt_sigma_rad: float
    corner_sigma_px: float = 0.0

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        place = 0.0 if self.at_origin else np.inf
        size = self.reference.size_sigma_mm
        return np.r_[  # type: ignore[no-any-return]
            place, place, self.tilt_sigma_rad, size, size, STAND_OFF_SIGMA_MM, BLOOM_SIGMA_PX,
            np.full(4, BULGE_SIGMA_MM), np.full(4, SIDE_SIGMA_PX),
        ]  # fmt: skip

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        own = np.zeros(15)
        if not self.at_origin:
            corners = _on_wall(camera, self.reference.corners_px)
            own[:2] = corners.mean(axis=0)
            top = corners[1] - corners[0]
            own[2] = np.arctan2(top[1], top[0])
        return own

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives."""
        parts = [self._side(camera, own, i, s) for i, s in enumerate(self.sides) if len(s)]
        if len(self.reference.marks_px):
            scale = 2 * self.reference.marks_mm / self._size(np.zeros(15))
            parts.append(self._points(camera, own, self.reference.marks_px, scale, MARK_SIGMA_PX))
        if self.corner_sigma_px > 0:
            corners = self.reference.corners_px
            parts.append(self._points(camera, own, corners, _CORNER_SIGNS, self.corner_sigma_px))
        return Linearised(*(np.concatenate(p) for p in zip(*parts, strict=True)))

    def _size(self, own: Array) -> Array:
        return np.array([self.reference.width_mm + own[3], self.reference.height_mm + own[4]])

    def _world(self, own: Array, signs: Array, bulge: Array) -> tuple[Array, Array]:
        """Points at ``signs`` half sizes from the centre: (N, 3), and by own 0 to 5 (N, 3, 6)."""
        c, s = np.cos(own[2]), np.sin(own[2])
        local = signs * self._size(own) / 2
        turn = np.array([[c, -s], [s, c]])
        xyz = np.c_[local @ turn.T + own[:2], own[5] + bulge]
        by_own = np.zeros((len(signs), 3, 6))
        by_own[:, 0, 0] = by_own[:, 1, 1] = by_own[:, 2, 5] = 1.0
        by_own[:, :2, 2] = local @ np.array([[-s, -c], [c, -s]]).T
        by_own[:, :2, 3] = signs[:, :1] / 2 * turn[:, 0]
        by_own[:, :2, 4] = signs[:, 1:] / 2 * turn[:, 1]
        return xyz, by_own

    def _side(self, camera: CameraState, own: Array, i: int, samples: EdgeSamples) -> Linearised:
        start, end = (_CORNER_SIGNS[k] for k in _SIDE_ENDS[i])
        on_wall = _on_wall(camera, samples.points_px) - own[:2]
        c, s = np.cos(own[2]), np.sin(own[2])
        local = on_wall @ np.array([[c, -s], [s, c]]) / (self._size(own) / 2)
        along = np.clip((local - start) @ (end - start) / 4, 0, 1)
        signs = start + along[:, None] * (end - start)
        arch = 4 * along * (1 - along)
        xyz, world_by_own = self._world(own, signs, own[7 + i] * arch)
        pixels, by_camera, by_xyz = camera.project(xyz)

        normal = samples.normals_px
        centre = self.reference.corners_px.mean(axis=0)
        outward = np.sign(((samples.points_px - centre) * normal).sum(axis=1))
        gap = ((pixels - samples.points_px) * normal).sum(axis=1)
        gap = gap + outward * (own[6] + own[11 + i])
        by_own = np.zeros((len(samples), 15))
        across = np.einsum("ni,nij->nj", normal, by_xyz)
        by_own[:, :6] = np.einsum("nj,njk->nk", across, world_by_own)
        by_own[:, 6] = by_own[:, 11 + i] = outward
        by_own[:, 7 + i] = across[:, 2] * arch
        weight = 1 / samples.sigma_px
        return Linearised(
            gap * weight,
            np.einsum("ni,nik->nk", normal, by_camera) * weight[:, None],
            by_own * weight[:, None],
        )

    def _points(
        self, camera: CameraState, own: Array, seen_px: Array, signs: Array, sigma_px: float
    ) -> Linearised:
        xyz, world_by_own = self._world(own, signs, np.zeros(len(signs)))
        pixels, by_camera, by_xyz = camera.project(xyz)
        by_own = np.zeros((len(signs), 2, 15))
        by_own[:, :, :6] = by_xyz @ world_by_own
        return Linearised(
            (pixels - seen_px).ravel() / sigma_px,
            by_camera.reshape(-1, CAMERA_SIZE) / sigma_px,
            by_own.reshape(-1, 15) / sigma_px,
        )


@dataclass(frozen=True, slots=True, eq=False)
class LineObservation:
    """A long straight edge of the room, of known direction or merely straight, anywhere in space.

    Own parameters: offset across the line (on the plane one focal length away), and turn (rad):
    how far the builder's line strays from plumb or level, or its free direction.

    Parameters
    ----------
    samples
        Points on the edge.
    direction
        Plumb, level along the wall, or straight only.
    turn_sigma_rad
        How plumb or level such edges are built.
    start_lens_camera
        Camera whose lens fixes the line's base point.
    name
        To speak of it.
    """

    samples: EdgeSamples
    direction: LineDirection
    turn_sigma_rad: float
    base: Array = field(repr=False)
    across: Array = field(repr=False)
    name: str = ""

    @classmethod
    def of(
        cls,
        samples: EdgeSamples,
        direction: LineDirection,
        turn_sigma_rad: float,
        camera: CameraState,
        name: str = "",
    ) -> LineObservation:
        """Anchor the samples' line at its middle, as seen through the lens of a first guess."""
        rays = camera.lens.to_rays(samples.points_px)
        middle = rays.mean(axis=0)
        along = np.linalg.svd(rays - middle, full_matrices=False)[2][0]
        across = np.array([-along[1], along[0], 0.0])
        return cls(samples, direction, turn_sigma_rad, np.r_[middle, 1.0], across, name)

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        return np.array([np.inf, np.inf if self.direction == "straight" else self.turn_sigma_rad])

    def own_start(self, camera: CameraState) -> Array:  # noqa: ARG002 - the same call for all
        """First values."""
        return np.zeros(2)

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives."""
        base = self.base + own[0] * self.across
        along_image = np.array([self.across[1], -self.across[0]])
        if self.direction == "straight":
            heading, sideways = np.r_[along_image, 0.0], self.across
        else:
            heading = camera.rotation @ AXES[self.direction]
            sideways = np.cross(base, heading)
            sideways = sideways / np.linalg.norm(sideways)
        towards = heading + own[1] * sideways
        # Where along the line each sample lies: cut by the image line square to it.
        reach = camera.lens.to_rays(self.samples.points_px) @ along_image
        distance = (reach * base[2] - along_image @ base[:2]) / (
            along_image @ towards[:2] - towards[2] * reach
        )
        view = project(camera.lens, base + distance[:, None] * towards)
        normal, weight = self.samples.normals_px, 1 / self.samples.sigma_px
        across = np.einsum("ni,nij->nj", normal, view.by_point) * weight[:, None]
        by_camera = np.zeros((len(normal), CAMERA_SIZE))
        by_camera[:, 6:] = np.einsum("ni,nij->nj", normal, view.by_lens) * weight[:, None]
        if self.direction != "straight":
            by_camera[:, :3] = distance[:, None] * (across @ -cross_matrix(heading))
        by_own = np.c_[across @ self.across, distance * (across @ sideways)]
        gap = ((view.pixels - self.samples.points_px) * normal).sum(axis=1)
        return Linearised(gap * weight, by_camera, by_own)


@dataclass(frozen=True, slots=True, eq=False)
class TapeObservation:
    """A length taped between two clicked wall points; own parameters: the two points, mm."""

    taped: TapedLength

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        return np.full(4, np.inf)

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        return _on_wall(camera, np.array([self.taped.start_px, self.taped.end_px])).ravel()

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives."""
        ends = own.reshape(2, 2)
        pixels, by_camera, by_xyz = camera.project(np.c_[ends, np.zeros(2)])
        apart = ends[1] - ends[0]
        length = float(np.hypot(*apart))
        residual = np.empty(5)
        residual[:4] = (pixels - [self.taped.start_px, self.taped.end_px]).ravel()
        residual[:4] /= self.taped.click_sigma_px
        residual[4] = (length - self.taped.length_mm) / self.taped.sigma_mm
        to_camera = np.zeros((5, CAMERA_SIZE))
        to_camera[:4] = by_camera.reshape(4, CAMERA_SIZE) / self.taped.click_sigma_px
        to_own = np.zeros((5, 4))
        to_own[0:2, 0:2] = by_xyz[0, :, :2] / self.taped.click_sigma_px
        to_own[2:4, 2:4] = by_xyz[1, :, :2] / self.taped.click_sigma_px
        to_own[4] = np.r_[-apart, apart] / max(length, 1e-9) / self.taped.sigma_mm
        return Linearised(residual, to_camera, to_own)


def _on_wall(camera: CameraState, points_px: Array) -> Array:
    """Wall mm (N, 2) seen at pixels."""
    rays = camera.lens.to_rays(points_px)
    plane = np.c_[camera.rotation[:, :2], camera.translation_mm]
    wall = np.linalg.solve(plane, np.c_[rays, np.ones(len(rays))].T).T
    return np.asarray(wall[:, :2] / wall[:, 2:])
