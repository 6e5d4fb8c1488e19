"""What the picture says of a quadrilateral's four sides: where they lie and how well they show.

Light just inside a side is compared with light just outside, all along it, so that a step far below
the noise of one pixel still counts when it runs the whole length.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.finder.light_planes import LightPlanes
from visualiser.rectification.quadrilaterals import outward_normals, side_runs, signed_area
from visualiser.statistics import robust_sigma

Array = NDArray[np.float64]

ALONG = 28
"""Places along a side where the step across it is read."""
CLEAR_SHARE = 0.2
"""Share of the clearest step's weight from which another counts as clear."""
EDGE_WIDTH_PX = 2
"""Within as many working px the steps of one edge lie."""
MANY = 200
"""Quadrilaterals from which two halves are read at once."""
TRIM = 0.1
"""Fraction of a side left out at each end: tape and curl live there."""


@dataclass(frozen=True, slots=True, eq=False)
class SideEvidence:
    """Steps (inside minus outside) along the sides of Q quadrilaterals.

    Parameters
    ----------
    steps
        (Q, 4, N, 3) step of each plane at each place along each side.
    noise
        (Q, 4, 3) standard deviation of one such reading where there is no edge.
    inside
        (Q, 4, N, 3) planes just inside.
    """

    steps: Array
    noise: Array
    inside: Array


def snap(
    planes: LightPlanes, quads: Array, reach: float, *, paper: bool, innermost: bool = False
) -> Array:
    """Move every side to where the picture steps most coherently near it.

    Parameters
    ----------
    planes
        The working planes.
    quads
        (Q, 4, 2) corners, clockwise.
    reach
        How far a side may move, as a fraction of the quadrilateral's size (at least 3 px).
    paper
        Whether only steps to the lighter or bluer inside count.
    innermost
        Whether a clear step further in is taken before a clearer one further out: the joint of
        bricks that a side lies on may step more from the bricks than the side from the joint.

    Returns
    -------
    (Q, 4, 2) corners where the moved sides meet.
    """
    if not len(quads):
        return quads
    moved = np.empty_like(quads)
    for part, window in alike(quads, reach):
        moved[part] = _snap_alike(planes, quads[part], window, paper=paper, innermost=innermost)
    return moved


