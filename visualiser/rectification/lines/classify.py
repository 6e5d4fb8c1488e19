"""Sort room lines: plumb, level along the wall, level away from it, or none of these.

All are decided at once. The reference gives the camera's turn and focal length to some degrees and
per cent; given these each line has a chance of each direction (`priors`), and given the chances the
lines turn the camera. From every line, and every two, taken for anything, the two steps are
repeated until they settle (expectation-maximisation); turns that explain the lines nearly as well
as the best are kept beside it.

References
----------
J. M. Coughlan & A. L. Yuille, "Manhattan World", Neural Computation 15(5), 2003: the mixture.
P. Denis, J. H. Elder & F. J. Estrada, "Efficient edge-based methods for estimating Manhattan
frames", ECCV 2008: expectation-maximisation over edges (both from memory).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import UP, Direction, Hung
from visualiser.rectification.camera.projection import (
    CameraState,
    homogeneous,
    rotation_from_vector,
)
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.hung import LEAN_SIGMA_DEG, by_roll, take
from visualiser.rectification.lines.priors import AXIS_OF, KINDS, LinePriors
from visualiser.rectification.lines.things import NONE

Array = NDArray[np.float64]

LEADING = 16
"""Longest lines, of which one or two at a time propose a turn."""
POSSIBLE_SIGMAS = 3.5
"""A line is not taken for a direction further from it than this, by the reference's own doubt."""
SLACK_DEG = (0.6, 0.4, 0.25, 0.15, 0.1, 0.1, 0.1)
"""What is allowed each line while the turn settles, as the lens is still rough."""
FOLLOWED = 40
"""Proposals that are followed until they settle."""
ALIKE = 1e-4
"""Changes of the camera that differ by less in everything settle alike."""
SAME_TURN_DEG = 0.2
"""Turns closer than this are one."""
MODES, WORSE = 3, 12.0
"""Turns kept, and by how much (minus twice the log likelihood) they may be worse than the best."""
NEAR_END_DEG, THROUGH = 0.5, 1e-3
"""A vanishing point further from both ends of a line than the first lies within it, if the camera
is as fitted; the chance of that direction is multiplied by the second: no line is seen so."""
HELD = 0.5
"""A line with less chance than this of truly having a direction is only straight."""


@dataclass(frozen=True, slots=True, eq=False)
class Sorting:
    """What lines are taken for.

    Parameters
    ----------
    directions
        The likeliest of each, with the spread that its chances leave.
    chance
        (L,) chance that each is a true edge of that direction; of one that is only straight, of
        the likeliest other.
    camera
        The camera turned to agree with them.
    misfits
        (L,) minus twice the logarithm of how likely each is by itself.
    repeated
        The part of it that repeats what edges beside them say: those of a frame stray together.
    surprise
        Minus twice the logarithm of how likely it was when it was proposed, up to a constant.
    """

    directions: tuple[Direction, ...]
    chance: Array
    camera: CameraState
    misfits: Array
    repeated: float = 0.0
    surprise: float = 0.0

    @property
    def misfit(self) -> float:
        """Sum of what each is taken by itself."""
        return float(self.misfits.sum())


def line_normals(lines: Sequence[RoomLine], camera: CameraState) -> tuple[Array, Array]:
    """Find unit normals (N, 3) of the planes through camera and line, and their sigma (N,), rad."""
    if not lines:
        return np.empty((0, 3)), np.empty(0)
    count = np.array([len(line.samples) for line in lines])
    first = np.cumsum(count) - count
    points = np.concatenate([line.samples.points_px for line in lines])
    rays = homogeneous(camera.lens.to_rays(points))
    rays /= np.linalg.norm(rays, axis=1, keepdims=True)
    moment = np.add.reduceat(rays[:, :, None] * rays[:, None, :], first)
    normals = np.linalg.eigh(moment)[1][:, :, 0]
    middle = np.add.reduceat(rays, first) / count[:, None]
    spread = np.add.reduceat(((rays - np.repeat(middle, count, axis=0)) ** 2).sum(axis=1), first)
    sigma_px = np.array([np.median(line.samples.sigma_px) for line in lines])
    return normals, sigma_px / camera.lens.focal_px / np.sqrt(spread)


