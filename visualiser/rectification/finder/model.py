"""A sheet of paper or a card among quadrilaterals: every property of it votes.

Votes are in log-odds: how much more often a sheet looks so than something else in a room. The sum
decides, so that no single trait, a strong edge or a right ratio, carries a wrong object through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.light_planes import LightPlanes
from visualiser.rectification.finder.likeness import Looks, crowding
from visualiser.rectification.finder.shape import RectangleFits, ViewPrior, fit_rectangles
from visualiser.rectification.finder.sides import SideEvidence, side_evidence
from visualiser.rectification.finder.surroundings import Surroundings, cast_shade, surroundings
from visualiser.rectification.kinds import ReferenceKind
from visualiser.rectification.quadrilaterals import side_lengths
from visualiser.sizes import PaperSize

Array = NDArray[np.float64]

CORNER_SIGMA_PX = 0.8
"""Standard deviation of a snapped corner, working px."""
SHARP = -4.0
"""Logarithm of the spread of ratio and squareness at which a right shape says what the even odds
count on. A thing small or far off in the picture agrees with many rectangles; that it agrees with
the sheet as well says the less."""
SHARPER = 0.5
"""What each e-fold below says in favour: other rectangles are as square, only their ratio differs.
That is one of the two numbers, so half."""
MOST_TELLING = 1.5
"""Log-odds that a sharp shape says at most: other sizes of paper and canvas are alike in ratio."""
BORDERED = 4.0
"""Log-odds lost where a strip of its own colour adjoins a side: of a frame with one side read at
the moulding's inner edge; hardly ever of a sheet."""
ONE_WALL, MANY_THINGS = 0.8, 4.0
"""Difference, as a logarithm, in the median lightness just outside the sides that a wall with its
shadows, stripes and joints hardly ever shows; and log-odds lost at twice as much."""
LEVEL_DEG, STEEP = 15.0, 0.08
"""A camera is held level to about as many degrees, when a wall is photographed; and log-odds lost
by each degree beyond."""
PLAIN = 3.0
"""A step of so many sigmas is an edge, however much stronger the side is elsewhere: stripes of a
wallpaper end at a sheet, the dark ones and the pale ones."""
RIMMED = 4.0
"""Log-odds lost where it is brighter all along a little inside a side: that is a moulding's."""
TAPE_AND_STRIPE, BROKEN_OFF = 0.18, 20.0
"""Longest part of a side, in one piece, that shows no step: tape crosses it, or a stripe as pale as
paper ends there (84 sheets in rendered rooms: 0.14 at most). And log-odds lost by all of a side
beyond: there something of its own colour goes on, as in a part of a larger sheet."""
SHADED, SHADE = 3.0, (0.02, 0.06)
"""Log-odds lost by what casts a shadow on the wall beside it, and log-lightness of the shade at
which it begins to and surely does: half of what is framed or on a stretcher casts one under the
lamps and windows of rooms, one sheet in forty hangs beside something dark (common practice, no
source)."""
PICTURED = 1.3
"""Log-odds lost by what has colour or black inside: nine prints in ten have some, and one in four
sheets that are put up to measure by (common practice, no source)."""
PLAIN_PAPER = (0.015, 0.04)
"""Share of its inside up to which such may be tape or a stain; from which it is a picture."""


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """A quadrilateral and its votes.

    Parameters
    ----------
    corners_px
        (4, 2) corners in photo px, clockwise from top-left.
    sigma_px
        Standard deviation of each.
    upright
        Whether the first of the size's two sides runs along the top edge.
    ratio
        Width over height, as its shape has it.
    colour
        (3,) planes just inside its sides.
    step
        (3,) by how much they exceed those just outside.
    coloured
        Share of its inside that is of another hue than its border.
    busy
        How much what surrounds it varies along its sides, over its own contrast.
    run_on
        (4,) how surely each of its sides runs on past a corner, 0 to 1.
    faintest
        Contrast of the side that stands out least, as `contrast`.
    votes
        Log-odds by name.
    """

    corners_px: PointsPx
    sigma_px: float
    upright: bool
    ratio: float
    colour: Array
    step: Array
    coloured: float
    busy: float
    run_on: Array
    faintest: float
    votes: dict[str, float]

    @property
    def contrast(self) -> float:
        """Step across its sides in the clearest plane, logarithmic."""
        return float(np.abs(self.step).max())

    @property
    def log_odds(self) -> float:
        """Sum of the votes."""
        return sum(self.votes.values())


