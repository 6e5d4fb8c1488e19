"""What lies inside and around a quadrilateral, that tells a sheet from other rectangles.

A sheet on a wall ends at its own corners and has the wall around it. The white mat of a framed
picture has a moulding around it, and then the wall; the panel of a door, a pane or a tile has sides
that run on past its corners.

Frames and canvases cast a shadow on the wall beside them; paper lies flat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.finder.light_planes import LightPlanes
from visualiser.rectification.finder.sides import SideEvidence
from visualiser.rectification.quadrilaterals import outward_normals, side_lengths, side_runs
from visualiser.statistics import robust_sigma

Array = NDArray[np.float64]

RING = (0.06, 0.1, 0.15, 0.21, 0.28)
"""Distances outward at which something else may begin, as fractions of the size."""
THREE_SIDES = np.array([[1, 2, 3], [0, 2, 3], [0, 1, 3], [0, 1, 2]])
"""Of four sides all but one: along that some neighbour may lie."""
RIM = np.array([0.075, 0.1])
"""How far inside its sides a moulding's inner edge is looked for, likewise."""
RUN_ON = (0.18, 0.4)
"""How far past a corner its sides are followed, as fractions of their length."""
PAST = (0.1, 0.3)
"""How far past a corner it is looked whether what adjoins a side runs on, likewise."""
SAME_STEP = 1.4
"""A side that runs on does so with as much contrast, up to about this multiple."""
BESIDE_PX = (-9.0, -6.0, 6.0, 9.0)
"""Where beside that line steps are read for comparison, working px: one or two of these may meet
another edge, as of a moulding, not all."""
MEDIAN_SIGMA = 1.25
"""Standard deviation of the median of normal values, for one of their mean."""
GRID = np.linspace(0.08, 0.92, 15)


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """Traits of Q quadrilaterals, each (Q,) but for one.

    Parameters
    ----------
    framed
        Log-lightness or hue by which a ring around it differs from what lies beyond: on at least
        three of its sides, over a quarter of its own contrast; or in lightness on all four.
    of_a_hue
        Hue by which a ring differs from what lies beyond on all four sides, over a quarter of the
        difference in that hue across its sides: a moulding as light as the wall.
    rimmed
        Log-lightness by which what lies a little further inside one of its sides exceeds what lies
        just inside it, as a mat does a moulding's face. 0 where it is too small to tell.
    bordered
        How much of its own contrast lies not at one of its sides, but at an edge some way beside
        that side: 1 where a strip of its own colour adjoins.
    run_on
        (Q, 4, 2) how surely each side runs on past its corners, 0 to 1 at either end.
    coloured
        Share of its inside that is of another hue than its border.
    dark
        Share of its inside that is much darker than its border.
    outshone
        Log-lightness by which the brightest things around it exceed it.
    """

    framed: Array
    of_a_hue: Array
    rimmed: Array
    bordered: Array
    run_on: Array
    coloured: Array
    dark: Array
    outshone: Array


def surroundings(planes: LightPlanes, quads: Array, evidence: SideEvidence) -> Surroundings:
    """Look inside and around quadrilaterals (Q, 4, 2), working px."""
    border = np.median(evidence.inside, axis=(1, 2))  # (Q, 3)
    coloured, dark = _inside(planes, quads, border)
    beside = _beside(planes, quads)
    framed, of_a_hue = _framed(beside, evidence)
    return Surroundings(
        framed=framed,
        of_a_hue=of_a_hue,
        rimmed=_rimmed(planes, quads),
        bordered=_bordered(beside, _past_corners(planes, quads), evidence),
        run_on=_run_on(planes, quads, evidence),
        coloured=coloured,
        dark=dark,
        outshone=_outshone(planes, quads, border),
    )


def _outward(quads: Array) -> tuple[Array, Array, Array]:
    """Start, run and outward unit normal of all sides, each (Q, 4, 2)."""
    return quads, side_runs(quads), outward_normals(quads)


