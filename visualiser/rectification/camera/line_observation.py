"""Room lines as evidence: straight in space, and where known plumb, level or square to the wall."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.observation import Block, Groups, Linearised, in_one
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    LENS,
    CameraState,
    cross_matrix,
    project,
    rays_by_lens,
)
from visualiser.rectification.camera.terms import BOW_SHARE
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

LineKind = Literal["plumb", "level", "away", "straight"]
"""Plumb; level along the wall; level and away from it; or in no known direction."""
AXES: dict[LineKind, Array] = {
    "plumb": np.array([0.0, 1.0, 0.0]),
    "level": np.array([1.0, 0.0, 0.0]),
    "away": np.array([0.0, 0.0, 1.0]),
}
"""Direction of room lines in wall axes."""
UP = AXES["plumb"]
TURNING: tuple[LineKind, ...] = ("level", "away")
"""Kinds of which some lines may share a turn about the plumb."""
PER_LINE = 3
"""Own parameters of each line; those that are shared follow after all of them."""
OFFSET, LINE_TURN, BOW = range(PER_LINE)
"""Their order."""


PER_THING = 2
"""Own parameters of each hung thing, after those."""
ROLL, LEAN = range(PER_THING)
"""Their order: turned about the direction out of the wall; its top further out than its foot."""


@dataclass(frozen=True, slots=True)
class Hung:
    """What one hung thing's edges share: how it is rolled, and how it leans (one sigma, radians).

    Parameters
    ----------
    thing
        Its number among those of the photo.
    roll_rad, lean_rad
        How far it may be turned about the direction out of the wall, and its top stand out.
    """

    thing: int
    roll_rad: float
    lean_rad: float


@dataclass(frozen=True, slots=True)
class Direction:
    """What a line was taken for, and how closely such a line keeps to it (radians).

    Parameters
    ----------
    kind
        What it was taken for.
    sigma_rad
        How far it strays from that by itself.
    askew_rad
        How far it may be turned about the plumb together with all others of its kind that may be:
        an adjoining wall is not quite square, furniture stands askew. Zero where it is not.
    hung
        The hung thing that it is an edge of, if it is plumb or level with it.
    """

    kind: LineKind
    sigma_rad: float
    askew_rad: float = 0.0
    hung: Hung | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LinesObservation:
    """Long straight edges of the room, on the wall or off it.

    Own parameters, three a line: offset across it (on the plane one focal length away); turn
    (rad): how far the builder's line strays from plumb or level, or its free direction; and how far
    its middle bows aside, in sigmas of that. After these one for each of `TURNING`: how
    far the lines of a family stand askew together (rad); and two for each hung thing.

    Parameters
    ----------
    points_px, normals_px, sigma_px
        All samples of all lines.
    line
        (M,) the line each belongs to.
    directions
        What each line was taken for.
    base, across
        (L, 3) a point of each line and the direction across it, in camera axes.
    bow_px
        (M,) how far each sample moves along its normal with one sigma of its line's bow.
    """

    points_px: Array
    normals_px: Array
    sigma_px: Array
    line: Groups
    directions: tuple[Direction, ...]
    base: Array
    across: Array
    bow_px: Array
    moved_by: tuple[tuple[slice, Groups, Groups], ...] = field(init=False)
    """Of each line its samples, the own parameters that move it, and the places of their
    derivatives among all that may."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "moved_by", self._moved_by())

    @classmethod
    def of(
        cls,
        samples: Sequence[EdgeSamples],
        directions: Sequence[Direction],
        camera: CameraState,
        bow_share: float = BOW_SHARE,
    ) -> LinesObservation:
        """Anchor each line at its middle, as seen through the lens of a first guess.

        Their middles bow aside by a share of their length (one sigma).
        """
        base, across = [], []
        for edge in samples:
            rays = camera.lens.to_rays(edge.points_px)
            middle = rays.mean(axis=0)
            along = np.linalg.svd(rays - middle, full_matrices=False)[2][0]
            base.append([*middle, 1.0])
            across.append([-along[1], along[0], 0.0])
        return cls(
            np.concatenate([s.points_px for s in samples]),
            np.concatenate([s.normals_px for s in samples]),
            np.concatenate([s.sigma_px for s in samples]),
            np.repeat(np.arange(len(samples)), [len(s) for s in samples]),
            tuple(directions),
            np.array(base),
            np.array(across),
            np.concatenate([_bow_px(s, bow_share) for s in samples]),
        )

    @property
    def own_sigma(self) -> Array:
        """Prior sigmas."""
        turns = [np.inf if d.kind == "straight" else d.sigma_rad for d in self.directions]
        shared = [
            max((d.askew_rad for d in self.directions if d.kind == kind), default=0.0)
            for kind in TURNING
        ]
        each = np.stack([np.full(len(turns), np.inf), turns, np.ones(len(turns))], axis=1).ravel()
        hung = [sigma for one in self.hung for sigma in (one.roll_rad, one.lean_rad)]
        return np.concatenate([each, shared, hung])

    @property
    def hung(self) -> tuple[Hung, ...]:
        """The hung things of which edges took part, in the order of their parameters."""
        things = {d.hung.thing: d.hung for d in self.directions if d.hung is not None}
        return tuple(things[number] for number in sorted(things))

    @property
    def groups(self) -> Groups:
        """Each line."""
        return self.line

    def own_start(self, camera: CameraState) -> Array:  # noqa: ARG002 - the same call for all
        """First values."""
        return np.zeros(PER_LINE * len(self.directions) + len(TURNING) + PER_THING * len(self.hung))

    def linearise(self, camera: CameraState, own: Array) -> Linearised:
        """Residuals and derivatives, all in one: mostly zeros, see `blocks`."""
        return in_one(self.blocks(camera, own), len(own))

    def blocks(self, camera: CameraState, own: Array) -> list[Block]:
        """Residuals and derivatives of each line."""
        count = PER_LINE * len(self.directions)
        (offset, turn, bow), shared = own[:count].reshape(-1, PER_LINE).T, own[count:]
        hung = shared[len(TURNING) :].reshape(-1, PER_THING)
        base = self.base + offset[:, None] * self.across
        along = np.stack([self.across[:, 1], -self.across[:, 0]], axis=1)
        known = np.array([d.kind != "straight" for d in self.directions])
        heading, by_askew = self._headings(camera, along, shared[: len(TURNING)])
        by_hung = self._hung_headings(camera, heading, hung)
        lever = _cross(base, heading)
        sideways = lever / np.linalg.norm(lever, axis=1, keepdims=True)
        sideways[~known] = self.across[~known]
        towards = heading + turn[:, None] * sideways

        i = self.line
        # Where along the line each sample lies: cut by the image line square to it.
        rays = camera.lens.to_rays(self.points_px)
        cut = np.empty((len(i), 3))
        cut[:, :2] = along[i]
        cut[:, 2] = -(cut[:, :2] * rays).sum(axis=1)
        towards_here = towards[i]
        ahead = (cut * towards_here).sum(axis=1)
        distance = -(cut * base[i]).sum(axis=1) / ahead
        xyz = base[i] + distance[:, None] * towards_here
        view = project(camera.lens, xyz)
        weight = 1 / self.sigma_px
        normal = self.normals_px * weight[:, None]
        across = np.einsum("ni,nij->nj", normal, view.by_point)
        # The cut goes along as the line moves: its points slide, and lenses bend what they slide
        # on. Left out, this hides how little lines that all but run together say.
        slide = (across * towards_here).sum(axis=1) / ahead
        across -= slide[:, None] * cut
        turned = -cross_matrix(heading)
        tipping = _unit_by_vector(lever)
        tipped = tipping @ cross_matrix(base) @ turned
        by_turn = np.where(known[:, None, None], turned + turn[:, None, None] * tipped, 0.0)
        by_camera = np.zeros((len(i), CAMERA_SIZE))
        by_camera[:, :3] = np.einsum("nj,njk->nk", across, by_turn[i]) * distance[:, None]
        by_camera[:, LENS] = np.einsum("ni,nij->nj", normal, view.by_lens)
        by_camera[:, LENS] += (slide * xyz[:, 2])[:, None] * np.einsum(
            "nj,njk->nk", cut[:, :2], rays_by_lens(camera.lens, rays)
        )
        shifted = np.einsum("njk,nk->nj", tipping, _cross(self.across, heading))
        shifted = np.where(known[:, None], turn[:, None] * shifted, 0.0)
        shifted = self.across[i] + distance[:, None] * shifted[i]
        by_line = np.empty((len(i), PER_LINE + 1 + PER_THING))
        by_line[:, OFFSET] = (across * shifted).sum(axis=1)
        by_line[:, LINE_TURN] = distance * (across * sideways[i]).sum(axis=1)
        by_line[:, BOW] = self.bow_px * weight
        for p, change in enumerate((by_askew, *by_hung)):
            aside = np.einsum("ljk,lk->lj", tipping, _cross(base, change))
            swung = (across * (change + turn[:, None] * aside)[i]).sum(axis=1)
            by_line[:, PER_LINE + p] = distance * swung
        gap = ((view.pixels - self.points_px) * self.normals_px).sum(axis=1) + bow[i] * self.bow_px
        gap *= weight
        return [
            Block(rows, places, Linearised(gap[rows], by_camera[rows], by_line[rows, columns]))
            for rows, places, columns in self.moved_by
        ]

    def _moved_by(self) -> tuple[tuple[slice, Groups, Groups], ...]:
        count = PER_LINE * len(self.directions)
        things = {one.thing: k for k, one in enumerate(self.hung)}
        ends = np.cumsum([0, *np.bincount(self.line, minlength=len(self.directions))])
        out = []
        for k, direction in enumerate(self.directions):
            places, columns = [*range(PER_LINE * k, PER_LINE * (k + 1))], [*range(PER_LINE)]
            if direction.askew_rad > 0 and direction.kind in TURNING:
                places.append(count + TURNING.index(direction.kind))
                columns.append(PER_LINE)
            if direction.hung is not None:
                first = count + len(TURNING) + PER_THING * things[direction.hung.thing]
                places += range(first, first + PER_THING)
                columns += range(PER_LINE + 1, PER_LINE + 1 + PER_THING)
            rows = slice(int(ends[k]), int(ends[k + 1]))
            out.append((rows, np.array(places), np.array(columns)))
        return tuple(out)

    def _headings(self, camera: CameraState, along: Array, askew: Array) -> tuple[Array, Array]:
        """Directions of the lines (L, 3), and their change with their family's turn (L, 3)."""
        heading, change = np.zeros((2, len(along), 3))
        heading[:, :2] = along
        of = np.array([d.kind for d in self.directions])
        turning = np.array([d.askew_rad > 0 for d in self.directions], bool)
        for kind, axis in AXES.items():
            heading[of == kind] = camera.rotation @ axis
            if kind in TURNING:
                turn = askew[TURNING.index(kind)]
                c, s, square = np.cos(turn), np.sin(turn), _cross(UP, axis)
                heading[(of == kind) & turning] = camera.rotation @ (c * axis + s * square)
                change[(of == kind) & turning] = camera.rotation @ (c * square - s * axis)
        return heading, change

    def _hung_headings(
        self, camera: CameraState, heading: Array, hung: Array
    ) -> tuple[Array, Array]:
        """Turn the headings (L, 3) of hung things' edges with them; their changes with both."""
        by_roll, by_lean = np.zeros_like(heading), np.zeros_like(heading)
        places = {one.thing: k for k, one in enumerate(self.hung)}
        for i, direction in enumerate(self.directions):
            if direction.hung is None:
                continue
            roll, lean = hung[places[direction.hung.thing]]
            c, s = np.cos(roll), np.sin(roll)
            if direction.kind == "level":
                towards, rolled, leant = [c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 0.0]
            else:
                a, b = np.cos(lean), np.sin(lean)
                towards, rolled = [-s * a, c * a, b], [-c * a, -s * a, 0.0]
                leant = [s * b, -c * b, a]
            heading[i], by_roll[i], by_lean[i] = (
                camera.rotation @ np.array(v) for v in (towards, rolled, leant)
            )
        return by_roll, by_lean


