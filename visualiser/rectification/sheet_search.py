"""Where a sheet may lie: outlines are guessed, moved to the edges near them, and judged.

Guesses are thousands, and cheap; a few dozen are moved to edges, by what steps most and by what
makes the shape looked for, and only these are judged by all their properties.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.photo.photo import Photo
from visualiser.rectification.joint_sides import joint_choices
from visualiser.rectification.kinds import is_white_paper
from visualiser.rectification.light_planes import LightPlanes
from visualiser.rectification.likeness import Looks, apart, crowding
from visualiser.rectification.outlines import patch_outlines
from visualiser.rectification.quadrilaterals import clockwise, is_convex, side_lengths
from visualiser.rectification.sheet import SHARP, Judged, fits_of, judge, readings, shape_votes
from visualiser.rectification.side_evidence import side_evidence, snap
from visualiser.sizes import PaperSize

Array = NDArray[np.float64]

MIN_SIDE_PX = 7.0
"""Shortest side that is looked at, working px."""
SMALL = 0.3
"""How much less a guess is worth for each e-fold of the spread of its ratio and squareness: small
ones are far more."""
REPEATS, VARIES, MOST_VARIANTS = 0.08, 0.015, 3
"""Two outlines closer than the first, as a share of their size, are of one thing; further apart
than the second, of different edges of it; and so many others of one thing are worth a look."""
KEEP, CROWD = 64, 400
"""Quadrilaterals judged in full, and among how many of the best guesses these are chosen."""


def judge_sheets(planes: LightPlanes, photo: Photo, size: PaperSize) -> list[Judged]:
    """Find quadrilaterals that may be a sheet of this size and judge them all, best first."""
    any_colour = not is_white_paper(size)
    guesses = _thin_out(patch_outlines(planes, both_signs=any_colour), 2.0)
    guesses = guesses[_in_picture(planes, guesses)]
    if not len(guesses):
        return []
    guesses, crowd = _promising(planes, guesses, photo, size, any_colour=any_colour)
    quads = snap(planes, guesses, 0.08, paper=not any_colour)
    quads = _thin_out(quads, 1.5)
    moved = [
        snap(planes, quads, 0.03, paper=not any_colour),
        snap(planes, quads, 0.05, paper=not any_colour, innermost=True),
    ]
    if not any_colour:
        # What may be of any colour could have a moulding's outer edge above and its inner one
        # beside: among so many edges some make any shape.
        moved.append(_of_its_shape(planes, guesses, photo, size))
    quads = np.concatenate(moved)
    quads = _thin_out(quads, 1.0)
    quads = quads[_in_picture(planes, quads)]
    if not len(quads):
        return []
    judged = _as_rare_as_any(judge(planes, quads, photo, size, crowd))
    judged.sort(key=lambda j: -j.log_odds)
    return judged


def _as_rare_as_any(judged: Sequence[Judged]) -> list[Judged]:
    """Let outlines of one thing be as rare as the least rare: a few px off none is like others."""
    corners = np.array([one.corners_px for one in judged])
    rare = np.array([one.votes["rare"] for one in judged])
    size = np.hypot(*np.ptp(corners, axis=1).T)
    off = np.abs(corners[:, None] - corners).max(axis=(2, 3)) / size[:, None]
    least = np.where(off <= REPEATS, rare, 0.0).min(axis=1)
    return [
        replace(one, votes=one.votes | {"rare": float(vote)})
        for one, vote in zip(judged, least, strict=True)
    ]


def distinct(judged: Sequence[Judged]) -> list[Judged]:
    """Leave out those that all but repeat a better one."""
    kept: list[Judged] = []
    for one in judged:
        if all(_apart(one, other) > REPEATS for other in kept):
            kept.append(one)
    return kept


def variants(judged: Sequence[Judged], one: Judged) -> list[Judged]:
    """Other outlines of the same thing, best first: some of their sides lie at other edges."""
    kept = [one]
    for other in judged:
        if _apart(other, one) <= REPEATS and all(_apart(other, k) > VARIES for k in kept):
            kept.append(other)
    return kept[1 : 1 + MOST_VARIANTS]


def _apart(one: Judged, other: Judged) -> float:
    """How far apart two outlines lie at a corner, as a share of the first's size."""
    size = float(np.hypot(*np.ptp(one.corners_px, axis=0)))
    return float(np.abs(one.corners_px - other.corners_px).max()) / size


def _thin_out(quads: Array, grid_px: float) -> Array:
    """Keep one of those whose corners fall into the same cells, and only sound shapes."""
    quads = clockwise(quads[np.isfinite(quads).all(axis=(1, 2))])
    quads = quads[_sound(quads)]
    cells = np.rint(quads / grid_px).astype(np.int32).reshape(-1, 8)
    _, first = np.unique(cells, axis=0, return_index=True)
    return quads[np.sort(first)]


def _sound(quads: Array) -> NDArray[np.bool_]:
    sides = side_lengths(quads)
    shortest, longest = sides.min(axis=1), sides.max(axis=1)
    return np.asarray((shortest >= MIN_SIDE_PX) & (longest < 4 * shortest) & is_convex(quads))


def _in_picture(planes: LightPlanes, quads: Array) -> NDArray[np.bool_]:
    height, width = planes.values.shape[:2]
    return np.asarray(
        ((quads > -1) & (quads < np.array([width, height]))).all(axis=(1, 2)), dtype=np.bool_
    )


def _promising(
    planes: LightPlanes, quads: Array, photo: Photo, size: PaperSize, *, any_colour: bool
) -> tuple[Array, Looks]:
    """Keep the guesses that a first look at sides and shape favours, and tell of the best many."""
    fits = fits_of(planes, quads, photo, size)
    evidence = side_evidence(planes, quads)
    reading, strength = readings(evidence, any_colour=any_colour)
    support = (reading > 0.3 * strength[..., None]).mean(axis=2).mean(axis=1)
    worth = np.minimum(strength, 6).sum(axis=1) / 4 + 8 * support
    worth -= np.minimum(0.25 * fits.chi2, 5) + 0.1 * np.maximum(fits.tilt_deg - 50, 0)
    worth -= SMALL * np.maximum(fits.log_spread - SHARP, 0)
    best = apart(quads, np.argsort(-worth)[:CROWD])
    crowd = Looks.of(quads, evidence)[best]
    # A wallpaper has hundreds of motifs, and each is worth as much as a sheet that is not snapped.
    worth = worth[best] - crowding(crowd, crowd, any_colour=any_colour)
    return np.asarray(quads[best[np.argsort(-worth)[:KEEP]]]), crowd


def _of_its_shape(planes: LightPlanes, guesses: Array, photo: Photo, size: PaperSize) -> Array:
    """Of the edges near each guess's sides, those that together make the shape looked for."""
    quads, gains = joint_choices(planes, guesses, 0.08, paper=True)
    seen = np.flatnonzero((gains > 0).all(axis=-1))
    quads, gains = quads.reshape(-1, 4, 2)[seen], gains.reshape(-1, 4)[seen]
    sound = _sound(quads)
    quads, gains = quads[sound], gains[sound]
    if not len(quads):
        return quads
    shape = shape_votes(fits_of(planes, quads, photo, size))
    worth = np.minimum(np.sqrt(gains), 6).sum(axis=1) / 4 + np.sum(list(shape.values()), axis=0)
    best = apart(quads, np.argsort(-worth)[:CROWD])
    return quads[best[:KEEP]]