def _run_past(quads: Array, past: Array) -> Array:
    """Points (Q, 4, 2 ends, T, 2) on each side's line, by shares (T,) of its length past it."""
    start, run, _ = _outward(quads)
    t = np.stack([-past, 1 + past])
    return np.asarray(start[:, :, None, None] + t[..., None] * run[:, :, None, None])


def _just_outside(size: Array) -> Array:
    """How far outside a side its surroundings begin, for quadrilaterals of these sizes."""
    return np.asarray(np.maximum(0.03 * size, 3.5))


def _beside(planes: LightPlanes, quads: Array) -> Array:
    """Median colour along each side, (Q, 4, D, 3), just outside it and then further out."""
    start, run, outward = _outward(quads)
    size = np.linalg.norm(run, axis=-1).mean(axis=1)[:, None]
    distances = np.concatenate([_just_outside(size), np.maximum(RING * size, 6.0)], axis=1)
    t = np.linspace(0.15, 0.85, 13)
    path = start[:, :, None] + t[:, None] * run[:, :, None]  # (Q, 4, T, 2)
    points = (
        path[:, :, None] + (distances[:, None, :, None] * outward[:, :, None])[:, :, :, None]
    )  # (Q, 4, D, T, 2)
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    inside = planes.contains(points)[..., None]
    return np.asarray(np.median(np.where(inside, values, values[:, :, :1]), axis=3))


def _framed(beside: Array, evidence: SideEvidence) -> tuple[Array, Array]:
    change = beside[:, :, 1:] - beside[:, :, :1]  # (Q, 4, D, 3)
    # A moulding is equally wide all round, and of one colour, as the wall is: the change comes at
    # one distance and the same way on every side. Joints beside bricks lie this way and that; and
    # where only three sides tell, these must be of one hue.
    either = np.concatenate([change, -change], axis=-1)  # (Q, 4, D, 6)
    hues = beside[:, :, 0, 1:]
    rings = [either.min(axis=1).max(axis=(1, 2))]
    for three in THREE_SIDES:
        same = either[:, three].min(axis=1).max(axis=(1, 2))
        rings.append(same - np.ptp(hues[:, three], axis=1).max(axis=-1))
    step = np.abs(np.median(evidence.steps, axis=(1, 2)))
    # Light and shadow change the lightness of some sides, and hardly any side's hue.
    changed = either.min(axis=1).max(axis=1)  # (Q, 6)
    by_hue = np.maximum(changed[:, 1:3], changed[:, 4:]) - 0.25 * step[:, 1:]
    # What is lighter all round, or darker, at one distance is a moulding, however much its white
    # mat stands out from it: beside a sheet, a wall hardly changes on all four sides at once.
    all_round = np.maximum(changed[:, 0], changed[:, 3])
    by_contrast = np.max(rings, axis=0) - 0.25 * step.max(axis=-1)
    return (
        np.maximum(np.maximum(by_contrast, all_round), 0),
        np.maximum(by_hue.max(axis=-1), 0),
    )


def _rimmed(planes: LightPlanes, quads: Array) -> Array:
    start, run, outward = _outward(quads)
    size = np.linalg.norm(run, axis=-1).mean(axis=1)[:, None]
    depths = np.concatenate([_just_outside(size), RIM * size], axis=1)
    t = np.linspace(0.15, 0.85, 13)
    path = start[:, :, None] + t[:, None] * run[:, :, None]
    points = path[:, :, None] - (depths[:, None, :, None] * outward[:, :, None])[:, :, :, None]
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    lightness = np.median(values[..., 0], axis=3)  # (Q, 4, D)
    # Print darkens a sheet further inside: only what brightens to white was no paper before.
    change = np.maximum(lightness[:, :, 1:] - lightness[:, :, :1], 0).max(axis=(1, 2))
    return np.where(RIM[0] * size[:, 0] > 1.5 * depths[:, 0], change, 0.0)


