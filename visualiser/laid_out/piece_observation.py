"""A piece of unknown size on the plane, as evidence for the camera and for its own size and place.

Its sides are straight and square to each other whatever their length: many pieces together tell
the lens and the camera's tilt far better than a sheet alone, which then only gives the scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.laid_out.box import PieceBox
from visualiser.rectification.camera.observation import Groups, Linearised
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.edges.locate import no_samples, sample_path
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

X, Y, TURN, WIDTH, HEIGHT, DEPTH, SHIFT = 0, 1, 2, 3, 4, 5, 6
SIDE_SIGMA_PX, SIDE_SIGMA_MM = 0.2, 0.35
"""What moves a whole side: a shadow beside it, an eased edge, a moulding that is not quite true."""
TWIST_SHARE = 0.4
OUTLINE_SIGMA_MM = 4.0
"""How well a size is known of which one side is hidden."""
MERGED_PX = 3.0
"""A foot and a front's edge nearer to each other than this are seen as one line."""
TRIM = 0.06
MOST_SAMPLES = 14
LEAST_REACH_PX = 1.0
_SIGNS = np.array([[-1.0, 1.0], [1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]]) / 2


@dataclass(frozen=True, slots=True, eq=False)
class SeenLine:
    """Samples along one line of one side: on the floor or at the front's height."""

    side: int
    on_front: bool
    samples: EdgeSamples
    sigma_px: float


@dataclass(frozen=True, slots=True, eq=False)
class PieceObservation:
    """One piece's lines.

    Own parameters: changes of x, y (mm), turn (rad), width, height and depth (mm) from the box, and
    how far each line is displaced outwards (px).
    """

    box: PieceBox
    lines: tuple[SeenLine, ...]
    samples: tuple[Array, Array, Array, Groups] = field(init=False)
    """Points, normals and sigmas of all lines together, and the line of each."""

    def __post_init__(self) -> None:
        seen = [line.samples for line in self.lines]
        nothing = np.empty((0, 2))
        joined = (
            np.concatenate([nothing, *(one.points_px for one in seen)]),
            np.concatenate([nothing, *(one.normals_px for one in seen)]),
            np.concatenate([np.empty(0), *(one.sigma_px for one in seen)]),
            np.repeat(np.arange(len(seen)), [len(one) for one in seen]),
        )
        object.__setattr__(self, "samples", joined)

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas: place and size are free, the depth is known as the box says."""
        shifts = [line.sigma_px for line in self.lines]
        seen = {line.side for line in self.lines}
        # A size of which only one side is seen is what the outline said.
        width, height = (np.inf if {i, i + 2} <= seen else OUTLINE_SIGMA_MM for i in (1, 0))
        free = [np.inf] * 3
        return np.array([*free, width, height, self.box.depth_sigma_mm, *shifts])

    @property
    def groups(self) -> Groups:
        """Each line."""
        return self.samples[3]

    def own_start(self, camera: CameraState) -> Array:  # noqa: ARG002 - the protocol's
        """First values: the box as it stands."""
        return np.zeros(SHIFT + len(self.lines))

    def measured(self, own: Array) -> PieceBox:
        """Box with the own parameters applied."""
        box = self.box
        return replace(
            box,
            x_mm=box.x_mm + float(own[X]),
            y_mm=box.y_mm + float(own[Y]),
            tilt_deg=box.tilt_deg + float(np.degrees(own[TURN])),
            width_mm=box.width_mm + float(own[WIDTH]),
            height_mm=box.height_mm + float(own[HEIGHT]),
            depth_mm=box.depth_mm + float(own[DEPTH]),
        )

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals across each line, and derivatives."""
        box = self.measured(own)
        c, s = np.cos(np.radians(box.tilt_deg)), np.sin(np.radians(box.tilt_deg))
        turn = np.array([[c, -s], [s, c]])
        size = np.array([box.width_mm, box.height_mm])
        points, normals, sigma, line = self.samples
        count = len(line)
        by_own = np.zeros((count, SHIFT + len(self.lines)))
        if not count:
            return Linearised(np.empty(0), np.empty((0, CAMERA_SIZE)), by_own)
        side = np.array([one.side for one in self.lines])[line]
        front = np.array([one.on_front for one in self.lines], float)[line]
        z = front * box.depth_mm
        centre_px = camera.project(np.array([[box.x_mm, box.y_mm, box.depth_mm]]))[0]
        start, end = _SIGNS[side], _SIGNS[(side + 1) % 4]
        foot = (_at_height(camera, points, z) - [box.x_mm, box.y_mm]) @ turn
        run = (end - start) * size
        t = (((foot - start * size) * run).sum(axis=1) / (run**2).sum(axis=1)).clip(0, 1)
        signs = start + t[:, None] * (end - start)
        local = signs * size
        flat = local @ turn.T + [box.x_mm, box.y_mm]
        pixels, by_camera, by_xyz = camera.project(np.c_[flat, z])
        outward = np.sign(((points - centre_px) * normals).sum(axis=1))
        gap = ((pixels - points) * normals).sum(axis=1) + outward * own[SHIFT + line]
        by_point = (normals[:, :, None] * by_xyz).sum(axis=1)
        by_own[:, [X, Y]] = by_point[:, :2]
        by_own[:, TURN] = (by_point[:, :2] * (local @ np.array([[-s, c], [-c, -s]]))).sum(axis=1)
        by_own[:, WIDTH] = by_point[:, :2] @ turn[:, 0] * signs[:, 0]
        by_own[:, HEIGHT] = by_point[:, :2] @ turn[:, 1] * signs[:, 1]
        by_own[:, DEPTH] = by_point[:, 2] * front
        by_own[np.arange(count), SHIFT + line] = outward
        by_gap = (normals[:, :, None] * by_camera).sum(axis=1)
        return Linearised(gap / sigma, by_gap / sigma[:, None], by_own / sigma[:, None])


