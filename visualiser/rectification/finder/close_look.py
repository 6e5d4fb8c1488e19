"""A likely sheet looked at closely: at full resolution, and beside the others that are likely."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.corners import bow_share, meeting_corners
from visualiser.rectification.edges.locate import sample_side
from visualiser.rectification.finder.light_planes import LightPlanes
from visualiser.rectification.finder.model import Judged, judge, shape_votes
from visualiser.rectification.finder.shape import ViewPrior, fit_rectangles
from visualiser.rectification.kinds import Make, ReferenceKind
from visualiser.rectification.quadrilaterals import is_convex
from visualiser.rectification.reference import EdgeSamples

Array = NDArray[np.float64]

EVEN_ODDS, EVEN_ODDS_ANY_COLOUR, EVEN_ODDS_CARD = 1.8, 1.6, 2.1
"""Sum of votes at which it and something else are equally likely. For a thing of any colour fewer
votes can speak; for a card its corners do as well."""
LOW_CONTRAST_SIGMA_PX = 0.07
"""Error of a corner found at full resolution, px, times the contrast of its sides. Noise, texture
and compression move a faint edge in proportion, all along it: more samples don't help."""
BUSY_BACKGROUND_SIGMA_PX, MOST_BUSY_SIGMA_PX = 0.8, 2.0
"""The same, px, for each multiple of its contrast by which what surrounds it varies along its
sides: edges of a pattern meet its own there, and draw it to either side. And at most."""
COLLINEAR_EDGE_SIGMA_PX = 1.5
"""The same, px, of a side that runs on past its corners: it lies along a stripe or a joint of the
wall, and within the width that two edges merge to, 3 px either way, it may be either's."""
UNSEEN_FAINT, UNSEEN_CLEAR = 1.5, 4.0
"""Log-odds lost by a candidate whose sides are not all found again at full resolution: where one of
them hardly stands out, as along a pale stripe; and where all do and yet are not sharp."""
FAINT, CLEAR = 0.1, 0.3
"""Contrasts, as logarithms, of such sides."""
NEAR, FARTHER = 0.015, 0.04
"""How far from a guess its sides are looked for first, and where they are not there, as shares of
the diagonal."""
LOOKS, MOST_MOVED = 3, 0.05
"""How often sides are looked for, again from where they were found, and how far they may move each
time, as a share of the diagonal."""
STRAIGHT, BENT = 0.02, 200.0
"""Bow of a curled sheet's sides at most, as a share of their length (5 mm on A4); and log-odds lost
by each unit beyond: a letter's inside or a round plate bows by 0.05 and more."""
MOST_BENT = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A candidate after the close look.

    Parameters
    ----------
    corners_px
        (4, 2) corners, clockwise from top-left as seen.
    sigma_px
        (4, 2) standard deviations of them in x and y, px.
    sides
        Samples of its sides; no tuple at all where they were not all found again.
    upright
        Whether the first of the size's two sides runs along the top edge.
    ratio
        Width over height, as its shape has it.
    votes
        Log-odds by name.
    even_odds
        Their sum at which it and something else are equally likely.
    """

    corners_px: PointsPx
    sigma_px: Array
    sides: tuple[EdgeSamples, ...]
    upright: bool
    ratio: float
    votes: dict[str, float]
    even_odds: float = EVEN_ODDS

    @property
    def log_odds(self) -> float:
        """How likely it is the sheet: 0 at even odds."""
        return sum(self.votes.values()) - self.even_odds


def look_closely(
    photo: Photo, planes: LightPlanes, kind: ReferenceKind, judged: Judged
) -> Candidate:
    """Refine a candidate at full resolution and judge its shape anew."""
    corners, corner_sigma = judged.corners_px, np.full((4, 2), judged.sigma_px)
    seen = _found_again(photo, corners, NEAR)
    if seen is None and kind.is_white:
        # The coarse look may have taken the ends of pale stripes for a side.
        seen = _found_again(photo, corners, FARTHER)
        seen = replace(seen, moves=max(seen.moves, 1)) if seen else None
    sides: tuple[EdgeSamples, ...] = ()
    votes, upright, ratio = dict(judged.votes), judged.upright, judged.ratio
    along_mm = (kind.size.width_mm, kind.size.height_mm)
    if seen is not None:
        sides, sigma = seen.sides, seen.sigma_px
        sigma = np.maximum(sigma, LOW_CONTRAST_SIGMA_PX / max(judged.contrast, 1e-3))
        sigma = np.maximum(sigma, min(BUSY_BACKGROUND_SIGMA_PX * judged.busy, MOST_BUSY_SIGMA_PX))
        sigma = np.hypot(sigma, _merged(seen.guess_px, judged.run_on))
        # Two readings of one corner, unless the coarse one was wrong: it averages more, and on a
        # faint sheet it is as good.
        share = sigma**2 / (sigma**2 + judged.sigma_px**2) * (seen.moves == 0)
        corners = seen.corners_px + share * (seen.guess_px - seen.corners_px)
        corner_sigma = sigma * np.sqrt(1 - share)
        fits = fit_rectangles(
            corners[None],
            along_mm,
            ViewPrior.of(photo),
            corner_sigma,
            kind.size.shape_sigma,
        )
        anew = judge(planes, planes.to_working(corners)[None], photo, kind)[0]
        judged = replace(anew, votes=anew.votes | {"rare": judged.votes["rare"]})
        shape = {name: float(vote[0]) for name, vote in shape_votes(fits).items()}
        votes = judged.votes | shape
        upright, ratio = bool(fits.upright[0]), float(fits.ratio[0])
        bent = max(bow_share(sides) - STRAIGHT, 0.0)
        votes["straight"] = -min(BENT * bent, MOST_BENT)
    else:
        contrasts, lost = (FAINT, CLEAR), (UNSEEN_FAINT, UNSEEN_CLEAR)
        votes["seen close"] = -float(np.interp(judged.faintest, contrasts, lost))
        votes["telling"] = min(votes["telling"], 0.0)
    return Candidate(
        corners,
        corner_sigma,
        sides,
        upright,
        ratio,
        votes,
        _even_odds(kind.make),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Found:
    """Sides found at full resolution near a guess, and how often the guess was moved to them."""

    guess_px: PointsPx
    corners_px: PointsPx
    sigma_px: Array
    sides: tuple[EdgeSamples, ...]
    moves: int


def _found_again(photo: Photo, corners_px: PointsPx, reach: float) -> _Found | None:
    """Find all four sides near a guess; None where not all are found, or none stays in place."""
    extent = float(np.hypot(*np.ptp(corners_px, axis=0)))
    search = float(np.clip(reach * extent, 3.0, 12.0))
    guess = corners_px
    for moves in range(LOOKS):
        sides = sampled_sides(photo, guess, search_px=search)
        if sides is None:
            return None
        met, sigma = meeting_corners(guess, sides)
        moved = float(np.abs(met - guess).max())
        if not is_convex(met) or moved > MOST_MOVED * extent:
            return None
        if moved < max(4.0, search):
            return _Found(guess, met, sigma, sides, moves)
        # A guess with one side askew, on a brick's edge, finds the right one all the same: from
        # there every side is looked for again.
        guess = met
    return None


def _merged(corners: PointsPx, run_on: Array) -> Array:
    """Error (4, 2) of corners in x and y where sides lie along lines of the wall's own."""
    run = np.roll(corners, -1, axis=0) - corners
    across = np.abs(run[:, ::-1]) / np.hypot(*run.T)[:, None]
    own = COLLINEAR_EDGE_SIGMA_PX * run_on[:, None] * across
    return np.asarray(np.hypot(own, np.roll(own, 1, axis=0)))


def _even_odds(make: Make) -> float:
    match make:
        case "sheet" | "target":
            return EVEN_ODDS
        case "card":
            return EVEN_ODDS_CARD
        case "marker" | "rectangle":
            return EVEN_ODDS_ANY_COLOUR
        case _:
            assert_never(make)


def sampled_sides(
    photo: Photo, corners: PointsPx, search_px: float
) -> tuple[EdgeSamples, ...] | None:
    """Sample the edges between approximate corners; None as soon as one is not there."""
    sides = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        side = sample_side(photo, start, end, search_px=search_px, trim=0.08)
        if not len(side):
            return None
        sides.append(side)
    return tuple(sides)


def same_place(one: PointsPx, other: PointsPx) -> bool:
    """Whether the middles of two outlines nearly coincide."""
    apart = one.mean(axis=0) - other.mean(axis=0)
    return bool(np.hypot(*apart) < 0.3 * np.hypot(*np.ptp(one, axis=0)))
