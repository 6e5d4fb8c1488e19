"""A second wall that meets the first in a corner, as evidence for one camera.

The corner is a plumb edge of both walls, and the second stands square to the first but for what
builders leave. So two parameters more, where the corner is and how far it is from square, make of
the first wall's camera the second wall's: a sheet or an edge on it is seen as on a first wall.

The second wall's axes: x right and y up as one faces it, z out of it into the room. Its x is zero
in the corner, its y that of the first wall: both stand on one floor.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import (
    AXES,
    TURNING,
    LinesObservation,
)
from visualiser.rectification.camera.observation import Groups, Linearised, on_wall
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    LENS,
    CameraState,
    cross_matrix,
    rotation_from_vector,
)
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]
Side = Literal["left", "right"]
"""On which side of the first wall the corner is."""

PLACE, OFF_SQUARE, LEAN, ASIDE = 0, 1, 2, 3
"""Own parameters: where the corner is (mm), how far from square (rad), and how the edge that is
seen leans (rad) and lies aside (mm) of where both walls would meet."""
EDGE_OWN = 4
OFF_SQUARE_SIGMA_DEG = 0.5
"""How far adjoining walls are off square (common practice, no source)."""
LEAN_SIGMA_DEG = 0.15
"""How far a long plumb edge of a building leans: see `priors.TRUE_SIGMA_DEG`."""
ASIDE_SIGMA_MM = 1.5
"""Plaster and paint round a corner off (from memory)."""
UP, ALONG = AXES["plumb"], AXES["level"]
FACING: dict[Side, Array] = {
    "right": np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]),
    "left": np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]]),
}
"""Second wall's axes to the first's, were the corner square: columns x, y, z."""
ONWARD: dict[Side, float] = {"left": -1.0, "right": 1.0}
"""Sign of x, on either wall, from the first wall to the corner and on to the second."""


def second_camera(
    camera: CameraState, side: Side, place_mm: float, off_square: float
) -> CameraState:
    """Make of the first wall's camera the one that sees the second wall in its own mm."""
    turn = rotation_from_vector(off_square * UP) @ FACING[side]
    shift = camera.rotation @ (place_mm * ALONG) + camera.translation_mm
    return CameraState(camera.rotation @ turn, shift, camera.lens)


def second_slopes(camera: CameraState, place_mm: float) -> Array:
    """Change (11, 13) of the second wall's camera with the first's (11), place and squareness."""
    slopes = np.zeros((CAMERA_SIZE, CAMERA_SIZE + 2))
    slopes[:3, :3] = slopes[3:6, 3:6] = np.eye(3)
    slopes[LENS, LENS] = np.eye(CAMERA_SIZE - 6)
    slopes[3:6, :3] = -cross_matrix(camera.rotation @ (place_mm * ALONG))
    slopes[3:6, CAMERA_SIZE + PLACE] = camera.rotation @ ALONG
    slopes[:3, CAMERA_SIZE + OFF_SQUARE] = camera.rotation @ UP
    return slopes


