"""What speaks for and against a candidate, as named features, gathered in two looks.

The network proposes; what it proposed is looked at closely, found again at full resolution, and
judged by its surroundings, and everything that was seen becomes a feature. Nothing is decided
here: `acceptance` weighs the features.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.close_look import look_closely
from visualiser.rectification.finder.light_planes import LightPlanes
from visualiser.rectification.finder.model import Judged, judge
from visualiser.rectification.finder.network import (
    Maps,
    evidence,
    look,
    look_at,
    sightings,
)
from visualiser.rectification.finder.shape import ViewPrior, fit_rectangles
from visualiser.rectification.finder.sides import snap
from visualiser.rectification.kinds import ReferenceKind
from visualiser.rectification.quadrilaterals import is_convex
from visualiser.rectification.reference import EdgeSamples
from visualiser.sizes import PaperSize

Array = NDArray[np.float64]

OVERVIEW_PX = (512, 896)
"""Sides of the squares in which the whole picture is looked at: large sheets show in the first,
sheets of 3 % of the width in the second."""
CLOSE_PX, ZOOM = 512, 2.6
"""The same for the close look, and how many times the candidate's size it takes in."""
MOST_SEEN = 6
"""How many things are looked at closely."""
REACHES = (0.08, 0.03)
"""How far sides are moved to edges near them, as shares of the size, once and again: what the
network sees of a sheet of 100 px is off by 2 to 9 % of its size."""
MOST_OF_ONE = 6
"""How many outlines of one thing are looked at."""
SAME_OVERLAP = 0.6
"""Intersection over union from which two outlines are of one thing."""
DIFFERENT = 0.012
"""Corners apart by more, as a share of the size, are worth a look of their own."""
LEAST_SIGMA_PX, CORNER_SIGMA = 0.5, 0.002
"""Standard deviation of a found corner, px, and as a share of the sheet's diagonal: taped sheets
bow by as much."""
SURROUNDINGS = (
    "telling", "facing", "distance", "flat", "support", "own corners", "even", "whole", "smooth",
)  # fmt: skip
"""Properties of outlines (`model`, `close_look`) that paid on photographs not fitted to."""

LEAST = -8.0
"""No property speaks against a find with more."""


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A candidate and all that was seen of it.

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
    features
        What speaks for and against it, by name.
    """

    corners_px: PointsPx
    sigma_px: Array
    sides: tuple[EdgeSamples, ...]
    upright: bool
    ratio: float
    features: dict[str, float]


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """A thing that the network sees, whatever it may be.

    Parameters
    ----------
    starts
        (4, 2) corners as each look has them, px.
    far
        What the network saw of the whole photo, once for large things and once for small ones.
    close
        The same near it; None where hardly any of it is in view.
    """

    starts: tuple[PointsPx, ...]
    far: tuple[Maps, ...]
    close: Maps | None


def things_in(photo: Photo) -> list[Thing]:
    """Look at the whole photo, and again at each thing seen there, the clearest first."""
    far = tuple(look(photo.pixels, side) for side in OVERVIEW_PX)
    seen = [(one.corners_px, one.worth) for maps in far for one in sightings(maps)]
    seen.sort(key=lambda one: -one[1])
    found = []
    for corners in _apart([corners for corners, _ in seen]):
        close = look_at(photo.pixels, corners[0], ZOOM, CLOSE_PX)
        again = _seen_again(close, corners[0])
        starts = corners if again is None else [again, *corners]
        found.append(Thing(tuple(starts), far, close))
    return found


def looks(
    photo: Photo, planes: LightPlanes, things: Sequence[Thing], kind: ReferenceKind
) -> list[Look]:
    """Gather what speaks for and against each thing's being of a kind, in no order."""
    found = []
    for thing in things:
        for judged in _judged(planes, photo, kind, thing.starts):
            candidate = look_closely(photo, planes, kind, judged)
            features = {name: max(candidate.votes.get(name, 0.0), LEAST) for name in SURROUNDINGS}
            features |= _learned(thing, candidate.corners_px, kind)
            features["misfit"] = shape_fit(photo, candidate.corners_px, kind.size)
            found.append(
                Look(
                    candidate.corners_px,
                    candidate.sigma_px,
                    candidate.sides,
                    candidate.upright,
                    candidate.ratio,
                    features,
                )
            )
    return found


