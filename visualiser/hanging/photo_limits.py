"""What a photo of the hung group cannot show: blurred edges, and pieces outside it."""

from __future__ import annotations

from collections.abc import Sequence

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.hanging.frame_fit import FrameFit
from visualiser.hanging.sightings import OUTSIDE

SOFT_PX, BLURRED_PX = 2.5, 5.0
"""Blur of the frames' edges, as a standard deviation, to warn of, and to refuse."""
FEW_SIDES = 1.5
"""Where fewer sides to a frame than this can be measured, nothing is told of it."""


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