def _at_height(camera: CameraState, points_px: Array, z_mm: Array) -> Array:
    """Plane mm (N, 2) seen at pixels, on planes at heights (N,)."""
    rays = np.c_[camera.lens.to_rays(points_px), np.ones(len(points_px))] @ camera.rotation
    centre = -camera.rotation.T @ camera.translation_mm
    far = (z_mm - centre[2]) / rays[:, 2]
    return np.asarray(centre[:2] + far[:, None] * rays[:, :2])


def observe_piece(
    view: LinearView,
    plane: WallPlane,
    box: PieceBox,
    search_px: float,
    *,
    outlines_only: bool = False,
) -> PieceObservation:
    """Sample the lines that a box shows, each to within ``search_px`` of where it should be.

    ``outlines_only`` leaves out the front's edge where the side before it is seen: where that lies
    depends on a depth that is not known yet.
    """
    camera = plane.camera_mm
    away = box.away(camera)
    scale = 1 / float(plane.mm_per_px(np.array([[box.x_mm, box.y_mm]]))[0])
    foot = plane.project(box.corners(0.0))
    front = plane.project(box.corners(box.depth_mm))
    whole = max(SIDE_SIGMA_PX, SIDE_SIGMA_MM * scale)
    if box.rail_mm > 0:  # the lip is often the clearer line
        search_px = min(search_px, max(0.6 * box.rail_mm * scale, 2.0))
    lines = []
    for side in range(4):
        i, j = side, (side + 1) % 4
        # What of the distance between foot and front's edge lies across the side.
        along = (front[j] - front[i]) / max(np.hypot(*(front[j] - front[i])), 1e-9)
        off = (foot[i] + foot[j] - front[i] - front[j]) / 2
        apart = abs(float(along[0] * off[1] - along[1] * off[0]))
        facing = away[side] < 0
        if not facing or apart < 0.7:
            wanted = [(True, search_px, 0.0)]
        elif apart < MERGED_PX:
            wanted = [(False, search_px, apart / 2)]
        elif outlines_only:
            wanted = [(False, search_px, 0.0)]
        else:
            reach = min(search_px, 0.45 * apart)
            wanted = [(False, reach, 0.0), (True, reach, 0.0)]
        for on_front, reach, merged in wanted:
            corners = box.corners(box.depth_mm if on_front else 0.0)
            path = _path(plane, corners[i], corners[j])
            samples = _sampled(view, path, reach)
            if len(samples):
                sigma = float(np.hypot(whole, merged))
                if facing and on_front:
                    sigma *= 2  # an eased or bevelled edge has no one line
                lines.append(SeenLine(side, on_front, _thinned(samples), sigma))
    return PieceObservation(box, tuple(lines))


def _sampled(view: LinearView, path: Array, search_px: float) -> EdgeSamples:
    """Sample the clearest line near a path; nearer by, where the clearest is the next line."""
    for reach in (search_px, search_px / 2, search_px / 4):
        if reach < LEAST_REACH_PX:
            break
        samples = sample_path(view, path, reach)
        # What lies at the rim of the search is another line: the lip, or a shadow.
        if len(samples) and abs(_offset_px(samples, path)) < 0.8 * reach:
            return samples
    return no_samples()


def _thinned(samples: EdgeSamples) -> EdgeSamples:
    """Keep a few samples of a line: what puts it off is alike along it, more tell no more."""
    every = max(len(samples) // MOST_SAMPLES, 1)
    return EdgeSamples(
        samples.points_px[::every],
        samples.normals_px[::every],
        samples.sigma_px[::every] / np.sqrt(every),
        samples.look,
    )


def _path(plane: WallPlane, start: Array, end: Array) -> Array:
    ends = plane.project(np.array([start, end]))
    count = int(np.clip(np.hypot(*(ends[1] - ends[0])) * (1 - 2 * TRIM), 8, 200))
    t = np.linspace(TRIM, 1 - TRIM, count)[:, None]
    return plane.project(start + t * (end - start))


def _offset_px(samples: EdgeSamples, path: Array) -> float:
    nearest = ((samples.points_px[:, None] - path[None]) ** 2).sum(axis=2).argmin(axis=1)
    return float(np.median((samples.normals_px * (samples.points_px - path[nearest])).sum(axis=1)))


def sides_seen(lines: Sequence[SeenLine]) -> int:
    """Count the sides of which a line is seen."""
    return len({line.side for line in lines})