def judge(
    planes: LightPlanes,
    quads: Array,
    photo: Photo,
    kind: ReferenceKind,
    crowd: Looks | None = None,
) -> list[Judged]:
    """Judge quadrilaterals (Q, 4, 2), working px, by all their properties, in their order.

    Those that look as others of a crowd do are the less likely.
    """
    any_colour = not kind.is_white
    fits = fits_of(planes, quads, photo, kind.size)
    evidence = side_evidence(planes, quads)
    around = surroundings(planes, quads, evidence)
    votes = _votes(planes, quads, fits, evidence, around, any_colour=any_colour)
    looks = Looks.of(quads, evidence)
    among = looks.joined(crowd) if crowd else looks
    votes["rare"] = -crowding(looks, among, any_colour=any_colour)
    colour, step = (np.median(v, axis=(1, 2)) for v in (evidence.inside, evidence.steps))
    busy = _busyness(evidence)
    return [
        Judged(
            planes.to_photo(quad),
            CORNER_SIGMA_PX / planes.scale,
            bool(fits.upright[index]),
            float(fits.ratio[index]),
            colour[index],
            step[index],
            float(around.coloured[index]),
            float(busy[index]),
            around.run_on[index].max(axis=1),
            float(np.abs(np.median(evidence.steps[index], axis=1)).max(axis=1).min()),
            {name: float(vote[index]) for name, vote in votes.items()},
        )
        for index, quad in enumerate(quads)
    ]


def fits_of(planes: LightPlanes, quads: Array, photo: Photo, size: PaperSize) -> RectangleFits:
    """Hold quadrilaterals (Q, 4, 2), working px, against a sheet's shape."""
    corners = planes.to_photo(quads)
    return fit_rectangles(
        corners,
        (size.width_mm, size.height_mm),
        ViewPrior.of(photo),
        CORNER_SIGMA_PX / planes.scale,
        size.shape_sigma,
    )


def readings(evidence: SideEvidence, *, any_colour: bool) -> tuple[Array, Array]:
    """Read steps along each side (Q, 4, N) in units of their noise, and their median (Q, 4)."""
    mean = np.median(evidence.steps, axis=2)
    weight = mean / evidence.noise**2
    if not any_colour:
        weight[..., :2] = np.maximum(weight[..., :2], 0)
        weight[..., 2] = 0
    scale = np.maximum(np.sqrt(((weight * evidence.noise) ** 2).sum(axis=-1)), 1e-9)
    reading = (evidence.steps * weight[:, :, None]).sum(axis=-1) / scale[..., None]
    return reading, np.median(reading, axis=2)


def _busyness(evidence: SideEvidence) -> Array:
    """How much what lies outside varies along the sides, beyond noise, over the step there (Q,)."""
    outside = evidence.inside - evidence.steps
    varies = np.sqrt(np.maximum(outside.var(axis=2) - evidence.noise**2, 0))
    varies = varies.max(axis=1)
    step = np.abs(np.median(evidence.steps, axis=(1, 2)))
    clearest = step.argmax(axis=1)[:, None]
    return np.asarray(
        np.take_along_axis(varies, clearest, 1) / np.take_along_axis(step, clearest, 1).clip(1e-3)
    )[:, 0]


def shape_votes(fits: RectangleFits) -> dict[str, Array]:
    """Vote on the shape alone: the rectangle, not too far off and not too oblique."""
    return {
        "rectangle": -np.minimum(0.5 * fits.chi2, 15),
        "telling": np.where(
            fits.log_spread > SHARP,
            SHARP - fits.log_spread,
            np.minimum(SHARPER * (SHARP - fits.log_spread), MOST_TELLING),
        ),
        "distance": -np.maximum(fits.distance_mm / 1000 - 5, 0),
        "facing": -0.1 * np.maximum(np.maximum(fits.tilt_deg, fits.slant_deg) - 45, 0)
        - STEEP * np.maximum(fits.lean_deg - LEVEL_DEG, 0),
    }


def _longest_run(flags: NDArray[np.bool_]) -> NDArray[np.int_]:
    """Length of the longest run of true ones along the last axis."""
    run = np.zeros(flags.shape[:-1], int)
    longest = run.copy()
    for flag in np.moveaxis(flags, -1, 0):
        run = np.where(flag, run + 1, 0)
        longest = np.maximum(longest, run)
    return longest