def alike(quads: Array, reach: float) -> Iterator[tuple[NDArray[np.intp], int]]:
    """Part quadrilaterals by how many px their sides may move: those of like size share that."""
    size = np.sqrt(np.abs(signed_area(quads)))
    windows = np.clip(np.ceil(reach * size), 3, 14).astype(int)
    for window in np.unique(windows):
        index = np.flatnonzero(windows == window)
        for part in np.array_split(index, max(1, len(index) // 64)):
            yield part, int(window)


@dataclass(frozen=True, slots=True, eq=False)
class SideGains:
    """How strongly the picture steps along lines beside the sides of Q quadrilaterals.

    Parameters
    ----------
    first, last
        (P,) how far outward each line lies at the two trimmed ends, px.
    gain
        (Q, 4, P) squared step along it, in its own noise.
    """

    first: Array
    last: Array
    gain: Array


def side_gains(planes: LightPlanes, quads: Array, window: int, *, paper: bool) -> SideGains:
    """Read the steps along all lines that lie up to so many px beside a side, at either end."""
    offsets = np.arange(-window - 2, window + 3, dtype=float)
    strip = _cut(planes, quads, offsets)  # (Q, 4, N, U, 3)
    inner = strip[..., :-3, :] + strip[..., 1:-2, :]
    outer = strip[..., 2:-1, :] + strip[..., 3:, :]
    steps = 0.5 * (inner - outer)  # between offsets k + 1 and k + 2: centred at -window + 0.5 + k
    noise = np.maximum(robust_sigma(steps, axis=(2, 3)), planes.noise * 0.7)
    z = steps / noise[:, :, None, None, :]
    # No place counts for more than is usual along its side, so that a strip of tape cannot outvote.
    usual = np.maximum(np.median(np.abs(z).max(axis=3, keepdims=True), axis=2, keepdims=True), 4)
    z = np.clip(z, -usual, usual)
    count = steps.shape[3]
    first, last = (v.ravel() for v in np.meshgrid(range(count), range(count), indexing="ij"))
    t = np.linspace(0, 1, ALONG)
    rows = np.rint(first[:, None] * (1 - t) + last[:, None] * t).astype(int)  # (P, N)
    means = np.zeros((*z.shape[:2], len(first), 3))
    for n in range(ALONG):
        means += z[:, :, n, rows[:, n], :]
    means /= ALONG
    if paper:
        gain = np.maximum(means[..., 0], 0) ** 2 + np.maximum(means[..., 1], 0) ** 2
    else:
        gain = (means**2).sum(axis=-1)
    centre = offsets[1] + 0.5
    return SideGains(centre + first, centre + last, gain)


def _snap_alike(
    planes: LightPlanes, quads: Array, window: int, *, paper: bool, innermost: bool
) -> Array:
    lines = side_gains(planes, quads, window, paper=paper)
    # Between equal steps, the nearer one.
    place = lines.first + lines.last
    away = np.abs(place) / (2 * np.sqrt(len(place)))
    gain = lines.gain * (1 - 0.3 * away)
    if innermost:
        clear = gain >= CLEAR_SHARE * gain.max(axis=-1, keepdims=True)
        inner = np.where(clear, place, np.inf).min(axis=-1, keepdims=True)
        gain = np.where(place <= inner + 2 * EDGE_WIDTH_PX, gain, -1.0)
    best = gain.argmax(axis=-1)  # (Q, 4)
    return move_sides(quads, lines.first[best], lines.last[best])


def move_sides(quads: Array, at_start: Array, at_end: Array) -> Array:
    """Shift sides outward by (Q, 4) at the trimmed ends and intersect neighbours."""
    start, end = quads, np.roll(quads, -1, axis=1)
    run, outward = side_runs(quads), outward_normals(quads)
    p = start + TRIM * run + at_start[..., None] * outward
    q = end - TRIM * run + at_end[..., None] * outward
    lines = np.cross(_homogeneous(p), _homogeneous(q))
    meets = np.cross(np.roll(lines, 1, axis=1), lines)
    w = meets[..., 2:]
    ok = np.abs(w) > 1e-9
    corners = np.where(ok, meets[..., :2] / np.where(ok, w, 1), quads)
    # Near-parallel neighbours meet far away: such a quadrilateral is dropped later by its shape.
    return np.asarray(np.clip(corners, -1e4, 1e4))


def side_evidence(planes: LightPlanes, quads: Array) -> SideEvidence:
    """Read the steps across the sides of (Q, 4, 2) quadrilaterals."""
    if len(quads) < MANY:
        return _evidence(planes, quads)
    # What fills the time, sorting and looking up, lets go of the interpreter: two halves at once.
    with ThreadPoolExecutor(2) as both:
        halves = list(both.map(lambda part: _evidence(planes, part), np.array_split(quads, 2)))
    return SideEvidence(
        *(np.concatenate([getattr(h, f.name) for h in halves]) for f in fields(SideEvidence))
    )


def _evidence(planes: LightPlanes, quads: Array) -> SideEvidence:
    offsets = np.array([-7.0, -6, -5, -4, -3, -2, -1.3, 1.3, 2.0, 3, 4, 5, 6, 7])
    strip = _cut(planes, quads, offsets)
    inside = strip[..., 4:7, :].mean(axis=3)
    outside = strip[..., 7:10, :].mean(axis=3)
    beyond = strip[..., 10:13, :].mean(axis=3)
    within = strip[..., 1:4, :].mean(axis=3)
    quiet = np.concatenate([outside - beyond, within - inside], axis=2)
    noise = np.maximum(robust_sigma(quiet, axis=2), 0.4 * planes.noise)
    return SideEvidence(
        np.asarray(inside - outside, float), np.asarray(noise, float), np.asarray(inside, float)
    )


def _cut(planes: LightPlanes, quads: Array, offsets: Array) -> NDArray[np.float32]:
    """Sample strips along all sides, (Q, 4, N, U, 3); offsets count outward."""
    start, run = quads[:, :, None, :], side_runs(quads)[:, :, None, :]
    outward = outward_normals(quads)[:, :, None, :]
    t = np.linspace(TRIM, 1 - TRIM, ALONG)[:, None]
    path = start + t * run
    points = path[:, :, :, None, :] + offsets[:, None] * outward[:, :, :, None, :]
    count = len(quads) * 4
    strips = planes.sample(points.reshape(count, ALONG * len(offsets), 2))
    return strips.reshape(len(quads), 4, ALONG, len(offsets), 3)


def _homogeneous(points: Array) -> Array:
    return np.concatenate([points, np.ones((*points.shape[:-1], 1))], axis=-1)
