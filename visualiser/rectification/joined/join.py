"""From several overlapping photographs to one measured wall.

The photo whose reference measures best comes first. Every other one is placed by what it shares
with those placed before, and all are adjusted together: one lens, every pose, references, room
lines and the points that tie the photos, with the covariance of everything. What drifts along a
chain of photos is in each point's ±.

Limits: one phone, one zoom, all photos the same way up; points on the wall itself, or on a floor of
known height, are what carries the scale from photo to photo (things that stand before it carry only
directions), so that a plain wall without socket, poster or pattern where two photos overlap is
refused unless its floor is in both. Where they share nothing
but pictures, the fronts of these are taken for the wall, and the ± grows by what that may be worth;
where all of it lies low it may be a sideboard's front, and they are refused.
Lines of the room tell each photo what is level, but not yet that a skirting in two photos is one
skirting. Things that moved between the photos are left out as strays.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import MeasurementError, ReferenceNotFound
from visualiser.findings import Finding
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.fit import (
    PhotoFit,
    fit_photo,
)
from visualiser.rectification.joined.chain import Chain
from visualiser.rectification.joined.features import (
    Features,
    Matches,
    find_features,
    match_features,
)
from visualiser.rectification.joined.next_pose import Floor
from visualiser.rectification.joined.refusing import LEAST_TIES, cannot_join
from visualiser.rectification.joined.wall import FEWEST, MOST, JoinedWall
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference
from visualiser.wording import BothUnits, sentence

Array = NDArray[np.float64]
Progress = Callable[[str], None]
FindFloor = Callable[[Photo, WallPlane], Floor | None]
"""Where the floor lies in the wall mm of a measured photo; None where it does not show."""

FAR_MM = 25.0
"""95 % half-width from which the end of a chain is worth a word."""


def join_photos(
    photos: Sequence[Photo],
    references: Sequence[Sequence[Reference]]
    | Sequence[Reference]
    | Mapping[int, Sequence[Reference]],
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
    progress: Progress | None = None,
    find_floor: FindFloor | None = None,
) -> JoinedWall:
    """Measure one wall through several overlapping photos.

    Parameters
    ----------
    photos
        Two to eight photos of one wall, of one phone at one zoom, in any order.
    references
        Candidates of each photo, as `find_references` gives them, in the photos' order and empty
        where there are none; or those of the first photo alone.
    terms
        What the model leaves out; the usual values where none are given.
    lens_profile
        Lens measured beforehand.
    progress
        Called with a sentence before each step.
    find_floor
        Finds the floor in the photo that comes first, for pairs that share too little of the wall;
        without it the floor ties nothing.

    Returns
    -------
    The wall, with a plane for each photo and the covariance of all of them.

    Raises
    ------
    ReferenceNotFound
        If no photo has a reference that convinces.
    MeasurementError
        If photos cannot be joined; those that cannot are named by their number, from 1.
    """
    say = progress or (lambda _: None)
    terms = terms or ModelTerms()
    _refuse_unlike(photos)
    seen = _by_photo(references, len(photos))
    if not any(seen):
        raise _no_sheet()
    say("Looking for what the photos share …")
    matches = _matches([find_features(photo) for photo in photos])
    _refuse_lonely(matches, len(photos))
    say("Measuring the photos that show a reference …")
    fits = _fits(photos, seen, terms, lens_profile)
    first = min(fits, key=lambda k: _reach(fits[k]))

    def floor() -> Floor | None:
        return find_floor(photos[first], fits[first].plane) if find_floor is not None else None

    chain = Chain(photos, first, fits[first], matches, terms, floor)
    while chain.left:
        say(f"Joining photo {len(chain.order) + 1} of {len(photos)} …")
        chain.grow()
    say("Reading the lines of the room …")
    chain.add_lines(fits)
    chain.add_references(seen)
    say("Adjusting all photos together …")
    wall = chain.finished()
    return replace(wall, findings=(*wall.findings, *_drift_findings(wall)))


def _refuse_unlike(photos: Sequence[Photo]) -> None:
    if not FEWEST <= len(photos) <= MOST:
        raise MeasurementError(
            f"{len(photos)} photos cannot be joined.",
            hint=f"Give {FEWEST} to {MOST} photos of one wall that overlap by a third.",
        )
    sizes = [(photo.width_px, photo.height_px) for photo in photos]
    for k, size in enumerate(sizes):
        if size != sizes[0]:
            raise MeasurementError(
                f"Photo {k + 1} is not of the same size as photo 1.",
                hint="Take all of them with one phone, at one zoom and the same way up.",
            )
    stated = [photo.focal_px for photo in photos]
    for k, focal in enumerate(stated):
        if focal is not None and stated[0] is not None and abs(focal / stated[0] - 1) > 0.05:
            raise MeasurementError(
                f"Photo {k + 1} was taken at another zoom than photo 1.",
                hint="Take all of them at one zoom.",
            )


def _by_photo(references: object, count: int) -> list[list[Reference]]:
    """Sort candidates by photo, whichever way they were given."""
    if isinstance(references, Mapping):
        return [list(references.get(k, ())) for k in range(count)]
    given = list(references)  # type: ignore[call-overload]
    if all(isinstance(one, Reference) for one in given):
        return [given, *([] for _ in range(count - 1))]
    if len(given) != count:
        raise ValueError(f"expected references for {count} photos, got {len(given)}")
    return [list(one) for one in given]


def _fits(
    photos: Sequence[Photo],
    seen: Sequence[Sequence[Reference]],
    terms: ModelTerms,
    profile: LensProfile | None,
) -> dict[int, PhotoFit]:
    """Measure every photo with a reference by itself; pass over those that cannot be."""
    fits: dict[int, PhotoFit] = {}
    refused: list[MeasurementError] = []
    for k, (photo, candidates) in enumerate(zip(photos, seen, strict=True)):
        if candidates:
            try:
                fits[k] = fit_photo(photo, candidates, terms=terms, lens_profile=profile)
            except MeasurementError as error:
                refused.append(error)
    if fits:
        return fits
    if refused:
        raise refused[0]
    raise _no_sheet()


def _no_sheet() -> ReferenceNotFound:
    return ReferenceNotFound(
        "None of the photos shows a sheet of known size.",
        hint="Tape a sheet to the wall and photograph it in at least one of them.",
    )


def _reach(fit: PhotoFit) -> float:
    """How well a photo knows the wall a metre around its reference."""
    around = 1000 * np.array([[1, 0], [-1, 0], [0, 1], [0, -1.0]])
    return float(np.nanmax(fit.plane.half_width(around)))


def _matches(features: Sequence[Features]) -> dict[tuple[int, int], Matches]:
    """Match all pairs of photos, the first of each having the lower number."""
    return {
        (i, j): match_features(features[i], features[j])
        for i, j in itertools.combinations(range(len(features)), 2)
    }


def _refuse_lonely(matches: Mapping[tuple[int, int], Matches], count: int) -> None:
    """Refuse a photo that has next to nothing in common with any other."""
    for k in range(count):
        shared = {
            i + j - k: len(found.sigma_px) for (i, j), found in matches.items() if k in (i, j)
        }
        if max(shared.values()) < LEAST_TIES:
            raise cannot_join(max(shared, key=lambda other: (shared[other], -other)), k, None)


def _drift_findings(wall: JoinedWall) -> list[Finding]:
    """Say how uncertain the far end of the chain is."""
    halves = [float(plane.half_width(wall.middle_mm(k))[0]) for k, plane in enumerate(wall.photos)]
    where = int(np.argmax(halves))
    worst = halves[where]
    if worst < FAR_MM:
        return []
    return [
        Finding(
            "advice",
            sentence(
                BothUnits(worst, half_width=True),
                f" in photo {where + 1}, furthest from the sheet.",
            ),
            "To do better, tape a second sheet there, or let the photos overlap more.",
            "joint-drift",
        )
    ]
