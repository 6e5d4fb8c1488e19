"""Which of the room's lines are plumb, which level along the wall, and which only straight.

The reference tells the camera's orientation to a few degrees, so each line can be plumb or level
or neither. Which of them agree on one orientation is decided together: every one, two or three
lines propose a small turn of the camera, and the turn that most length of line supports wins.
Skirting, cornice and door frames stand proud of the wall, but are as level and plumb as it is. A
rug, a crooked picture or a sofa at an angle finds no support; and level edges that no wall borders,
however many, count as one thing that may stand askew, held against those that the wall does border.

Which edges are straight, and what that says of the lens (the plumb-line method).

A straight edge that looks bent tells the distortion; a sofa's seam that is bent tells nothing.
All lines vote on one k1, each for the value that straightens it, and those that no common value
straightens are bent themselves.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import AXES, Direction
from visualiser.rectification.camera.projection import CameraState, Lens, rotation_from_vector
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.marks import LineDirection

Array = NDArray[np.float64]

BUILT_SAG_PX = 0.25
"""How far the middle of a good building edge may stray from straight, standard uncertainty."""
BENT_CUT_SIGMAS = 3.5
K1_REACH = 4.0
"""How many of its sigmas k1 is looked for on either side."""
K1_MOST = 0.5
"""Never further than this: such a lens folds the picture over itself."""


def vote_on_distortion(
    lines: Sequence[RoomLine], lens: Lens, k1_sigma: float
) -> tuple[float, NDArray[np.bool_]]:
    """Find the k1 that straightens most length of line.

    Parameters
    ----------
    lines
        Room lines.
    lens
        Lens expected beforehand.
    k1_sigma
        Standard uncertainty of its k1.

    Returns
    -------
    k1, and which lines (N,) it leaves straight.

    References
    ----------
    D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37(8), 1971: the
    plumb-line method.
    """
    if not lines:
        return lens.k1, np.zeros(0, bool)
    knots = lens.k1 + min(K1_REACH * k1_sigma, K1_MOST) * np.linspace(-1, 1, 7)
    sags = np.array([_sags(lines, replace(lens, k1=float(k1))) for k1 in knots])
    weight = np.sqrt([line.length_px for line in lines])
    weight = weight / weight.max()
    fine = np.linspace(knots[0], knots[-1], 641)
    # Sag and sigma change smoothly with k1: cubics through seven values carry them.
    sag, sigma = (
        np.vander(fine - lens.k1, 4) @ np.polyfit(knots - lens.k1, sags[:, i], 3) for i in (0, 1)
    )
    score = sag / np.hypot(sigma, BUILT_SAG_PX)
    price = (np.minimum(score**2, BENT_CUT_SIGMAS**2) * weight).sum(axis=1)
    price += ((fine - lens.k1) / k1_sigma) ** 2
    best = int(price.argmin())
    return float(fine[best]), np.abs(score[best]) < BENT_CUT_SIGMAS


def _sags(lines: Sequence[RoomLine], lens: Lens) -> Array:
    """Rise of each line's middle over its chord after undistortion, px, and its sigma: (2, L)."""
    rays = lens.to_rays(np.concatenate([line.samples.points_px for line in lines]))
    ends = np.cumsum([len(line.samples) for line in lines])[:-1]
    out = []
    for line, points in zip(lines, np.split(rays * lens.focal_px, ends), strict=True):
        centred = points - points.mean(axis=0)
        along = np.linalg.svd(centred, full_matrices=False)[2][0]
        # The axis comes with either sign, and with it the sag: keep to the order of the samples.
        along = along * np.sign(along @ (points[-1] - points[0]) or 1.0)
        t = centred @ along
        t = t / max(float(np.abs(t).max()), 1e-9)
        v = centred @ np.array([-along[1], along[0]])
        weight = 1 / line.samples.sigma_px**2
        basis = np.stack([np.ones_like(t), t, t**2], axis=1)
        normal = basis.T @ (weight[:, None] * basis)
        inverse = np.linalg.inv(normal + 1e-9 * np.trace(normal) * np.eye(3))
        out.append((float((inverse @ (basis.T @ (weight * v)))[2]), float(np.sqrt(inverse[2, 2]))))
    return np.array(out).T


CANDIDATE_DEG = 12.0
"""A line further than this from both directions is neither."""
AGREEMENT_DEG = 0.3
"""Lines whose directions agree to this are taken for one family while the lens is still rough."""
LONG, MEDIUM = 0.35, 0.22
"""From the first share of the picture's long side on, an edge is taken for part of the building;
below the second for a side of furniture or of a picture. Between the two it is the likelier a
picture's, and so the less surely plumb or level, the shorter it is."""
BY_EYE_SIGMA_DEG = 1.0
"""How crooked things hang or stand by eye. A picture's edges all share its tilt, so all short
edges together count as one."""
ASKEW_SIGMA_DEG = 1.5
"""How far from the wall's direction things stand on a floor before it (common practice, no
source). All edges of one thing share its turn, so all such edges together count as one."""
CUT_SIGMAS = 3.0


