"""What to nudge, drawn into the photo of the hung wall: true outlines, and longer arrows."""

from __future__ import annotations

from typing import Any

import numpy as np

from visualiser.as_hung.judge import Tolerances
from visualiser.as_hung.report import AsHungReport, PieceDeviation, ways_back
from visualiser.geometry import PointsPx
from visualiser.units import Unit, format_length

EXAGGERATED = 10
"""How many times as long as the way itself an arrow is drawn: that is a few px in a photo."""
_HEAD_SHARE = 0.012
"""Length of an arrow's head, of the photo's width."""


def nudges_in_photo(report: AsHungReport, unit: Unit, width_px: int) -> list[dict[str, Any]]:
    """Draw every piece as planned and as hung, and an arrow where one wants a nudge.

    Parameters
    ----------
    report
        What the check found.
    unit
        To write lengths in.
    width_px
        Width of the photo.
    """
    marks: list[dict[str, Any]] = []
    for piece in report.pieces:
        if piece.planned_px is None:
            continue
        marks.append({"points": _closed(piece.planned_px), "kind": "as-planned"})
        if piece.outline_px is None:
            marks[-1] |= {
                "text": f"{report.called(piece.piece_id)}: not found",
                "at": piece.planned_px.mean(axis=0).tolist(),
            }
            continue
        marks.append({"points": _closed(piece.outline_px), "kind": f"as-hung {piece.verdict}"})
        if piece.verdict == "nudge":
            words = nudge_in_words(piece, report.tolerances, unit)
            marks.append(_arrow(piece, words, width_px))
        elif piece.verdict == "swapped":
            seen = report.called(piece.seen_id)
            marks[-1] |= {
                "text": f"here hangs {seen}",
                "at": piece.outline_px.mean(axis=0).tolist(),
            }
    return marks


def nudge_in_words(piece: PieceDeviation, tolerances: Tolerances, unit: Unit) -> str:
    """Say which way and how far a piece goes, as its correction does."""
    ways = ways_back(piece.dx_mm, piece.dy_mm, tolerances)
    parts = [f"{format_length(far_mm, unit)} {way}" for way, far_mm in ways]
    if abs(piece.tilt_deg) > tolerances.level_deg:
        way = "down" if piece.tilt_deg > 0 else "up"
        parts.append(f"right end {way} {abs(piece.tilt_deg):.1f}°")
    return ", ".join(parts)


def _arrow(piece: PieceDeviation, words: str, width_px: int) -> dict[str, Any]:
    assert piece.outline_px is not None
    assert piece.planned_px is not None
    tail = piece.outline_px.mean(axis=0)
    way = EXAGGERATED * (piece.planned_px.mean(axis=0) - tail)
    head_px = _HEAD_SHARE * width_px
    points = [tail]
    if (long_px := float(np.hypot(*way))) > head_px:  # a turn alone has no way to show
        tip, ahead = tail + way, way / long_px
        aside = np.array([-ahead[1], ahead[0]])
        barbs = [tip - head_px * (ahead + side * 0.6 * aside) for side in (1, -1)]
        points = [tail, tip, barbs[0], tip, barbs[1]]
    return {
        "points": np.array(points).tolist(),
        "kind": "nudge",
        "text": words,
        "at": [float(tail[0]), float(np.max(np.array(points)[:, 1]) + 1.4 * head_px)],
    }


def _closed(corners_px: PointsPx) -> list[list[float]]:
    return [*corners_px.tolist(), corners_px[0].tolist()]