def propose_sortings(
    lines: Sequence[RoomLine], camera: CameraState, covariance: Array, priors: LinePriors
) -> list[Sorting]:
    """Sort lines in the likeliest ways, the best first.

    Parameters
    ----------
    lines
        Room lines.
    camera
        Camera as the reference alone tells it.
    covariance
        (6, 6) of its rotation about its own axes, the reference's unknown tilt included, of its
        log focal length and of its principal point, in focal lengths.
    priors
        What is expected of the lines.
    """
    normals, seen = line_normals(lines, camera)
    ends, information = _end_rays(lines, camera), np.asarray(np.linalg.inv(covariance))
    search = _Search(camera, information, normals, seen, ends, priors)
    turns, misfits = search.settled(search.proposals(covariance, _leading(lines)))
    found: list[Sorting] = []
    kept: list[Array] = []
    for k in np.argsort(misfits):
        if misfits[k] > misfits.min() + WORSE or len(found) == MODES:
            break
        if any(np.linalg.norm(turns[k, :3] - t[:3]) < np.radians(SAME_TURN_DEG) for t in kept):
            continue
        kept.append(turns[k])
        centre = turns[k, 4:] * camera.lens.focal_px
        lens = replace(
            camera.lens,
            focal_px=camera.lens.focal_px * float(np.exp(turns[k, 3])),
            centre_x_px=camera.lens.centre_x_px + float(centre[0]),
            centre_y_px=camera.lens.centre_y_px + float(centre[1]),
        )
        turned = CameraState(
            rotation_from_vector(turns[k, :3]) @ camera.rotation, camera.translation_mm, lens
        )
        extra = np.radians(SLACK_DEG[-1]) ** 2
        sorting = sort_lines(lines, turned, priors, np.full((len(lines), 3), extra))
        found.append(replace(sorting, surprise=float(misfits[k])))
    return found


def sort_lines(
    lines: Sequence[RoomLine],
    camera: CameraState,
    priors: LinePriors,
    extra_variance: Array,
    askew: Array | None = None,
) -> Sorting:
    """Take each line for what it most likely is, given the camera.

    Parameters
    ----------
    lines, camera, priors
        The lines, the camera and what is expected of them.
    extra_variance
        (L, 3) of each line's angle to each direction, besides what its samples leave, rad^2.
    askew
        (3,) turn about the plumb found for the families that share one; where none is given it is
        as unsure as is expected.
    """
    normals, seen = line_normals(lines, camera)
    axes = AXIS_OF @ camera.rotation.T
    off = normals @ axes.T
    swing = normals @ (np.cross(UP, AXIS_OF) @ camera.rotation.T).T
    variance = seen[:, None] ** 2 + extra_variance
    if askew is None:
        variance = variance + (swing * priors.askew_rad) ** 2
    else:
        off = off + np.where(priors.askew_rad > 0, swing * askew, 0.0)
    possible = unless_through(_end_rays(lines, camera)[None], axes[None])[0]
    taken = take(priors, off[None], variance[None], possible[None])
    directions, chance = [], []
    for i, (t, c) in enumerate(zip(taken.true[0], taken.crooked[0], strict=True)):
        k = int((t + c).argmax())
        precision = t[k] / priors.true_sigma[i, k] ** 2 + c[k] / priors.crooked_sigma[i, k] ** 2
        sigma = float(1 / np.sqrt(max(precision, 1e-12)))
        kind = KINDS[k] if t[k] > HELD else "straight"
        turning = float(priors.askew_rad[i, k]) if kind != "straight" else 0.0
        thing = int(priors.things[i])
        hung = None
        if thing != NONE and kind in ("plumb", "level"):
            lean = float(np.radians(LEAN_SIGMA_DEG))
            hung = Hung(thing, float(taken.roll_sigma[0, thing]), lean)
        directions.append(Direction(kind, sigma, turning, hung))
        chance.append(float(t[k]))
    misfits = taken.misfits[0]
    repeated = float(misfits.sum() - taken.misfit[0])
    return Sorting(tuple(directions), np.array(chance), camera, misfits, repeated)


def _end_rays(lines: Sequence[RoomLine], camera: CameraState) -> Array:
    """Rays (L, 2, 2) of the ends of lines."""
    ends = np.array([line.ends_px for line in lines]).reshape(-1, 2)
    return np.asarray(camera.lens.to_rays(ends).reshape(-1, 2, 2))


