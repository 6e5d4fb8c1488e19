"""What the photo says of the wall, as residuals in sigmas with exact derivatives.

Every observation may bring parameters of its own: a line's offset, where a second sheet hangs,
how far a sheet's true size strays from its nominal one. Those with a finite ``own_sigma`` are
held near zero by it, the others are free. Its residuals fall into groups (a side, a line), each
with a variance factor of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    CameraState,
    homogeneous,
    vector_from_rotation,
)
from visualiser.rectification.marks import TapedLength

Array = NDArray[np.float64]
Groups = NDArray[np.intp]


class Linearised(NamedTuple):
    """Residuals (M,) in sigmas, by camera (M, 11), by own parameters (M, K)."""

    residual: Array
    by_camera: Array
    by_own: Array


class Observation(Protocol):
    """One source of evidence."""

    @property
    def own_sigma(self) -> Array:
        """Prior sigma (K,) of its own parameters; infinite where free, zero where held."""
        ...

    @property
    def groups(self) -> Groups:
        """Group (M,) of each residual, counted from zero."""
        ...

    def own_start(self, camera: CameraState) -> Array:
        """First values (K,) of its own parameters."""
        ...

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives at given values."""
        ...


class Block(NamedTuple):
    """Rows of an observation that few of its own parameters move: which, and by how much."""

    rows: slice
    own: Groups
    part: Linearised


def blocks_of(observation: Observation, camera: CameraState, own: Array) -> list[Block]:
    """Linearise an observation in blocks, in the order of the rows.

    Its own ``blocks``, where it has some: its own parameters are many, each moving few of its
    residuals; or all of it as one.
    """
    in_blocks: Callable[[CameraState, Array], list[Block]] | None = getattr(
        observation, "blocks", None
    )
    if in_blocks is not None:
        return in_blocks(camera, own)
    part = observation.linearise(camera, own)
    return [Block(slice(0, len(part.residual)), np.arange(len(own)), part)]


def in_one(blocks: Sequence[Block], own_size: int) -> Linearised:
    """Put blocks together: mostly zeros where each is moved by few own parameters."""
    by_own = np.zeros((blocks[-1].rows.stop, own_size))
    for block in blocks:
        by_own[block.rows, block.own] = block.part.by_own
    residual = np.concatenate([block.part.residual for block in blocks])
    return Linearised(residual, np.concatenate([b.part.by_camera for b in blocks]), by_own)


def on_plane(camera: CameraState, points_px: Array, across: int, at_mm: float) -> Array:
    """Room mm (N, 3) seen at pixels (N, 2) on a plane square to a wall axis.

    Parameters
    ----------
    camera, points_px
        The camera, and what it sees.
    across
        The wall axis that the plane is square to: 2 for the wall itself, 1 for a floor.
    at_mm
        Where the plane lies along that axis.
    """
    rays = homogeneous(camera.lens.to_rays(points_px)) @ camera.rotation
    centre = camera.centre_mm
    far = (at_mm - centre[across]) / rays[:, across]
    return np.asarray(centre + far[:, None] * rays)


def on_wall(camera: CameraState, points_px: Array) -> Array:
    """Wall mm (N, 2) seen at pixels (N, 2)."""
    rays = camera.lens.to_rays(points_px)
    plane = np.column_stack([camera.rotation[:, :2], camera.translation_mm])
    wall = np.linalg.solve(plane, homogeneous(rays).T).T
    return np.asarray(wall[:, :2] / wall[:, 2:])


@dataclass(frozen=True, slots=True, eq=False)
class HeldCamera:
    """A camera known from elsewhere, with its covariance (11, 11); no own parameters."""

    camera: CameraState
    covariance: Array

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas: none."""
        return np.empty(0)

    @property
    def groups(self) -> Groups:
        """One."""
        return np.zeros(CAMERA_SIZE, int)

    def own_start(self, camera: CameraState) -> Array:  # noqa: ARG002 - the same call for all
        """First values: none."""
        return np.empty(0)

    def linearise(self, camera: CameraState, own: Array) -> Linearised:  # noqa: ARG002
        """Residuals and derivatives, the turn small."""
        turn = vector_from_rotation(camera.rotation @ self.camera.rotation.T)
        a, b = self.camera.lens, camera.lens
        lens = [np.log(b.focal_px / a.focal_px), b.k1 - a.k1, b.k2 - a.k2]
        centre = [b.centre_x_px - a.centre_x_px, b.centre_y_px - a.centre_y_px]
        shift = camera.translation_mm - self.camera.translation_mm
        scale = np.sqrt(np.maximum(np.diag(self.covariance), 1e-18))
        values, vectors = np.linalg.eigh(self.covariance / np.outer(scale, scale))
        white = vectors.T / np.sqrt(np.maximum(values, 1e-9))[:, None] / scale
        residual = white @ np.array([*turn, *shift, *lens, *centre])
        return Linearised(residual, white, np.empty((CAMERA_SIZE, 0)))


@dataclass(frozen=True, slots=True, eq=False)
class TapeObservation:
    """A length taped between two clicked wall points; own parameters: the two points, mm."""

    taped: TapedLength

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        return np.full(4, np.inf)

    @property
    def groups(self) -> Groups:
        """Clicks, then the reading."""
        return np.array([0, 0, 0, 0, 1])

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        return on_wall(camera, np.array([self.taped.start_px, self.taped.end_px])).ravel()

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
