"""Lenses measured on this computer, kept beside its jobs and taken up by photos that match."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

from visualiser.app import jobs
from visualiser.app.reach import only_this_computer
from visualiser.errors import MeasurementError, VisualiserError

if TYPE_CHECKING:
    from visualiser.photo.photo import Photo
    from visualiser.project.lens_entry import LensEntry

_KEPT_NAME = ".lenses.json"
_MOST_KEPT = 50
MOST_PHOTOS = 20


def lens_of_files(files: list[bytes], kind: str) -> LensEntry:
    """Measure a lens from photos of the printed target; they are decoded one at a time.

    Raises
    ------
    PhotoError, MeasurementError
        If one cannot be read, or they do not give a lens.
    """
    from visualiser.photo.decoding import load_photo
    from visualiser.project.lens_entry import LensEntry
    from visualiser.rectification.calibration import lens_from_photos

    if len(files) > MOST_PHOTOS:
        raise MeasurementError(
            f"{len(files)} photos are more than are looked at.",
            hint=f"Choose the {MOST_PHOTOS} sharpest; eight from different sides are plenty.",
        )
    profile, used = lens_from_photos((load_photo(data) for data in files), kind)
    return LensEntry.from_profile(profile, used)


def keep_lens(entry: LensEntry) -> None:
    """Keep a lens on this computer, in place of an older one of the same phone and zoom.

    Raises
    ------
    ProjectError
        If it cannot be written.
    """
    from visualiser.project.writing import write_atomically

    place = jobs.jobs_folder() / _KEPT_NAME
    kept = [entry, *(other for other in kept_lenses() if not _same_lens(entry, other))]
    content = [json.loads(one.model_dump_json()) for one in kept[:_MOST_KEPT]]
    write_atomically(place, json.dumps(content, indent=1).encode())


def kept_lenses() -> list[LensEntry]:
    """Lenses kept on this computer, newest first; what cannot be read is passed over."""
    from visualiser.project.lens_entry import LensEntry

    try:
        content = json.loads((jobs.jobs_folder() / _KEPT_NAME).read_bytes())
    except (OSError, ValueError, RecursionError):
        return []
    lenses = []
    for one in content if isinstance(content, list) else []:
        try:
            lenses.append(LensEntry.model_validate(one))
        except (ValueError, VisualiserError):
            continue
    return lenses


def lens_for(photo: Photo) -> LensEntry | None:
    """Find the lens kept for a photo's camera, zoom and size."""
    return next((one for one in kept_lenses() if one.profile().matches(photo)), None)


def lens_at_hand(decoded: Callable[[], Photo]) -> LensEntry | None:
    """Find the lens measured earlier for a photo; on a shared server everyone has their own.

    The photo is decoded only where there is a lens that might match.
    """
    if not only_this_computer() or not kept_lenses():
        return None
    return lens_for(decoded())


def _same_lens(one: LensEntry, other: LensEntry) -> bool:
    from visualiser.rectification.camera.lens_profile import same_zoom

    return (
        one.camera == other.camera
        and {one.width_px, one.height_px} == {other.width_px, other.height_px}
        and same_zoom(one.stated_focal_px, other.stated_focal_px)
    )