def built_sigmas_rad(lines: Sequence[RoomLine], long_side_px: int, terms: ModelTerms) -> Array:
    """How plumb or level each line is expected to be (N,), radians."""
    share = _shares(lines, long_side_px)
    short = share < MEDIUM
    grade = np.clip((share - MEDIUM) / (LONG - MEDIUM), 0.0, 1.0)
    sigma = BY_EYE_SIGMA_DEG ** (1 - grade) * terms.building_sigma_deg**grade
    sigma[short] *= np.sqrt(max(int(short.sum()), 1))
    return np.asarray(np.radians(np.maximum(sigma, terms.building_sigma_deg)))


def _shares(lines: Sequence[RoomLine], long_side_px: int) -> Array:
    """Length of each line as a share of the picture's long side; a drawn one counts as all."""
    share = np.array([line.length_px / long_side_px for line in lines])
    share[[line.drawn is not None for line in lines]] = 1.0
    return share


def line_normals(lines: Sequence[RoomLine], camera: CameraState) -> tuple[Array, Array]:
    """Find unit normals (N, 3) of the planes through camera and line, and their sigma (N,), rad."""
    normals, sigmas = [], []
    for line in lines:
        rays = camera.lens.to_rays(line.samples.points_px)
        rays = np.c_[rays, np.ones(len(rays))]
        rays /= np.linalg.norm(rays, axis=1, keepdims=True)
        # Two clicked ends alone leave the normal out of the thin form.
        normals.append(np.linalg.svd(rays, full_matrices=len(rays) < 3)[2][2])
        spread = float(np.sqrt(((rays - rays.mean(axis=0)) ** 2).sum()))
        sigmas.append(float(np.median(line.samples.sigma_px)) / camera.lens.focal_px / spread)
    return np.array(normals).reshape(-1, 3), np.array(sigmas)


def propose_directions(
    lines: Sequence[RoomLine],
    camera: CameraState,
    orientation_covariance: Array,
    long_side_px: int,
    terms: ModelTerms,
) -> tuple[list[Direction], CameraState]:
    """Sort lines into plumb, level and merely straight.

    Parameters
    ----------
    lines
        Room lines.
    camera
        Camera as the reference alone tells it.
    orientation_covariance
        (3, 3) of its rotation about its own axes, the reference's unknown tilt included.
    long_side_px
        Longer side of the photo.
    terms
        What the model leaves out.

    Returns
    -------
    One direction a line, and the camera turned to agree with them.
    """
    sigma_built = built_sigmas_rad(lines, long_side_px, terms)
    normals, sigma_seen = line_normals(lines, camera)
    nearest = [_nearest_kind(line, n, camera) for line, n in zip(lines, normals, strict=True)]
    kinds = _borne_out(nearest, _shares(lines, long_side_px))
    usable = np.array([i for i, kind in enumerate(kinds) if kind != "straight"], int)
    if not len(usable):
        return [Direction("straight", s) for s in sigma_built], camera
    stands_free = np.array([kinds[i] == "level" and not lines[i].beside_wall for i in usable])
    askew = np.radians(ASKEW_SIGMA_DEG) * np.sqrt(int(stands_free.sum()))
    known = np.hypot(sigma_built, sigma_seen)[usable]
    sigma = np.hypot(known, np.radians(AGREEMENT_DEG))
    lengths = np.array([lines[i].length_px for i in usable])
    consensus = _Consensus(
        camera,
        np.asarray(np.linalg.inv(orientation_covariance), float),
        normals[usable],
        np.array([AXES[kinds[i]] for i in usable]),
        np.where(stands_free, np.hypot(sigma, askew), sigma),
        np.clip(lengths / (MEDIUM * long_side_px), 0.2, 2.0),
    )
    leading = np.argsort(-lengths, kind="stable")[:12]
    turn = min((consensus.settled(s) for s in consensus.shortlist(leading)), key=lambda p: p[0])[1]
    for _ in range(3):  # let all that agree have their say
        agreeing = consensus.agreeing(turn)
        if not len(agreeing):
            break
        turn = consensus.settled(agreeing)[1]
    chosen = consensus.agreeing(turn)
    share = np.zeros(len(lines))
    if stands_free.any():
        walled = chosen[~stands_free[chosen]]
        share[usable] = stands_free * consensus.askew_share(walled, known, sigma_seen[usable])
    taken = set(usable[chosen])
    directions = [
        Direction(kinds[i] if i in taken else "straight", float(np.hypot(sigma_built[i], more)))
        for i, more in enumerate(share * askew)
    ]
    return directions, _turned(camera, turn)


