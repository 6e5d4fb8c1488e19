"""A wall in several photos, joined and added to a job: its picture, and the photos it is from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from visualiser.errors import PhotoError, ReferenceNotFound
from visualiser.photo.decoding import load_photo
from visualiser.photo.encoding import encode_jpeg
from visualiser.project.document import Document
from visualiser.project.filling import KeepFile, picture_suffix
from visualiser.project.joined_entry import JoinedEntry
from visualiser.project.measuring import references_of
from visualiser.project.wall_entries import MarksEntry, ReferenceEntry
from visualiser.rectification.plane import WallPlane

if TYPE_CHECKING:
    from visualiser.rectification.joined.picture import JoinedPicture

QUALITY = 95
"""Of the joined picture's JPEG: edges in it are still looked for."""


@dataclass(frozen=True, slots=True, eq=False)
class JoinedFiles:
    """Straight-on picture joined from files of photos, a JPEG, and its wall.

    ``in_photos`` is the wall as each photo shows it.
    """

    picture: bytes
    plane: WallPlane
    in_photos: tuple[WallPlane, ...] = ()


def join_files(
    contents: Sequence[bytes],
    reference: ReferenceEntry,
    progress: Callable[[str], None] | None = None,
) -> JoinedFiles:
    """Join files of photos of one wall.

    Parameters
    ----------
    contents
        The files, in any order.
    reference
        What of known size is taped up in at least one; corners set by hand are of another photo
        and not looked at.
    progress
        Called with a sentence before each step.

    Raises
    ------
    PhotoError
        If one cannot be read; it is named by its number, from 1.
    ReferenceNotFound, MeasurementError
        If they cannot be joined.
    """
    from visualiser.rectification.joined.picture import straight_on_picture
    from visualiser.survey.wide_wall import join_photos

    say = progress or (lambda _: None)
    sought = reference.model_copy(update={"corners_px": None, "as_set": False})
    photos, seen = [], []
    for number, data in enumerate(contents, 1):
        say(f"Looking for the sheet in photo {number} of {len(contents)} …")
        try:
            photos.append(load_photo(data))
        except PhotoError as error:
            raise PhotoError(f"Photo {number}: {error.message}", hint=error.hint) from error
        try:
            seen.append(references_of(photos[-1], sought))
        except ReferenceNotFound:
            seen.append([])
    wall = join_photos(photos, seen, progress=say)
    say("Joining them into one picture …")
    return joined_files(straight_on_picture(photos, wall), wall.photos)


def joined_files(picture: JoinedPicture, in_photos: tuple[WallPlane, ...]) -> JoinedFiles:
    """Encode the straight-on picture of a wall, measured in these photos, as a job keeps it."""
    jpeg = encode_jpeg(picture.photo.pixels, quality=QUALITY)
    return JoinedFiles(jpeg, picture.plane, in_photos)


def with_joined_photos(
    document: Document,
    keep: KeepFile,
    photos: Sequence[tuple[str, bytes]],
    joined: JoinedFiles,
) -> Document:
    """Fill a job with a wall joined from several photos, in the place of its photo.

    Parameters
    ----------
    document
        The job; it is not saved. What was marked in its photo before is dropped.
    keep
        Keeps a picture with the job.
    photos
        Name and content of each photo that was joined, in the same order.
    joined
        As `join_files` gives it.
    """
    entries = tuple(keep("photos", name, data, picture_suffix(data)) for name, data in photos)
    picture = keep("photos", "joined.jpg", joined.picture, ".jpg")
    old = document.marks
    marks = MarksEntry(
        reference=old.reference.model_copy(update={"corners_px": None, "as_set": False}),
        reference_height_mm=old.reference_height_mm,
        light=old.light,
        zones=tuple(zone for zone in old.zones if zone.points_mm),
        furniture=tuple(item for item in old.furniture if item.points_mm),
        joined=JoinedEntry.from_plane(joined.plane, entries, joined.in_photos),
    )
    return document.changed(photo=picture, marks=marks)