def _past_corners(planes: LightPlanes, quads: Array) -> Array:
    """Median colour just outside each side's line, (Q, 4, 2 ends, 3), but past its corners."""
    _, run, outward = _outward(quads)
    size = np.linalg.norm(run, axis=-1).mean(axis=1)[:, None, None, None, None]
    points = (
        _run_past(quads, np.linspace(*PAST, 7)) + _just_outside(size) * outward[:, :, None, None]
    )
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    return np.asarray(np.median(values, axis=3))


def _bordered(beside: Array, past: Array, evidence: SideEvidence) -> Array:
    # The rail of a white moulding left outside on one side: the wall begins only beyond it, and
    # past both its ends, where a stripe of wallpaper or a joint of bricks would run on.
    steps = np.median(evidence.steps, axis=2)  # (Q, 4, 3)
    usual = np.median(steps, axis=1)
    noise = np.linalg.norm(np.median(evidence.noise, axis=1), axis=-1)
    size = np.linalg.norm(usual, axis=-1)
    along = (usual / np.maximum(size, 1e-9)[:, None])[:, None, :, None]  # (Q, 1, 3, 1)
    certain = np.maximum(size, 4 * noise)[:, None]
    missing = size[:, None] - (steps[:, :, None] @ along)[..., 0, 0]
    drop = ((beside[:, :, :1] - beside[:, :, 1:]) @ along)[..., 0].max(axis=-1)
    ends = ((beside[:, :, :1] - past) @ along)[..., 0].min(axis=-1)
    share = np.minimum(np.minimum(missing, drop), ends) / certain
    return np.asarray(np.clip(share.max(axis=1), 0, 1))


def _run_on(planes: LightPlanes, quads: Array, evidence: SideEvidence) -> Array:
    _, _, outward = _outward(quads)
    mean = np.median(evidence.steps, axis=2)
    weight = mean / evidence.noise**2
    own = (weight * mean).sum(axis=-1)
    past = np.linspace(*RUN_ON, 9)
    path = _run_past(quads, past)
    shifts = np.array([0.0, *BESIDE_PX])
    offsets = (shifts[:, None] + [-3.0, -2.0, 2.0, 3.0]).ravel()
    points = path[..., None, :] + offsets[:, None] * outward[:, :, None, None, None]
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    values = values.reshape(*path.shape[:-1], len(shifts), 4, 3)
    step = np.median(values[..., :2, :].mean(axis=-2) - values[..., 2:, :].mean(axis=-2), axis=3)
    share = (weight[:, :, None, None] * step).sum(axis=-1) / np.maximum(own, 1e-9)[..., None, None]
    shown = np.asarray(planes.contains(path).all(axis=3))
    share = np.where(shown[..., None], share, 0.0)
    # An edge lies on the line alone; what is as strong beside it is the pattern of a wallpaper.
    pattern = np.median(np.abs(share[..., 1:]), axis=-1)
    # Along a faint side noise alone makes such a step: only what exceeds its sigma counts.
    sigma = MEDIAN_SIGMA / np.sqrt(np.maximum(own * len(past), 1e-9))[..., None]
    # The same edge goes on with the same step, give or take half: a much stronger one is another.
    same = 1 + 2 * (SAME_STEP - share[..., 0])
    share = np.minimum(share[..., 0] - np.maximum(sigma, pattern), same)
    return np.asarray(np.clip(2 * share - 0.6, 0, 1))


def _inside(planes: LightPlanes, quads: Array, border: Array) -> tuple[Array, Array]:
    u, v = (w.ravel()[:, None] for w in np.meshgrid(GRID, GRID))
    a, b, c, d = (quads[:, None, i] for i in range(4))
    points = (1 - v) * ((1 - u) * a + u * b) + v * ((1 - u) * d + u * c)
    difference = planes.sample(points) - border[:, None]
    coloured = (np.abs(difference[..., 1:]) > 0.12 + 4 * planes.noise[1:]).any(axis=-1)
    dark = difference[..., 0] < -0.7
    return coloured.mean(axis=1), dark.mean(axis=1)