def shape_fit(photo: Photo, corners_px: PointsPx, size: PaperSize) -> float:
    """Score how well corners fit a size: 0, or below by the root of `misfit`."""
    extent = float(np.hypot(*np.ptp(corners_px, axis=0)))
    sigma_px = max(LEAST_SIGMA_PX, CORNER_SIGMA * extent)
    return -float(np.sqrt(min(misfit(photo, corners_px, size, sigma_px), 40)))


def misfit(photo: Photo, corners_px: PointsPx, size: PaperSize, sigma_px: float | Array) -> float:
    """Hold corners against a size: chi-square of ratio and squareness under the lens's prior.

    Parameters
    ----------
    photo, corners_px, size
        The photo, corners (4, 2) in it, and the size.
    sigma_px
        Standard deviation of a corner in x and in y: one for all, or (4, 2).
    """
    sides = (size.width_mm, size.height_mm)
    fits = fit_rectangles(corners_px[None], sides, ViewPrior.of(photo), sigma_px, size.shape_sigma)
    return float(fits.chi2[0])


def _apart(seen: Sequence[PointsPx]) -> list[list[PointsPx]]:
    """Gather what was seen by the things that it is of."""
    things: list[list[PointsPx]] = []
    for corners in seen:
        known = next((t for t in things if overlap(t[0], corners) > SAME_OVERLAP), None)
        if known is None and len(things) < MOST_SEEN:
            things.append([corners])
        elif known is not None and len(known) < 2:
            known.append(corners)
    return things


def _seen_again(close: Maps | None, corners: PointsPx) -> PointsPx | None:
    """Find the same thing in the close look."""
    if close is None:
        return None
    for one in sightings(close):
        if overlap(one.corners_px, corners) > SAME_OVERLAP / 2:
            return one.corners_px
    return None


def _judged(
    planes: LightPlanes,
    photo: Photo,
    kind: ReferenceKind,
    starts: Sequence[PointsPx],
) -> list[Judged]:
    """Judge outlines of one thing, each that differs from those before it."""
    inside = [
        corners
        for corners in starts
        if (corners > -1).all() and (corners < [photo.width_px, photo.height_px]).all()
    ]
    if not inside:
        return []
    quads = planes.to_working(np.array(inside))
    moved = quads
    for reach in REACHES:
        moved = snap(planes, moved, reach, paper=kind.is_white)
    within = (moved > 0) & (moved < np.array(planes.values.shape[1::-1]) - 1)
    quads = np.concatenate([quads, moved[within.all(axis=(1, 2))]])
    quads = quads[is_convex(quads)]
    kept: list[Judged] = []
    for one in judge(planes, quads, photo, kind) if len(quads) else []:
        extent = float(np.hypot(*np.ptp(one.corners_px, axis=0)))
        if all(np.abs(one.corners_px - k.corners_px).max() > DIFFERENT * extent for k in kept):
            kept.append(one)
    return kept[:MOST_OF_ONE]


def _learned(thing: Thing, corners: PointsPx, kind: ReferenceKind) -> dict[str, float]:
    """Measure what the network saw of a candidate, from afar and close."""
    far = [evidence(maps, corners) for maps in thing.far]
    near = evidence(thing.close, corners) if thing.close is not None else None
    card = _log_odds(near.card) if near else 0.0
    return {
        "mask from afar": max(_log_odds(e.inside) for e in far),
        "overlap from afar": max(e.overlap for e in far),
        "card or sheet": card if kind.make == "card" else -card,
        "sides up close": float(near.edges.min()) if near else 0.0,
        "corners up close": float(near.peaks.min()) if near else 0.0,
    }


def overlap(one: PointsPx, other: PointsPx) -> float:
    """Intersection over union of two convex quadrilaterals."""
    a, b = one.astype(np.float32), other.astype(np.float32)
    both = float(cv2.intersectConvexConvex(a, b)[0])
    either = abs(cv2.contourArea(a)) + abs(cv2.contourArea(b)) - both
    return both / max(either, 1e-9)


def _log_odds(share: float) -> float:
    p = float(np.clip(share, 0.002, 0.998))
    return float(np.log(p / (1 - p)))