def _votes(
    planes: LightPlanes,
    quads: Array,
    fits: RectangleFits,
    evidence: SideEvidence,
    around: Surroundings,
    *,
    any_colour: bool,
) -> dict[str, Array]:
    mean = np.median(evidence.steps, axis=2)  # (Q, 4, 3)
    reading, strength = readings(evidence, any_colour=any_colour)
    enough = np.minimum(0.35 * strength, PLAIN)
    steps_there = reading > enough[..., None]
    support = steps_there.mean(axis=2) * (strength > 0)
    sides = side_lengths(quads)
    significance = reading.mean(axis=2) * np.sqrt(np.minimum(sides / 1.5, reading.shape[2]))
    votes = {
        "edges": np.clip(0.35 * (significance.min(axis=1) - 4), -6, 3),
        "support": -10 * np.maximum(0.85 - support, 0).sum(axis=1),
        **shape_votes(fits),
    }
    lightness = mean[..., 0]
    inside = np.median(evidence.inside, axis=2)  # (Q, 4, 3)
    beside = inside - mean
    spread = inside.max(axis=1) - inside.min(axis=1)
    votes["even"] = (-1 if any_colour else -12) * np.maximum(spread[:, 1:].sum(axis=1) - 0.06, 0)
    height, width = planes.values.shape[:2]
    rim = np.minimum(quads, np.array([width, height]) - 1 - quads).min(axis=(1, 2))
    votes["whole"] = -np.clip(2 * (3 - rim), 0, 6)
    grain = np.median(np.abs(np.diff(evidence.inside[..., 0], axis=2)), axis=(1, 2))
    votes["smooth"] = (0 if any_colour else -1) * np.clip(
        25 * (grain - 4 * planes.noise[0] - 0.02), 0, 6
    )
    ring = np.maximum(around.framed - 0.08, around.of_a_hue - 0.03)
    votes["free"] = -20 * np.clip(ring, 0, 0.3)
    votes["one edge"] = -BORDERED * np.clip((around.bordered - 0.15) / 0.2, 0, 1)
    votes["own corners"] = -1.2 * around.run_on.sum(axis=(1, 2))
    if any_colour:
        # It hangs on one wall, while a part of a device or a drawing borders on several things.
        differs = np.ptp(beside, axis=1)[:, 1:].max(axis=1)
        contrast = np.linalg.norm(np.median(mean, axis=1), axis=1)
        votes["alone"] = -20 * np.clip(differs - 0.1 * contrast - 0.02, 0, 0.125)
    else:
        # All along a side a wall hardly changes: a sheet has it on every side, a field of a board
        # or a page of a book something else on each.
        change = np.ptp(beside[..., 0], axis=1) - ONE_WALL
        votes["one wall"] = -MANY_THINGS * np.clip(change / ONE_WALL, 0, 1)
        votes["plain"] = (
            -PICTURED * np.interp(np.maximum(around.coloured, around.dark), PLAIN_PAPER, (0, 1))
            - 10 * np.maximum(around.coloured - 0.06, 0)
            - 5 * np.maximum(around.dark - 0.3, 0)
        )
        gap = _longest_run(~steps_there).max(axis=1) / steps_there.shape[2]
        votes["unbroken"] = -BROKEN_OFF * np.maximum(gap - TAPE_AND_STRIPE, 0)
        votes["flat"] = -SHADED * np.interp(cast_shade(planes, quads), SHADE, (0, 1))
        votes["rimmed"] = -RIMMED * np.clip((around.rimmed - 0.3) / 0.3, 0, 1)
        votes["brightest"] = -5 * np.clip(around.outshone - 0.05, 0, 0.6)
        votes["lighter"] = np.clip(25 * np.minimum(lightness.min(axis=1), 0), -6, 0) + np.clip(
            6 * np.median(lightness, axis=1), -2, 2
        )
        hue = np.median(inside, axis=1)
        votes["white"] = -8 * np.maximum(np.abs(hue[:, 2]) - 0.15, 0) - 6 * np.maximum(
            np.maximum(-hue[:, 1] - 0.35, hue[:, 1] - 0.35), 0
        )
        # Paper is bluer than paint, where the wall is white too; on other walls hue says nothing.
        bluer = np.median(mean[..., 1], axis=1)
        outside = np.median(beside, axis=1)
        white_wall = (np.abs(outside[:, 1:]).max(axis=1) < 0.3) & (
            np.median(lightness, axis=1) < 0.4
        )
        votes["bluer"] = np.where(white_wall, np.clip(25 * bluer, -2, 2), 0.5)
    return votes