@dataclass(frozen=True, slots=True, eq=False)
class CornerObservation:
    """The corner's edge, and what is seen on the wall beyond it.

    Own parameters: `PLACE` to `ASIDE`; those of the lines but for what they share, and those of
    each sheet.

    Parameters
    ----------
    side
        On which side of the first wall the corner is.
    edge
        Samples along the corner.
    start_mm
        About where it is on the first wall: `PLACE` counts from there.
    lines
        Edges of the second wall that run level along it, away from the first: turned with it.
    sheets
        References on the second wall.
    """

    side: Side
    edge: EdgeSamples
    start_mm: float
    lines: LinesObservation | None = None
    sheets: tuple[ReferenceObservation, ...] = ()

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        first = [
            np.inf,
            np.radians(OFF_SQUARE_SIGMA_DEG),
            np.radians(LEAN_SIGMA_DEG),
            ASIDE_SIGMA_MM,
        ]
        parts = [np.array(first)]
        if self.lines is not None:
            parts.append(self.lines.own_sigma[: -len(TURNING)])
        return np.concatenate([*parts, *(sheet.own_sigma for sheet in self.sheets)])

    @property
    def groups(self) -> Groups:
        """The edge, each line, then the sheets' sides."""
        out, before = [np.zeros(len(self.edge), int)], 1
        for one in self._beyond:
            out.append(one.groups + before)
            before += int(one.groups.max(initial=-1)) + 1
        return np.concatenate(out)

    @property
    def _beyond(self) -> list[LinesObservation | ReferenceObservation]:
        return [*([] if self.lines is None else [self.lines]), *self.sheets]

    def own_start(self, camera: CameraState) -> Array:
        """First values."""
        beyond = second_camera(camera, self.side, self.start_mm, 0.0)
        parts = [np.zeros(EDGE_OWN)]
        if self.lines is not None:
            parts.append(self.lines.own_start(camera)[: -len(TURNING)])
        return np.concatenate([*parts, *(sheet.own_start(beyond) for sheet in self.sheets)])

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives."""
        parts = [self._edge(camera, own)]
        at = EDGE_OWN
        if self.lines is not None:
            count = len(self.lines.own_sigma) - len(TURNING)
            away = count + TURNING.index("away")
            values = np.zeros(count + len(TURNING))
            values[:count], values[away] = own[at : at + count], own[OFF_SQUARE]
            seen = self.lines.linearise(camera, values)
            by_own = np.zeros((len(seen.residual), len(own)))
            by_own[:, at : at + count] = seen.by_own[:, :count]
            by_own[:, OFF_SQUARE] = seen.by_own[:, away]
            parts.append(Linearised(seen.residual, seen.by_camera, by_own))
            at += count
        place = self.start_mm + float(own[PLACE])
        beyond = second_camera(camera, self.side, place, float(own[OFF_SQUARE]))
        slopes = second_slopes(camera, place)
        for sheet in self.sheets:
            count = len(sheet.own_sigma)
            seen = sheet.linearise(beyond, own[at : at + count])
            moved = seen.by_camera @ slopes
            by_own = np.zeros((len(seen.residual), len(own)))
            by_own[:, at : at + count] = seen.by_own
            by_own[:, [PLACE, OFF_SQUARE]] = moved[:, CAMERA_SIZE:]
            parts.append(Linearised(seen.residual, moved[:, :CAMERA_SIZE], by_own))
            at += count
        return Linearised(*(np.concatenate(part) for part in zip(*parts, strict=True)))

    def _edge(self, camera: CameraState, own: Array) -> Linearised:
        """Gaps across the corner's edge between where it should be and where it was found."""
        points, normals = self.edge.points_px, self.edge.normals_px
        foot = on_wall(camera, points)
        height, none = foot[:, 1], np.zeros(len(foot))
        middle = float(height.mean())
        x = self.start_mm + own[PLACE] + own[ASIDE] + own[LEAN] * (height - middle)
        both = camera.project(np.r_[np.c_[x, height, none], np.c_[foot, none]])
        (pixels, by_camera, by_xyz), (_, foot_by_camera, foot_by_xyz) = (
            [part[of] for part in both] for of in (slice(len(x)), slice(len(x), None))
        )
        across = (normals / self.edge.sigma_px[:, None])[:, None]
        by_place = (across @ by_xyz)[:, 0]
        by_own = np.zeros((len(x), len(own)))
        by_own[:, PLACE] = by_own[:, ASIDE] = by_place[:, 0]
        by_own[:, LEAN] = by_place[:, 0] * (height - middle)
        # A sample's height on the wall moves as well: it slides along the edge.
        slid = -np.linalg.solve(foot_by_xyz[:, :, :2], foot_by_camera)[:, 1]
        slide = by_place[:, 1] + by_place[:, 0] * own[LEAN]
        by_gap = (across @ by_camera)[:, 0] + slide[:, None] * slid
        gap = (across[:, 0] * (pixels - points)).sum(axis=1)
        return Linearised(gap, by_gap, by_own)
