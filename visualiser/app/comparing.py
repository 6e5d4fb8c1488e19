"""The photo of the hung group against the plan: what the step Check has done beside the page."""

from __future__ import annotations

from visualiser.arrangement.arrangement import Arrangement
from visualiser.as_hung.check import check_as_hung
from visualiser.as_hung.report import AsHungReport
from visualiser.photo.decoding import load_photo
from visualiser.photo.encoding import encode_jpeg
from visualiser.printing.as_hung_picture import deviation_picture


def compare_photo(
    data: bytes, arrangement: Arrangement, kind: str | None, likely: str
) -> tuple[AsHungReport, bytes]:
    """Compare a photo with the plan.

    Returns
    -------
    The report, and a JPEG of the photo with the plan's outlines.
    """
    photo = load_photo(data)
    report = check_as_hung(photo, arrangement, reference=kind, likely=likely)
    return report, encode_jpeg(deviation_picture(photo.pixels, report, longest_px=1600))