def unless_through(ends: Array, axes: Array) -> Array:
    """Rule out directions whose vanishing point lies between the ends of a line.

    There the line would be infinitely far away, and beyond it behind the camera.

    Parameters
    ----------
    ends
        (H, L, 2, 2) rays of the lines' ends.
    axes
        (H, 3, 3) directions, in camera axes.

    Returns
    -------
    (H, L, 3) one where it lies beyond them, or near an end; `THROUGH` elsewhere.
    """
    unit = np.concatenate([ends, np.ones((*ends.shape[:-1], 1))], axis=-1)
    unit /= np.linalg.norm(unit, axis=-1, keepdims=True)
    along = np.einsum("hlei,hki->helk", unit, axes)
    between = (unit[:, :, 0] * unit[:, :, 1]).sum(axis=-1)[..., None]
    # Components along the line, seen from either end, of the vanishing point: of one sign where it
    # lies between them.
    first, last = along[:, 1] - between * along[:, 0], along[:, 0] - between * along[:, 1]
    inside = np.minimum(np.abs(first), np.abs(last)) / np.sqrt(np.maximum(1 - between**2, 1e-12))
    through = (first * last > 0) & (inside > np.radians(NEAR_END_DEG))
    return np.where(through, THROUGH, 1.0)


def direction_slopes(lines: Sequence[RoomLine], camera: CameraState, priors: LinePriors) -> Array:
    """Change (L, 3, 6) of the angles between lines and directions with turn and lens."""
    normals, seen = line_normals(lines, camera)
    search = _Search(camera, np.eye(6), normals, seen, _end_rays(lines, camera), priors)
    return np.asarray(search.misses(np.zeros((1, 6)))[1][0])


def _leading(lines: Sequence[RoomLine]) -> NDArray[np.int_]:
    """Places of the longest lines."""
    lengths = np.array([line.length_px for line in lines])
    return np.argsort(-lengths, kind="stable")[:LEADING]


