"""The photo of the hung group against the plan: what the step Check has done beside the page."""

from __future__ import annotations

from visualiser.arrangement.arrangement import Arrangement
from visualiser.as_hung.check import check_as_hung
from visualiser.as_hung.report import AsHungReport
from visualiser.photo.decoding import load_photo


def compare_photo(
    data: bytes, arrangement: Arrangement, kind: str | None, likely: str
) -> AsHungReport:
    """Compare a photo with the plan."""
    return check_as_hung(load_photo(data), arrangement, reference=kind, likely=likely)