def _cross(one: Array, other: Array) -> Array:
    """Cross products (..., 3): numpy's own spends ten times as long on finding the axes."""
    (a, b, c), (x, y, z) = one.T, other.T
    return np.array([b * z - c * y, c * x - a * z, a * y - b * x]).T


def _bow_px(edge: EdgeSamples, share: float) -> Array:
    """How far samples (N,) of one edge move along their normals with one sigma of its bow.

    A parabola that neither shifts nor turns the line as a whole.
    """
    points = edge.points_px - edge.points_px.mean(axis=0)
    along = np.linalg.svd(points, full_matrices=False)[2][0]
    t = points @ along
    half = max(float(np.ptp(t)) / 2, 1e-9)
    basis = np.stack([np.ones_like(t), t / half], axis=1)
    curve = 1 - (t / half) ** 2
    curve = curve - basis @ np.linalg.lstsq(basis, curve, rcond=None)[0]
    # Never quite held: every line has as many free parameters as the next.
    sigma_px = max(share, 1e-6) * 2 * half
    return np.asarray(sigma_px * curve * (edge.normals_px @ [-along[1], along[0]]))


def _unit_by_vector(vectors: Array) -> Array:
    """How the unit vectors along vectors (N, 3) move with them (N, 3, 3)."""
    length = np.linalg.norm(vectors, axis=1)[:, None, None]
    unit = vectors[:, :, None] / length
    return np.asarray((np.eye(3) - unit * unit.swapaxes(1, 2)) / length)
