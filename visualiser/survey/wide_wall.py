"""A wall wider than one photo, joined by its floor too where the wall itself is plain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.joined import join
from visualiser.rectification.joined.join import Progress
from visualiser.rectification.joined.next_pose import Floor
from visualiser.rectification.joined.wall import JoinedWall
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.reference import Reference
from visualiser.survey.floor import skirting_floor
from visualiser.survey.surveying import whole_wall


def join_photos(
    photos: Sequence[Photo],
    references: Sequence[Sequence[Reference]]
    | Sequence[Reference]
    | Mapping[int, Sequence[Reference]],
    *,
    terms: ModelTerms | None = None,
    lens_profile: LensProfile | None = None,
    progress: Progress | None = None,
) -> JoinedWall:
    """Measure one wall through several overlapping photos.

    Where two photos share too little of the wall itself, what they share of the floor ties them,
    as long as the foot of a skirting board says how high that lies.

    Parameters
    ----------
    photos, references, terms, lens_profile, progress
        As for ``rectification.joined.join.join_photos``.

    Raises
    ------
    ReferenceNotFound
        If no photo has a reference that convinces.
    MeasurementError
        If photos cannot be joined; those that cannot are named by their number, from 1.
    """
    return join.join_photos(
        photos,
        references,
        terms=terms,
        lens_profile=lens_profile,
        progress=progress,
        find_floor=floor_of,
    )


def floor_of(photo: Photo, plane: WallPlane) -> Floor | None:
    """Read the floor off the foot of the skirting board in a measured photo."""
    found = skirting_floor(whole_wall(photo, plane), plane)
    return None if found is None else Floor(found.y_mm, found.sigma_mm)
