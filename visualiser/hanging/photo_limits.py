"""What a photo of the hung group cannot show: blurred edges, and pieces outside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.hanging.frame_fit import FrameFit
from visualiser.hanging.sightings import OUTSIDE, Sighting

SOFT_PX, BLURRED_PX = 1.8, 3.0
"""Blur of the frames' edges, as a standard deviation, to warn of, and to refuse: sides are looked
for within 3 px of where they should be, and a wider step does not show which line it is."""
FEW_SIDES = 1.5
"""Where fewer sides to a frame than this can be measured, nothing is told of it."""


def refuse_partial_view(
    sightings: Sequence[Sighting], reasons: Mapping[str, str], planned: int
) -> None:
    """Refuse a photo that shows too little of the group to lay the plan on it.

    Parameters
    ----------
    sightings
        What was seen.
    reasons
        By piece id, why the others were not.
    planned
        How many pieces the plan has.

    Raises
    ------
    MeasurementError
        If hardly any piece is seen; or no more than half, with others outside the picture and no
        picture that would tell one frame from its equal.
    """
    count = len(sightings)
    told_apart = any(sighting.likeness is not None for sighting in sightings)
    hint = "Photograph the whole hung group from the front, or check the plan that is open."
    if 2 * count <= planned and not any(sighting.recognised for sighting in sightings):
        raise MeasurementError(
            f"None of the {planned} planned pieces is recognised in this photo: it may show "
            "another wall, or they do not hang yet.",
            hint=hint,
        )
    cut = OUTSIDE in reasons.values() and 2 * count <= planned and not told_apart
    if cut or count < max(1, planned // 3):
        raise MeasurementError(
            f"Only {count} of the {planned} planned pieces can be seen in this photo.",
            hint=hint,
        )


def photo_findings(fit: FrameFit, reasons: Sequence[str]) -> list[Finding]:
    """Tell what limits the check.

    Parameters
    ----------
    fit
        The frames as fitted.
    reasons
        Why each planned piece was not seen; empty for one that was.

    Raises
    ------
    MeasurementError
        If the photo is too blurred to tell millimetres.
    """
    found = []
    hint = "Hold the telephone against something firm and take the photo again in more light."
    if fit.blur_px > BLURRED_PX or fit.sides.mean() < FEW_SIDES:
        raise MeasurementError(
            "The photo is too blurred or too dark: hardly any edge of the frames can be measured.",
            hint=hint,
        )
    if fit.blur_px > SOFT_PX:
        message = f"The photo is blurred: edges of frames are {2 * fit.blur_px:.0f} px wide."
        found.append(Finding("advice", message, hint, "as-hung-blurred"))
    outside = sum(reason == OUTSIDE for reason in reasons)
    if outside:
        message = (
            f"{outside} of {len(reasons)} planned pieces are outside the picture; "
            "equal frames may have been taken for one another."
        )
        hint = "Photograph the whole group."
        found.append(Finding("advice", message, hint, "as-hung-outside"))
    return found
