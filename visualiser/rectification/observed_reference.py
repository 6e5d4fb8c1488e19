"""A rectangle of known size on the wall, as evidence: its sides, its marks or its bare corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.observations import Groups, Linearised, on_wall
from visualiser.rectification.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.reference import EdgeSamples, Reference

Array = NDArray[np.float64]

BLOOM_SIGMA_PX = 0.12
"""Bright paper spreads into its surroundings (tone curve, flare): all sides move out together."""
SIDE_SIGMA_PX = 0.05
"""What else moves one side as a whole: a shadow along it, lateral colour."""
SIDE_NOISE_SHARE = 0.6
"""On faint edges compression and shading move whole sides: this share of a sample's sigma."""
BULGE_SIGMA_MM = 1.0
"""Paper taped at its ends stands off between them."""
STAND_OFF_SIGMA_MM = 0.5
"""Thickness, tape and plaster: how far the whole reference lies off the wall's plane."""
MARK_SIGMA_PX = 0.1
"""A printed target's corner; published figures run from 0.02 to 0.3 px."""

X, Y, TURN, WIDTH, HEIGHT, STAND_OFF, BLOOM, BULGE, SHIFT = 0, 1, 2, 3, 4, 5, 6, 7, 11
OWN_SIZE = 15
_SIGNS = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])
"""Corners in half sizes: top-left, top-right, bottom-right, bottom-left."""


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceObservation:
    """A reference seen in the photo.

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
        shift = [
            float(np.hypot(SIDE_SIGMA_PX, SIDE_NOISE_SHARE * np.median(s.sigma_px)))
            if len(s)
            else SIDE_SIGMA_PX
            for s in self.sides
        ]
        common = [place, place, self.tilt_sigma_rad, size, size, STAND_OFF_SIGMA_MM, BLOOM_SIGMA_PX]
        return np.array([*common, *[BULGE_SIGMA_MM] * 4, *shift])

    @property
    def groups(self) -> Groups:
        """Each side, then the marks, then the corners."""
        marks = np.full(2 * len(self.reference.marks_px), 4)
        corners = np.full(8 if self.corner_sigma_px > 0 else 0, 5)
        return np.concatenate(
            [np.repeat(np.arange(4), [len(s) for s in self.sides]), marks, corners]
        )

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        own = np.zeros(OWN_SIZE)
        if not self.at_origin:
            corners = on_wall(camera, self.reference.corners_px)
            own[:2] = corners.mean(axis=0)
            top = corners[1] - corners[0]
            own[TURN] = np.arctan2(top[1], top[0])
        return own

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives."""
        parts = []
        if any(len(s) for s in self.sides):
            parts.append(self._sides(camera, own))
        if len(self.reference.marks_px):
            half = np.array([self.reference.width_mm, self.reference.height_mm]) / 2
            signs = self.reference.marks_mm / half
            parts.append(self._points(camera, own, self.reference.marks_px, signs, MARK_SIGMA_PX))
        if self.corner_sigma_px > 0:
            corners = self.reference.corners_px
            parts.append(self._points(camera, own, corners, _SIGNS, self.corner_sigma_px))
        return Linearised(*(np.concatenate(p) for p in zip(*parts, strict=True)))

    def _half_size(self, own: Array) -> Array:
        return (
            np.array([self.reference.width_mm + own[WIDTH], self.reference.height_mm + own[HEIGHT]])
            / 2
        )

    def _world(self, own: Array, signs: Array, bulge: Array) -> tuple[Array, Array]:
        """Points at ``signs`` half sizes from the centre: (N, 3), and by own 0 to 5 (N, 3, 6)."""
        c, s = np.cos(own[TURN]), np.sin(own[TURN])
        local = signs * self._half_size(own)
        turn = np.array([[c, -s], [s, c]])
        xyz = np.c_[local @ turn.T + own[:2], own[STAND_OFF] + bulge]
        by_own = np.zeros((len(signs), 3, 6))
        by_own[:, 0, X] = by_own[:, 1, Y] = by_own[:, 2, STAND_OFF] = 1.0
        by_own[:, :2, TURN] = local @ np.array([[-s, -c], [c, -s]]).T
        by_own[:, :2, WIDTH] = signs[:, :1] / 2 * turn[:, 0]
        by_own[:, :2, HEIGHT] = signs[:, 1:] / 2 * turn[:, 1]
        return xyz, by_own

    def _sides(self, camera: CameraState, own: Array) -> Linearised:
        """Gaps across the edge between where the sides should be and where they were found."""
        points = np.concatenate([s.points_px for s in self.sides])
        normal = np.concatenate([s.normals_px for s in self.sides])
        sigma = np.concatenate([s.sigma_px for s in self.sides])
        side = np.repeat(np.arange(4), [len(s) for s in self.sides])
        rows = np.arange(len(side))
        start, run = _SIGNS[side], (np.roll(_SIGNS, -1, axis=0) - _SIGNS)[side]
        c, s = np.cos(own[TURN]), np.sin(own[TURN])
        local = (on_wall(camera, points) - own[:2]) @ np.array([[c, -s], [s, c]])
        along = ((local / self._half_size(own) - start) * run).sum(axis=1) / 4
        along = np.clip(along, 0, 1)
        arch = 4 * along * (1 - along)
        xyz, world_by_own = self._world(own, start + along[:, None] * run, own[BULGE + side] * arch)
        pixels, by_camera, by_xyz = camera.project(xyz)

        centre = self.reference.corners_px.mean(axis=0)
        outward = np.sign(((points - centre) * normal).sum(axis=1))
        gap = ((pixels - points) * normal).sum(axis=1)
        gap = gap + outward * (own[BLOOM] + own[SHIFT + side])
        by_own = np.zeros((len(side), OWN_SIZE))
        across = np.einsum("ni,nij->nj", normal, by_xyz)
        by_own[:, :6] = np.einsum("nj,njk->nk", across, world_by_own)
        by_own[:, BLOOM] = by_own[rows, SHIFT + side] = outward
        by_own[rows, BULGE + side] = across[:, 2] * arch
        by_gap = np.einsum("ni,nik->nk", normal, by_camera)
        return Linearised(gap / sigma, by_gap / sigma[:, None], by_own / sigma[:, None])

    def _points(
        self, camera: CameraState, own: Array, seen_px: Array, signs: Array, sigma_px: float
    ) -> Linearised:
        """Offsets in x and y between where points should be and where they were found."""
        xyz, world_by_own = self._world(own, signs, np.zeros(len(signs)))
        pixels, by_camera, by_xyz = camera.project(xyz)
        by_own = np.zeros((len(signs), 2, OWN_SIZE))
        by_own[:, :, :6] = by_xyz @ world_by_own
        return Linearised(
            (pixels - seen_px).ravel() / sigma_px,
            by_camera.reshape(-1, CAMERA_SIZE) / sigma_px,
            by_own.reshape(-1, OWN_SIZE) / sigma_px,
        )
