"""From several photos of the printed target to the lens of the phone that took them."""

from __future__ import annotations

from collections.abc import Iterable

from visualiser.errors import MeasurementError
from visualiser.geometry import PointsMm, PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.lens_calibration import (
    MIN_POINTS,
    MIN_VIEWS,
    calibrate_lens,
)
from visualiser.rectification.camera.lens_profile import LensProfile, same_zoom
from visualiser.rectification.finder.target import find_target
from visualiser.rectification.kinds import TARGETS

_ANOTHER_SET = "Take them all with one phone, held one way round, without zooming between them."


def lens_from_photos(photos: Iterable[Photo], kind: str = "target") -> tuple[LensProfile, int]:
    """Measure a phone's lens from photos of the printed target.

    Photos on which the target is not seen are left out.

    Parameters
    ----------
    photos
        Photos of one phone at one zoom, held one way round; looked at one after the other, so
        that they need not all be in memory.
    kind
        ``target`` or ``target-letter``.

    Returns
    -------
    The profile, and how many photos made it.

    Raises
    ------
    MeasurementError
        If they come from different cameras, do not say which, or do not give a lens.
    """
    if kind not in TARGETS:
        raise ValueError(f"expected one of {', '.join(TARGETS)}, got {kind!r}")
    views: list[tuple[PointsMm, PointsPx]] = []
    first: tuple[str, float | None, int, int] | None = None
    count = 0
    for count, photo in enumerate(photos, 1):
        stated = (photo.camera, photo.focal_px, photo.width_px, photo.height_px)
        first = first or stated
        _refuse_mixed(first, stated, count)
        found = find_target(photo, kind)
        if found and len(found[0].marks_px) >= MIN_POINTS:
            views.append((found[0].marks_mm, found[0].marks_px))
    if first is None or len(views) < MIN_VIEWS:
        raise MeasurementError(
            f"The target is seen well enough on {len(views)} of {count} photos; "
            f"{MIN_VIEWS} are needed.",
            hint="Photograph the printed target from the left, the right, above and below, large "
            "in the picture, sharp and flat.",
        )
    camera, focal_px, width_px, height_px = first
    return calibrate_lens(views, width_px, height_px, camera, focal_px), len(views)


def _refuse_mixed(
    first: tuple[str, float | None, int, int],
    stated: tuple[str, float | None, int, int],
    number: int,
) -> None:
    """Refuse photos that no one lens explains, or whose lens could not be known again."""
    if not stated[0]:
        raise MeasurementError(
            f"Photo {number} does not say which phone took it, so its lens could not be known "
            "again.",
            hint="Use the files as the phone wrote them: messengers and edits strip what they say.",
        )
    if stated[0] != first[0]:
        raise MeasurementError(
            f"Photo {number} was taken with {stated[0]}, the first with {first[0]}.",
            hint=_ANOTHER_SET,
        )
    if stated[2:] != first[2:]:
        raise MeasurementError(
            f"Photo {number} is {stated[2]} × {stated[3]} pixels, the first {first[2]} × "
            f"{first[3]}.",
            hint=_ANOTHER_SET,
        )
    if not same_zoom(first[1], stated[1]):
        raise MeasurementError(
            f"Photo {number} was taken at another zoom than the first.", hint=_ANOTHER_SET
        )