def _outshone(planes: LightPlanes, quads: Array, border: Array) -> Array:
    middle = quads.mean(axis=1, keepdims=True)
    size = np.ptp(quads, axis=1).max(axis=1)[:, None, None]
    u, v = np.meshgrid(np.linspace(-1.5, 1.5, 31), np.linspace(-1.5, 1.5, 31))
    height, width = planes.values.shape[:2]
    points = middle + size * np.stack([u.ravel(), v.ravel()], axis=-1)
    points = np.clip(points, 0, [width - 1, height - 1])
    lightness = planes.sample(points)[..., 0].astype(float)
    # Its own inside may be lit unevenly: only what lies outside can outshine it.
    corners, run, _ = _outward(quads)
    to_point = points[:, None] - corners[:, :, None]
    side = run[:, :, None, 0] * to_point[..., 1] - run[:, :, None, 1] * to_point[..., 0]
    lightness[(side > 0).all(axis=1)] = np.nan
    return np.asarray(np.maximum(np.nanpercentile(lightness, 97, axis=1) - border[:, 0], 0))


NEAR, FAR = (0.036, 0.05, 0.064), (0.16, 0.2, 0.24, 0.3)
"""Where shade is looked for and where it has ended, outward, in mean sides: about an A4 sheet a
centimetre from it and four to seven."""
NEAREST_PX = 3.5
"""The blur of the edge itself reaches so far."""
ALONG, PAST_SHADE = (0.1, 0.9), (0.2, 0.35)
"""From where to where along a side, and how far past its ends, in shares of its length."""
STRIPE = 2.0
"""What runs on by half as much past either end is a stripe: a shadow falls to one side."""


def cast_shade(planes: LightPlanes, quads: Array) -> Array:
    """Log-lightness (Q,) by which the wall is darker all along one side than further out.

    What runs on past both ends of the side is a stripe of the wall's own. Where light varies along
    any side, or a hue changes away from it, the wall has a pattern or something else hangs there: a
    shadow hardly changes the hue. Only what exceeds all that counts.

    Parameters
    ----------
    planes
        The working planes.
    quads
        (Q, 4, 2) corners in working px, clockwise.
    """
    along = _lightening(planes, quads, np.linspace(*ALONG, 25))
    change = np.median(along, axis=2)  # (Q, 4, 3)
    shade, hues = change[..., 0], np.abs(change[..., 1:]).max(axis=-1)
    spread = robust_sigma(along[..., 0] - shade[..., None], axis=2)
    past = np.linspace(*PAST_SHADE, 5)
    ends = [np.median(_lightening(planes, quads, t)[..., 0], axis=2) for t in (-past, 1 + past)]
    stripe = STRIPE * np.maximum(np.minimum(*ends), 0)
    pattern = np.maximum(spread, hues).max(axis=1, keepdims=True)
    return np.asarray(np.maximum(shade - pattern - stripe, 0).max(axis=1))


def _lightening(planes: LightPlanes, quads: Array, t: Array) -> Array:
    """By how much the planes rise away from each side, at shares (T,) of its length: (Q, 4, T, 3).

    None does where that lies past the picture's rim.
    """
    run, outward = side_runs(quads), outward_normals(quads)
    size = side_lengths(quads).mean(axis=1, keepdims=True)
    distance = np.concatenate(
        [np.maximum(size * NEAR, NEAREST_PX + np.arange(len(NEAR))), size * FAR], axis=1
    )
    path = quads[:, :, None] + t[:, None] * run[:, :, None]  # (Q, 4, T, 2)
    points = path[:, :, :, None] + distance[:, None, None, :, None] * outward[:, :, None, None]
    values = planes.sample(points.reshape(len(quads), -1, 2)).reshape(*points.shape[:-1], 3)
    inside = np.asarray(planes.contains(points).all(axis=3))
    near, far = values[..., : len(NEAR), :].mean(axis=3), values[..., len(NEAR) :, :]
    return np.where(inside[..., None], np.median(far, axis=3) - near, 0.0)
