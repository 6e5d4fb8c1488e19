"""Where a thing of typed size may lie: outlines are guessed, moved to edges near them, and judged.

It may be of any colour. Each plane is cut at a ladder of levels above and below its surroundings,
and the whole at a few strengths of edge; the thing is a patch of its own in some of these, whatever
the wall.

Guesses are thousands, and cheap; a few dozen are moved to edges, by what steps most and by what
makes the shape looked for, and only these are judged by all their properties.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.light_planes import LightPlanes, Plane
from visualiser.rectification.finder.likeness import Looks, apart, crowding
from visualiser.rectification.finder.model import SHARP, Judged, fits_of, judge, readings
from visualiser.rectification.finder.sides import side_evidence, snap
from visualiser.rectification.kinds import ReferenceKind
from visualiser.rectification.quadrilaterals import clockwise, is_convex, side_lengths
from visualiser.sizes import PaperSize

Array = NDArray[np.float64]

MIN_PATCH_PX = 150
"""Smallest patch worth a look, working px²."""
MAX_PATCHES = 150
"""At one level, the largest count: a wallpaper has thousands, none of them a sheet."""
MIN_FILL = 0.62
"""Least share of its best quadrilateral that a patch's hull covers."""
TOP_LEVEL = (0.8, 0.25, 0.4)
"""Contrast at which each plane's ladder of levels ends."""
LEVELS, LEAST_RISE = 9, 1.2
THIN = np.ones((5, 5), np.uint8)
"""What is narrower than this, working px, may be a line that ties two patches together."""
MAX_RUNS = 24
"""An outline with more corners than this is no quadrilateral with tape on it."""
EDGE_LEVELS = (6.0, 12.0, 24.0)
"""Strengths of edge, in noise, that part one smooth area from the next."""


def patch_outlines(planes: LightPlanes) -> Array:
    """Guess quadrilaterals around patches that stand out.

    Parameters
    ----------
    planes
        The working planes.

    Returns
    -------
    (Q, 4, 2) corners in working px, clockwise as seen.
    """
    seen: set[tuple[int, ...]] = set()
    masks = _masks(planes)
    # OpenCV lets go of the interpreter while it labels: two masks at once, in their order.
    with ThreadPoolExecutor(2) as pool:
        labelled = pool.map(_labelled, masks)
        return outline_quads(
            [c for labels, stats in labelled for c in _patches(labels, stats, seen)]
        )