@dataclass(frozen=True, slots=True, eq=False)
class _Search:
    """Changes (H, 6) of the camera, all at once: turn, log focal length and principal point.

    Parameters
    ----------
    camera
        The camera before it is turned.
    information
        (6, 6) inverse covariance of its change.
    normals, seen
        (L, 3) and (L,) normals of the lines' planes, and their sigma.
    ends
        (L, 2, 2) rays of the lines' ends.
    priors
        What is expected of the lines.
    """

    camera: CameraState
    information: Array
    normals: Array
    seen: Array
    ends: Array
    priors: LinePriors

    def misses(self, turns: Array) -> tuple[Array, Array, Array]:
        """Measure how far lines miss the directions, and how that changes.

        Angles (H, L, 3), their change with the camera (H, L, 3, 6), and with a turn of the room
        about the plumb (H, L, 3).
        """
        turned = rotation_from_vector(turns[:, :3]) @ self.camera.rotation
        axes = np.einsum("hij,kj->hki", turned, AXIS_OF)
        aside = np.einsum("hij,kj->hki", turned, np.cross(UP, AXIS_OF))
        longer = np.exp(turns[:, 3])[:, None]
        normals = np.stack(
            [
                self.normals[:, 0] * longer,
                self.normals[:, 1] * longer,
                self.normals[:, 2] + turns[:, 4:] @ self.normals[:, :2].T,
            ],
            axis=-1,
        )
        normals /= np.linalg.norm(normals, axis=-1, keepdims=True)
        off = np.einsum("hli,hki->hlk", normals, axes)
        by_turn = np.cross(axes[:, None], normals[:, :, None])
        none = np.zeros_like(normals[..., 0])
        by_lens = []
        for change in (
            normals * [1.0, 1.0, 0.0],
            np.stack([none, none, normals[..., 0]], axis=-1) / longer[..., None],
            np.stack([none, none, normals[..., 1]], axis=-1) / longer[..., None],
        ):
            across = change - normals * (change * normals).sum(axis=-1, keepdims=True)
            by_lens.append(np.einsum("hli,hki->hlk", across, axes))
        swing = np.einsum("hli,hki->hlk", normals, aside)
        return off, np.concatenate([by_turn, np.stack(by_lens, axis=-1)], axis=-1), swing

    def possible(self, turns: Array) -> Array:
        """How possible (H, L, 3) each direction is of each line: see `unless_through`."""
        shift = turns[:, None, None, 4:]
        flat = (self.ends[None, ..., :2] - shift) * np.exp(-turns[:, 3])[:, None, None, None]
        turned = rotation_from_vector(turns[:, :3]) @ self.camera.rotation
        return unless_through(flat, np.einsum("hij,kj->hki", turned, AXIS_OF))

    def proposals(self, covariance: Array, leading: NDArray[np.int_]) -> Array:
        """Propose changes (H, 6) that make none, one or two leading lines true to a direction."""
        off, slope, swing = (part[0] for part in self.misses(np.zeros((1, 6))))
        doubt = np.sqrt(np.einsum("lka,ab,lkb->lk", slope, covariance, slope))
        variance = (
            self.priors.true_sigma**2
            + self.seen[:, None] ** 2
            + (swing * self.priors.askew_rad) ** 2
        )
        possible = np.abs(off) < POSSIBLE_SIGMAS * np.hypot(doubt, np.sqrt(variance))
        possible &= self.priors.true_share > 0
        single = [(int(i), k) for i in leading for k in range(len(KINDS)) if possible[i, k]]
        pairs = [(a, b) for a, b in itertools.combinations(single, 2) if a[0] != b[0]]
        groups = [(a, a) for a in single] + pairs
        if not groups:
            return np.zeros((1, 6))
        left = np.zeros((len(groups), 6, 6)) + self.information
        right = np.zeros((len(groups), 6))
        for side in (0, 1):
            i, k = np.array([g[side] for g in groups]).T
            weight = 1 / variance[i, k]
            s = slope[i, k]
            left += weight[:, None, None] * s[:, :, None] * s[:, None, :]
            right += (weight * off[i, k])[:, None] * s
        turns = -np.linalg.solve(left, right[..., None])[..., 0]
        return np.concatenate([np.zeros((1, 6)), turns])

    def settled(self, turns: Array) -> tuple[Array, Array]:
        """Follow the best changes (H, 6) until they settle; and their misfit (H,)."""
        step = 256
        misfits = np.concatenate(
            [
                self._step(turns[i : i + step], SLACK_DEG[0], roughly=True)[1]
                for i in range(0, len(turns), step)
            ]
        )
        turns = turns[np.argsort(misfits, kind="stable")[:FOLLOWED]]
        for slack in SLACK_DEG:
            turns = self._step(turns, slack)[0]
            first = np.unique(np.round(turns / ALIKE), axis=0, return_index=True)[1]
            turns = turns[np.sort(first)]
        return turns, self._step(turns, SLACK_DEG[-1])[1]

    def _step(
        self, turns: Array, slack_deg: float, *, roughly: bool = False
    ) -> tuple[Array, Array]:
        """Do one round of chances and turning; and the misfit before it (Laplace's evidence).

        References
        ----------
        D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4, 1992 (from memory).
        """
        off, slope, swing = self.misses(turns)
        extra = (
            self.seen[:, None] ** 2
            + np.radians(slack_deg) ** 2
            + (swing * self.priors.askew_rad) ** 2
        )
        taken = take(self.priors, off, extra, self.possible(turns), roughly=roughly)
        true = taken.true
        # All of a family share its turn about the plumb: so many are no better than one.
        family = np.maximum((true * (self.priors.askew_rad > 0)).sum(axis=1, keepdims=True), 1.0)
        shared = extra + (family - 1) * (swing * self.priors.askew_rad) ** 2
        weight = true / (self.priors.true_sigma**2 + shared)
        weight += taken.crooked / (self.priors.crooked_sigma**2 + extra)
        weight *= self.priors.own_share[:, None]
        left = self.information + np.einsum("hlk,hlka,hlkb->hab", weight, slope, slope)
        pull = turns @ self.information + np.einsum("hlk,hlka->ha", weight * off, slope)
        # A hung thing's edges share its roll: what that explains tells nothing of the camera.
        rolled = weight * by_roll(off)
        for thing, sigma in enumerate(taken.roll_sigma.T):
            of = self.priors.things == thing
            part, by = rolled[:, of], by_roll(off)[:, of]
            cross = np.einsum("hlk,hlka->ha", part, slope[:, of])
            spare = 1 / (1 / sigma**2 + (part * by).sum(axis=(1, 2)))
            left -= spare[:, None, None] * cross[:, :, None] * cross[:, None, :]
            pull -= (spare * (part * off[:, of]).sum(axis=(1, 2)))[:, None] * cross
        held = np.einsum("ha,ab,hb->h", turns, self.information, turns)
        change = np.linalg.solve(left, pull[..., None])[..., 0]
        spread = np.linalg.slogdet(left)[1] - np.linalg.slogdet(self.information)[1]
        return turns - change, taken.misfit + held + spread
