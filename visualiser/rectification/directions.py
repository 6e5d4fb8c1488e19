"""Which of the room's lines are plumb, which level along the wall, and which only straight.

The reference tells the camera's orientation to a few degrees, so each line can be plumb or level
or neither. Which of them agree on one orientation is decided together: every one, two or three
lines propose a small turn of the camera, and the turn that most length of line supports wins.
Skirting, cornice and door frames stand proud of the wall, but are as level and plumb as it is. A
rug, a crooked picture or a sofa at an angle finds no support.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.marks import LineDirection
from visualiser.rectification.model_terms import ModelTerms
from visualiser.rectification.observed_lines import AXES, Direction
from visualiser.rectification.projection import CameraState, rotation_from_vector
from visualiser.rectification.room_lines import RoomLine

Array = NDArray[np.float64]

CANDIDATE_DEG = 12.0
"""A line further than this from both directions is neither."""
AGREEMENT_DEG = 0.3
"""Lines whose directions agree to this are taken for one family while the lens is still rough."""
LENGTH_GRADES = ((0.35, 0.0), (0.22, 0.2))
"""From which share of the picture's long side an edge is taken for part of the building, and what
is added, in degrees, to how plumb or level it is. Shorter ones may be furniture or pictures."""
BY_EYE_SIGMA_DEG = 1.0
"""How crooked things hang or stand by eye. A picture's edges all share its tilt, so all short
edges together count as one."""
CUT_SIGMAS = 3.0


def built_sigmas_rad(lines: Sequence[RoomLine], long_side_px: int, terms: ModelTerms) -> Array:
    """How plumb or level each line is expected to be (N,), radians."""
    share = _shares(lines, long_side_px)
    (long, _), (medium, extra) = LENGTH_GRADES
    short = share < medium
    added = np.where(share < long, extra, 0.0)
    added[short] = BY_EYE_SIGMA_DEG * np.sqrt(max(int(short.sum()), 1))
    return np.asarray(np.radians(np.hypot(terms.building_sigma_deg, added)))


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
        normals.append(np.linalg.svd(rays, full_matrices=False)[2][2])
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
    usable = [i for i, kind in enumerate(kinds) if kind != "straight"]
    if not usable:
        return [Direction("straight", s) for s in sigma_built], camera
    information = np.linalg.inv(orientation_covariance)
    sigma = np.hypot(np.hypot(sigma_built, sigma_seen), np.radians(AGREEMENT_DEG))
    weight = np.array([line.length_px for line in lines]) / (LENGTH_GRADES[-1][0] * long_side_px)
    weight = np.clip(weight, 0.2, 2.0)

    def misfit(turned: CameraState, members: Sequence[int]) -> tuple[Array, Array]:
        axes = np.array([turned.rotation @ AXES[kinds[i]] for i in members])
        planes = normals[list(members)]
        return (planes * axes).sum(axis=1), np.cross(axes, planes)

    def settled(members: Sequence[int]) -> tuple[float, Array]:
        """Turn that makes some lines agree, and its price over all lines."""
        turn = np.zeros(3)
        for _ in range(2):
            turned = _turned(camera, turn)
            off, slope = misfit(turned, members)
            scale = 1 / sigma[list(members)] ** 2
            left = information + (slope * scale[:, None]).T @ slope
            turn = turn - np.linalg.solve(left, information @ turn + slope.T @ (scale * off))
        off, _ = misfit(_turned(camera, turn), usable)
        price = np.minimum((off / sigma[usable]) ** 2, CUT_SIGMAS**2) * weight[usable]
        return float(price.sum() + turn @ information @ turn), turn

    def shortlist(leading: Sequence[int]) -> list[Sequence[int]]:
        """Pick groups of one to three lines whose turn, to first order, most lines support."""
        off, slope = misfit(camera, leading)
        scale = 1 / sigma[leading] ** 2
        groups = [c for n in (1, 2, 3) for c in itertools.combinations(range(len(leading)), n)]
        chosen = np.zeros((len(groups), len(leading)))
        for row, group in zip(chosen, groups, strict=True):
            row[list(group)] = scale[list(group)]
        left = information + np.einsum("gi,ia,ib->gab", chosen, slope, slope)
        turns = -np.linalg.solve(left, (chosen @ (slope * off[:, None]))[..., None])[..., 0]
        miss = np.minimum((off + turns @ slope.T) ** 2 * scale, CUT_SIGMAS**2) @ weight[leading]
        price = miss + np.einsum("ga,ab,gb->g", turns, information, turns)
        return [[leading[i] for i in groups[g]] for g in np.argsort(price)[:12]]

    leading = sorted(usable, key=lambda i: -lines[i].length_px)[:12]
    turn = min((settled(s) for s in shortlist(leading)), key=lambda p: p[0])[1]
    for _ in range(3):  # let all that agree have their say
        off, _ = misfit(_turned(camera, turn), usable)
        agreeing = [i for i, o in zip(usable, off, strict=True) if abs(o) < CUT_SIGMAS * sigma[i]]
        if not agreeing:
            break
        turn = settled(agreeing)[1]
    turned = _turned(camera, turn)
    off, _ = misfit(turned, usable)
    chosen = {i for i, o in zip(usable, off, strict=True) if abs(o) < CUT_SIGMAS * sigma[i]}
    directions = [
        Direction(kinds[i] if i in chosen else "straight", float(sigma_built[i]))
        for i in range(len(lines))
    ]
    return directions, turned


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
    building = {
        kind for kind, part in zip(kinds, share, strict=True) if part >= LENGTH_GRADES[-1][0]
    }
    return [kind if kind in building else "straight" for kind in kinds]


def _turned(camera: CameraState, turn: Array) -> CameraState:
    return CameraState(
        rotation_from_vector(turn) @ camera.rotation, camera.translation_mm, camera.lens
    )