def _masks(planes: LightPlanes) -> Iterator[NDArray[np.bool_]]:
    """Everything above each level, and everything between edges."""
    lightness, blue, red = np.moveaxis(planes.values, 2, 0)
    near, far = _middling(lightness, 8), _middling(lightness, 3)
    blue_near, red_near = _middling(blue, 8), _middling(red, 8)
    raised = [
        (lightness - near, planes.noise[0], TOP_LEVEL[0]),
        (lightness - far, planes.noise[0], TOP_LEVEL[0]),
        (blue - blue_near, planes.noise[1], TOP_LEVEL[1]),
        (near - lightness, planes.noise[0], TOP_LEVEL[0]),
        (blue_near - blue, planes.noise[1], TOP_LEVEL[1]),
        (red - red_near, planes.noise[2], TOP_LEVEL[2]),
        (red_near - red, planes.noise[2], TOP_LEVEL[2]),
    ]
    parted = [raised[0], raised[3]]
    for plane, noise, top in raised:
        for level in _ladder(plane, max(1.5 * noise, 0.008), top):
            yield plane > level
    # The lines of a wallpaper tie a patch to others: cut what is thin, where noise does not gape.
    for plane, noise, top in parted:
        for level in np.geomspace(4 * noise, top, LEVELS // 2):
            opened = cv2.morphologyEx((plane > level).astype(np.uint8), cv2.MORPH_OPEN, THIN)
            yield opened.astype(bool)
    yield from _unbroken(planes)


def _ladder(plane: Plane, lowest: float, top: float) -> Iterator[float]:
    """Levels up to the usual top, and on while something rises above them, as a card from bricks.

    What is paler than the wall and what differs from it wholly, as joints and a card, are of one
    patch below the one's level, and parted above it.
    """
    top = max(top, lowest)
    yield from np.geomspace(lowest, top, LEVELS)
    some = plane[::4, ::4].ravel()
    level, highest = top, float(np.partition(some, -MIN_PATCH_PX // 16)[-MIN_PATCH_PX // 16])
    # In a picture that is all noise the lowest level is the top: a ladder without steps.
    rise = max((top / lowest) ** (1 / (LEVELS - 1)), LEAST_RISE)
    while (level := level * rise) < highest:
        yield level


def _middling(plane: Plane, parts: int) -> Plane:
    """Surroundings as the median over a window, a given part of the picture wide."""
    height, width = plane.shape
    shrink = 4 * 8 // parts
    small = cv2.resize(plane, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA)
    low, high = float(small.min()), float(small.max())
    codes = np.rint((small - low) / max(high - low, 1e-6) * 255).astype(np.uint8)
    window = max(max(small.shape) // parts // 2 * 2 + 1, 3)
    middle = cv2.medianBlur(codes, window).astype(np.float32) / 255 * (high - low) + low
    middle = cv2.GaussianBlur(middle, (0, 0), window / 6)
    return np.asarray(cv2.resize(middle, (width, height)), np.float32)


def _unbroken(planes: LightPlanes) -> list[NDArray[np.bool_]]:
    """Smooth areas between edges of any kind, at several strengths of edge."""
    smooth = cv2.GaussianBlur(planes.values, (0, 0), 1.0)
    light, blue, red = (
        cv2.magnitude(cv2.Sobel(plane, cv2.CV_32F, 1, 0), cv2.Sobel(plane, cv2.CV_32F, 0, 1))
        * np.float32(1 / noise)
        for plane, noise in zip(cv2.split(smooth), planes.noise, strict=True)
    )
    strength = np.maximum(np.maximum(light, blue), red)
    return [strength < level for level in EDGE_LEVELS]


def _labelled(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Give each pixel the number of its patch, and each patch its box and area."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask.view(np.uint8), connectivity=4)
    return np.asarray(labels, np.int32), np.asarray(stats, np.int32)


def _patches(
    labels: NDArray[np.int32], stats: NDArray[np.int32], seen: set[tuple[int, ...]]
) -> list[NDArray[np.int32]]:
    """Outer contours of compact patches, but for those seen before at another level."""
    area, box = stats[:, 4], stats[:, 2] * stats[:, 3]
    wanted = (area >= MIN_PATCH_PX) & (area < 0.3 * labels.size) & (area > 0.3 * box)
    wanted[0] = False
    found = []
    indices = np.flatnonzero(wanted)
    for index in indices[np.argsort(-area[indices])][:MAX_PATCHES]:
        key = tuple(np.rint(stats[index, :4] / 2).astype(int).tolist())
        if key in seen:
            continue
        seen.add(key)
        x, y, width, height = (int(v) for v in stats[index, :4])
        part = (labels[y : y + height, x : x + width] == index).astype(np.uint8)
        contours, _ = cv2.findContours(
            part, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE, offset=(x, y)
        )
        found.append(max(contours, key=len))
    return found


def outline_quads(contours: Sequence[NDArray[np.int32]]) -> Array:
    """Quadrilaterals (Q, 4, 2) that outlines suggest: their four longest straight runs, and boxes.

    Tape makes an octagon of a sheet; its four longest runs are still the sheet's sides.
    """
    boxes: list[Array] = []
    runs: list[tuple[Array, float]] = []
    for contour in contours:
        hull = cv2.convexHull(contour)
        hull_area = cv2.contourArea(hull)
        (_, sides, _) = turned_box = cv2.minAreaRect(hull)
        if hull_area < max(MIN_PATCH_PX, MIN_FILL * sides[0] * sides[1]):
            continue
        boxes.append(np.asarray(cv2.boxPoints(turned_box), float))
        extent = float(np.hypot(*np.ptp(hull[:, 0], axis=0)))
        simple = cv2.approxPolyDP(contour, max(0.02 * extent, 1.2), closed=True)[:, 0]
        if 4 <= len(simple) <= MAX_RUNS:
            runs.append((_longest_runs(simple.astype(float)), extent))
    return clockwise(np.concatenate([np.array(boxes).reshape(-1, 4, 2), _meeting(runs)]))


def _longest_runs(corners: Array) -> Array:
    """Both ends of the four longest sides of a polygon (N, 2), in turn: (4, 2 ends, 2)."""
    ends = np.concatenate([corners[1:], corners[:1]])
    longest = np.sort(np.argsort(-np.square(ends - corners).sum(axis=1), kind="stable")[:4])
    return np.stack([corners[longest], ends[longest]], axis=1)


def _meeting(runs: Sequence[tuple[Array, float]]) -> Array:
    """Quadrilaterals (Q, 4, 2) whose sides are the given runs, those of them that are sound."""
    if not runs:
        return np.empty((0, 4, 2))
    sides = np.array([run for run, _ in runs])  # (Q, 4, 2 ends, 2)
    extent = np.array([extent for _, extent in runs])
    start, along = sides[:, :, 0], sides[:, :, 1] - sides[:, :, 0]
    before, from_before = (np.roll(v, 1, axis=1) for v in (start, along))
    turn = from_before[..., 0] * along[..., 1] - from_before[..., 1] * along[..., 0]
    apart = start - before
    past = apart[..., 0] * along[..., 1] - apart[..., 1] * along[..., 0]
    sound = np.abs(turn) > 1e-6
    share = past / np.where(sound, turn, 1.0)
    quads = clockwise(before + share[..., None] * from_before)
    size = np.ptp(quads, axis=1)
    sound = sound.all(axis=1) & (np.hypot(size[:, 0], size[:, 1]) <= 1.6 * extent)
    return np.asarray(quads[sound & is_convex(quads)])


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


def judge_outlines(planes: LightPlanes, photo: Photo, kind: ReferenceKind) -> list[Judged]:
    """Find quadrilaterals that may be a thing of this size and judge them all, best first."""
    guesses = _thin_out(patch_outlines(planes), 2.0)
    guesses = guesses[_in_picture(planes, guesses)]
    if not len(guesses):
        return []
    guesses, crowd = _promising(planes, guesses, photo, kind.size)
    quads = _thin_out(snap(planes, guesses, 0.08, paper=False), 1.5)
    moved = [
        snap(planes, quads, 0.03, paper=False),
        snap(planes, quads, 0.05, paper=False, innermost=True),
    ]
    quads = _thin_out(np.concatenate(moved), 1.0)
    quads = quads[_in_picture(planes, quads)]
    if not len(quads):
        return []
    judged = _as_rare_as_any(judge(planes, quads, photo, kind, crowd))
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
    planes: LightPlanes, quads: Array, photo: Photo, size: PaperSize
) -> tuple[Array, Looks]:
    """Keep the guesses that a first look at sides and shape favours, and tell of the best many."""
    fits = fits_of(planes, quads, photo, size)
    evidence = side_evidence(planes, quads)
    reading, strength = readings(evidence, any_colour=True)
    support = (reading > 0.3 * strength[..., None]).mean(axis=2).mean(axis=1)
    worth = np.minimum(strength, 6).sum(axis=1) / 4 + 8 * support
    worth -= np.minimum(0.25 * fits.chi2, 5) + 0.1 * np.maximum(fits.tilt_deg - 50, 0)
    worth -= SMALL * np.maximum(fits.log_spread - SHARP, 0)
    best = apart(quads, np.argsort(-worth)[:CROWD])
    crowd = Looks.of(quads, evidence)[best]
    # A wallpaper has hundreds of motifs, and each is worth as much as a sheet that is not snapped.
    worth = worth[best] - crowding(crowd, crowd, any_colour=True)
    return np.asarray(quads[best[np.argsort(-worth)[:KEEP]]]), crowd
