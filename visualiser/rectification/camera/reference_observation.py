"""A rectangle of known size on the wall, as evidence: its sides, its marks or its bare corners."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import Groups, Linearised, on_wall
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState, inverted
from visualiser.rectification.camera.side_bias import SideShift, bloom_sigma_px, side_shift
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.quadrilaterals import side_lengths
from visualiser.rectification.reference import EdgeSamples, Reference

Array = NDArray[np.float64]

X, Y, TURN, WIDTH, HEIGHT, STAND_OFF, BLOOM, BULGE, SHIFT = 0, 1, 2, 3, 4, 5, 6, 7, 11
TWIST = 15
OWN_SIZE = 19
STIFF_MM = 0.5
"""Cards from this thickness on lie flat."""
_SIGNS = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]])
"""Corners in half sizes: top-left, top-right, bottom-right, bottom-left."""
_RUNS = np.roll(_SIGNS, -1, axis=0) - _SIGNS


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceObservation:
    """A reference seen in the photo.

    Own parameters: x, y of its centre (mm) and turn (rad) on the wall, error of width and of
    height (mm), stand-off (mm), bloom (px), then of each side bulge (mm), shift (px) and twist
    (px): how much further one end is out, and the other in.

    Parameters
    ----------
    reference
        Size, corners and marks.
    sides
        Edge samples of its four sides; empty ones are passed over.
    at_origin
        Whether its centre is the wall's origin (the first reference) or free (any other).
    use_corners
        Whether its corners count, as clicked.
    terms
        What the model leaves out.
    """

    reference: Reference
    sides: tuple[EdgeSamples, ...]
    at_origin: bool
    use_corners: bool
    terms: ModelTerms
    shifts: tuple[SideShift, ...] = field(init=False)
    """How far each side is expected to look displaced."""
    samples: _Samples = field(init=False)
    """Samples of all sides together."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "shifts", self._expected_shifts())
        samples = _Samples.of(self.sides, self.reference.corners_px.mean(axis=0))
        object.__setattr__(self, "samples", samples)

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        terms = self.terms
        # Any other reference hangs where and how it likes.
        place, tilt = (0.0, np.radians(terms.tilt_sigma_deg)) if self.at_origin else (np.inf,) * 2
        size = self.reference.size_sigma_mm
        bloom = bloom_sigma_px(self.sides, terms)
        common = [place, place, tilt, size, size, terms.stand_off_sigma_mm, bloom]
        shifts = self.shifts
        # Paper bows between its tapes; a card does not.
        bulge = terms.bulge_sigma_mm if self.reference.thickness_mm < STIFF_MM else 0.0
        shift, twist = [s.sigma_px for s in shifts], [s.twist_px for s in shifts]
        return np.array([*common, *[bulge] * 4, *shift, *twist])

    def _expected_shifts(self) -> tuple[SideShift, ...]:
        corners = self.reference.corners_px
        centre = corners.mean(axis=0)
        lengths_px = side_lengths(corners)
        lengths_mm = (self.reference.width_mm, self.reference.height_mm) * 2
        blurs = [s.look.blur_px for s in self.sides if s.look is not None]
        sharpest = min(blurs, default=0.0)
        return tuple(
            side_shift(
                samples,
                float(length_px / length_mm),
                self.reference.thickness_mm,
                sharpest,
                self.terms,
                inward=not _outward(samples, centre).mean() > 0 if len(samples) else True,
            )
            for samples, length_px, length_mm in zip(
                self.sides, lengths_px, lengths_mm, strict=True
            )
        )

    @property
    def groups(self) -> Groups:
        """Each side, then the marks, then the corners."""
        marks = np.full(2 * len(self.reference.marks_px), 4)
        corners = np.full(8 if self.use_corners else 0, 5)
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
            sigma = self.reference.marks_sigma_px
            sigma = sigma if len(sigma) else np.full(len(signs), self.terms.mark_sigma_px)
            parts.append(self._points(camera, own, self.reference.marks_px, signs, sigma))
        if self.use_corners:
            corners = self.reference.corners_px
            sigma = np.full(4, self.terms.click_sigma_px)
            parts.append(self._points(camera, own, corners, _SIGNS, sigma))
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
        xyz = np.empty((len(signs), 3))
        xyz[:, :2] = local @ turn.T + own[:2]
        xyz[:, 2] = own[STAND_OFF] + bulge
        by_own = np.zeros((len(signs), 3, 6))
        by_own[:, 0, X] = by_own[:, 1, Y] = by_own[:, 2, STAND_OFF] = 1.0
        by_own[:, :2, TURN] = local @ np.array([[-s, -c], [c, -s]]).T
        by_own[:, :2, WIDTH] = signs[:, :1] / 2 * turn[:, 0]
        by_own[:, :2, HEIGHT] = signs[:, 1:] / 2 * turn[:, 1]
        return xyz, by_own

    def _sides(self, camera: CameraState, own: Array) -> Linearised:
        """Gaps across the edge between where the sides should be and where they were found."""
        points, normal, sigma, side, outward = self.samples
        rows = np.arange(len(side))
        start, run = _SIGNS[side], _RUNS[side]
        c, s = np.cos(own[TURN]), np.sin(own[TURN])
        foot = on_wall(camera, points)
        half = self._half_size(own)
        local = (foot - own[:2]) @ np.array([[c, -s], [s, c]])
        unclipped = ((local / half - start) * run).sum(axis=1) / 4
        along = np.clip(unclipped, 0, 1)
        arch = 4 * along * (1 - along)
        xyz, world_by_own = self._world(own, start + along[:, None] * run, own[BULGE + side] * arch)
        flat = np.zeros((len(foot), 3))
        flat[:, :2] = foot
        both = camera.project(np.concatenate([xyz, flat]))
        (pixels, by_camera, by_xyz), (_, foot_by_camera, foot_by_xyz) = (
            [part[of] for part in both] for of in (slice(len(side)), slice(len(side), None))
        )
        expected = np.array([shift.outward_px for shift in self.shifts])
        gap = ((pixels - points) * normal).sum(axis=1)
        end = 2 * along - 1
        gap = gap + outward * (
            own[BLOOM] + own[SHIFT + side] + own[TWIST + side] * end + expected[side]
        )
        by_own = np.zeros((len(side), OWN_SIZE))
        across = np.einsum("ni,nij->nj", normal, by_xyz)
        by_own[:, :6] = np.einsum("nj,njk->nk", across, world_by_own)
        by_own[:, BLOOM] = by_own[rows, SHIFT + side] = outward
        by_own[rows, TWIST + side] = outward * end
        by_own[rows, BULGE + side] = across[:, 2] * arch
        by_gap = np.einsum("ni,nik->nk", normal, by_camera)
        # A sample's foot slides along its side as either moves.
        step = np.zeros((len(side), 3))
        step[:, :2] = (run * half) @ np.array([[c, s], [-s, c]])
        step[:, 2] = own[BULGE + side] * 4 * (1 - 2 * along)
        slide = (across * step).sum(axis=1) + 2 * outward * own[TWIST + side]
        slide *= unclipped == along
        by_foot = (run / half / 4) @ np.array([[c, s], [-s, c]]) * slide[:, None]
        by_pixel = np.einsum("ni,nij->nj", by_foot, inverted(foot_by_xyz[:, :, :2]))
        by_gap -= np.einsum("ni,nik->nk", by_pixel, foot_by_camera)
        by_own[:, [X, Y]] -= by_foot
        turned = np.stack([local[:, 1], -local[:, 0]], axis=1)
        by_own[:, TURN] += slide * (turned / half * run).sum(axis=1) / 4
        by_own[:, [WIDTH, HEIGHT]] -= slide[:, None] * local / half**2 * run / 8
        return Linearised(gap / sigma, by_gap / sigma[:, None], by_own / sigma[:, None])

    def _points(
        self, camera: CameraState, own: Array, seen_px: Array, signs: Array, sigma_px: Array
    ) -> Linearised:
        """Offsets in x and y between where points should be and where they were found."""
        xyz, world_by_own = self._world(own, signs, np.zeros(len(signs)))
        pixels, by_camera, by_xyz = camera.project(xyz)
        by_own = np.zeros((len(signs), 2, OWN_SIZE))
        by_own[:, :, :6] = by_xyz @ world_by_own
        each = np.repeat(sigma_px, 2)
        return Linearised(
            (pixels - seen_px).ravel() / each,
            by_camera.reshape(-1, CAMERA_SIZE) / each[:, None],
            by_own.reshape(-1, OWN_SIZE) / each[:, None],
        )


class _Samples(NamedTuple):
    """Samples of all sides: points and normals (N, 2), sigmas (N,), all px; sides (N,), 0 to 3.

    Last whether each normal points out of the reference, 1, or in, -1 (N,).
    """

    points: Array
    normal: Array
    sigma: Array
    side: NDArray[np.int_]
    outward: Array

    @classmethod
    def of(cls, sides: Sequence[EdgeSamples], centre_px: Array) -> _Samples:
        return cls(
            np.concatenate([s.points_px for s in sides]),
            np.concatenate([s.normals_px for s in sides]),
            np.concatenate([s.sigma_px for s in sides]),
            np.repeat(np.arange(len(sides)), [len(s) for s in sides]),
            np.concatenate([_outward(s, centre_px) for s in sides]),
        )


def _outward(samples: EdgeSamples, centre_px: Array) -> Array:
    """Which samples' normals point out of the reference: 1 or -1 (N,)."""
    return np.asarray(np.sign(((samples.points_px - centre_px) * samples.normals_px).sum(axis=1)))