@dataclass(frozen=True, slots=True, eq=False)
class _Consensus:
    """Lines with a direction each, and how much turn of the camera makes them agree.

    Parameters
    ----------
    camera
        The camera before it is turned.
    information
        (3, 3) inverse covariance of its rotation.
    normals, axes
        (U, 3) of each line: normal of its plane through the camera, and its direction on the wall.
    sigma, weight
        (U,) how closely a line keeps to its direction (rad), and what its vote weighs.
    """

    camera: CameraState
    information: Array
    normals: Array
    axes: Array
    sigma: Array
    weight: Array

    def misfit(self, turn: Array) -> tuple[Array, Array]:
        """Angle by which each line misses its direction (U,), and its change with the turn."""
        axes = self.axes @ _turned(self.camera, turn).rotation.T
        return (self.normals * axes).sum(axis=1), np.cross(axes, self.normals)

    def agreeing(self, turn: Array) -> NDArray[np.int_]:
        """Places of the lines that a turn leaves true to their direction."""
        return np.flatnonzero(np.abs(self.misfit(turn)[0]) < CUT_SIGMAS * self.sigma)

    def settled(self, members: Sequence[int] | NDArray[np.int_]) -> tuple[float, Array]:
        """Turn that makes some lines agree, and its price over all lines."""
        picked = np.asarray(members, int)
        scale = 1 / self.sigma[picked] ** 2
        turn = np.zeros(3)
        for _ in range(2):
            off, slope = (part[picked] for part in self.misfit(turn))
            left = self.information + (slope * scale[:, None]).T @ slope
            turn = turn - np.linalg.solve(left, self.information @ turn + slope.T @ (scale * off))
        off, _ = self.misfit(turn)
        price = np.minimum((off / self.sigma) ** 2, CUT_SIGMAS**2) * self.weight
        return float(price.sum() + turn @ self.information @ turn), turn

    def shortlist(self, leading: NDArray[np.int_]) -> list[list[int]]:
        """Pick groups of one to three lines whose turn, to first order, most lines support."""
        off, slope = (part[leading] for part in self.misfit(np.zeros(3)))
        scale = 1 / self.sigma[leading] ** 2
        groups = [c for n in (1, 2, 3) for c in itertools.combinations(range(len(leading)), n)]
        chosen = np.zeros((len(groups), len(leading)))
        for row, group in zip(chosen, groups, strict=True):
            row[list(group)] = scale[list(group)]
        left = self.information + np.einsum("gi,ia,ib->gab", chosen, slope, slope)
        turns = -np.linalg.solve(left, (chosen @ (slope * off[:, None]))[..., None])[..., 0]
        miss = np.minimum((off + turns @ slope.T) ** 2 * scale, CUT_SIGMAS**2)
        price = miss @ self.weight[leading] + np.einsum(
            "ga,ab,gb->g", turns, self.information, turns
        )
        return [[int(leading[i]) for i in groups[g]] for g in np.argsort(price)[:12]]

    def askew_share(self, walled: NDArray[np.int_], known_rad: Array, seen_rad: Array) -> Array:
        """How far each line may be askew (U,), as a share of what things before a wall are.

        Those that the wall borders are asked for its direction; the others are held against that.

        Parameters
        ----------
        walled
            Places of the lines that the wall borders.
        known_rad, seen_rad
            (U,) sigma of each line as built and seen, and as seen.
        """
        turn = self.settled(walled)[1]
        off, slope = self.misfit(turn)
        scale = 1 / known_rad[walled] ** 2
        told = self.information + (slope[walled] * scale[:, None]).T @ slope[walled]
        doubt = np.sqrt(np.einsum("ia,ab,ib->i", slope, np.linalg.inv(told), slope))
        sure = np.hypot(doubt, seen_rad)
        agrees = np.abs(off) < 2 * np.hypot(sure, known_rad)
        return np.where(agrees, _chance_askew(sure) / np.radians(ASKEW_SIGMA_DEG), 1.0)


def _chance_askew(sure_rad: Array) -> Array:
    """How far an edge may still be askew that agrees with what the wall's own edges say, rad.

    Half of what stands before a wall is taken to stand along it. What stands askew comes within
    two sigmas of the wall's direction by chance the more easily, the less surely that is known.
    """
    by_chance = 4 * sure_rad / (np.sqrt(2 * np.pi) * np.radians(ASKEW_SIGMA_DEG))
    share = np.minimum(by_chance, 1.0) / (1 + np.minimum(by_chance, 1.0))
    return np.asarray(np.minimum(np.sqrt(share) * sure_rad, np.radians(ASKEW_SIGMA_DEG)))


def _nearest_kind(line: RoomLine, normal: Array, camera: CameraState) -> LineDirection:
    """Kind whose direction a line comes nearest to, a drawn line's own wish respected."""
    if line.drawn is not None:
        return line.drawn.direction
    off = {kind: abs(float(normal @ camera.rotation @ axis)) for kind, axis in AXES.items()}
    best = min(off, key=lambda kind: off[kind])
    return best if off[best] < np.sin(np.radians(CANDIDATE_DEG)) else "straight"


def _borne_out(kinds: Sequence[LineDirection], share: Array) -> list[LineDirection]:
    """Take short lines for plumb or level only where a building's length bears that out.

    Alone, a shadow's edge or a crooked thing would turn the wall by all that the reference leaves
    open, and claim to know it.
    """
    building = {kind for kind, part in zip(kinds, share, strict=True) if part >= MEDIUM}
    return [kind if kind in building else "straight" for kind in kinds]


def _turned(camera: CameraState, turn: Array) -> CameraState:
    return CameraState(
        rotation_from_vector(turn) @ camera.rotation, camera.translation_mm, camera.lens
    )
