"""The as-hung check as a picture: the photo with deviations drawn enlarged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from visualiser.as_hung.report import AsHungReport, PieceDeviation
from visualiser.geometry import PointsPx
from visualiser.photo.photo import PixelsRgb
from visualiser.printing.fonts import Setting, set_line

ENLARGED = 10
PLAN, RIGHT, WRONG, DOUBT = "#ffffff", "#7ce38b", "#ffb454", "#9fd0ff"
"""Line colours on a dimmed photo; what they mean is written beside each piece as well."""


def deviation_picture(
    pixels: PixelsRgb, report: AsHungReport, *, longest_px: int = 2400
) -> PixelsRgb:
    """Draw the plan's outlines over the photo and how far each piece is off, ten times enlarged.

    Parameters
    ----------
    pixels
        The photo that was checked, (H, W, 3) uint8.
    report
        What the check found.
    longest_px
        The picture is reduced to this many pixels on its longer side.

    Returns
    -------
    (h, w, 3) uint8.
    """
    left, top, right, bottom = _around(pixels, report)
    image = Image.fromarray(pixels[top:bottom, left:right])
    shrink = min(1.0, longest_px / max(image.size))
    image = image.resize(
        (round(image.width * shrink), round(image.height * shrink)), Image.Resampling.LANCZOS
    )
    image = Image.blend(image, Image.new("RGB", image.size, "#1d2126"), 0.45)
    view = _View(np.array([left, top], float), shrink)
    draw = ImageDraw.Draw(image)
    unit = max(image.size) / 1000
    for piece in report.pieces:
        if piece.planned_px is not None and piece.outline_px is not None:
            _draw_piece(draw, piece, view, unit)
    for piece in report.pieces:
        if piece.planned_px is not None:
            _label(draw, report, piece, view, round(18 * unit))
    note = f"White: as planned. Coloured: as hung, deviations drawn {ENLARGED} times enlarged."
    font = set_line(note).on_picture(round(16 * unit))
    draw.text((10 * unit, image.height - 30 * unit), note, fill=PLAN, font=font)
    return np.asarray(image, np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """Part of the photo that is shown, and its scale."""

    corner_px: NDArray[np.float64]
    shrink: float

    def place(self, points_px: PointsPx) -> PointsPx:
        return np.asarray((points_px - self.corner_px) * self.shrink)


def _around(pixels: PixelsRgb, report: AsHungReport) -> tuple[int, int, int, int]:
    """Left, top, right and bottom of the photo's part that shows the group and some wall."""
    height, width = pixels.shape[:2]
    drawn = []
    for piece in report.pieces:
        if piece.planned_px is not None and piece.outline_px is not None:
            drawn += [
                piece.planned_px,
                piece.planned_px + ENLARGED * (piece.outline_px - piece.planned_px),
            ]
    if not drawn:
        return 0, 0, width, height
    points = np.vstack(drawn)
    margin = 0.12 * np.ptp(points, axis=0).max()
    low, high = points.min(axis=0) - margin, points.max(axis=0) + margin
    return (
        max(int(low[0]), 0),
        max(int(low[1]), 0),
        min(int(high[0]) + 1, width),
        min(int(high[1]) + 1, height),
    )


def _draw_piece(draw: ImageDraw.ImageDraw, piece: PieceDeviation, view: _View, unit: float) -> None:
    assert piece.planned_px is not None
    assert piece.outline_px is not None
    plan = view.place(piece.planned_px)
    hung = plan + ENLARGED * (view.place(piece.outline_px) - plan)
    colour = {"right": RIGHT, "unsure": DOUBT}.get(piece.verdict, WRONG)
    _outline(draw, plan, PLAN, max(1, round(1.2 * unit)))
    _outline(draw, hung, colour, max(2, round(2.4 * unit)))


def _outline(
    draw: ImageDraw.ImageDraw, corners: NDArray[np.float64], colour: str, width: int
) -> None:
    points = [(float(x), float(y)) for x, y in [*corners, corners[0]]]
    draw.line(points, fill=colour, width=width, joint="curve")


def _label(
    draw: ImageDraw.ImageDraw,
    report: AsHungReport,
    piece: PieceDeviation,
    view: _View,
    size_px: int,
) -> None:
    """Write name and verdict on a dark ground, each line in a font that has its letters."""
    assert piece.planned_px is not None
    corners = view.place(piece.planned_px)
    x, y = corners.mean(axis=0)
    most_px = max(float(np.ptp(corners[:, 0])), 8.0 * size_px)
    lines = [report.called(piece.piece_id), piece.verdict]
    if piece.verdict == "swapped":
        lines[1] = f"here hangs {report.called(piece.seen_id)}"
    set_lines = [_cut(line, size_px, most_px) for line in lines]
    fonts = [setting.on_picture(size_px) for setting in set_lines]
    places = [(x, y + (row - 0.5 * (len(lines) - 1)) * 1.3 * size_px) for row in range(len(lines))]
    written = list(zip(places, set_lines, fonts, strict=True))
    boxes = np.array([draw.textbbox(at, s.text, font=f, anchor="mm") for at, s, f in written])
    low, high = boxes[:, :2].min(axis=0) - 6, boxes[:, 2:].max(axis=0) + 6
    draw.rectangle([*low, *high], fill="#1d2126")
    for at, setting, font in written:
        draw.text(at, setting.text, fill="#ffffff", font=font, anchor="mm")


def _cut(text: str, size_px: int, most_px: float) -> Setting:
    """Set a line, cut short where it would cover the neighbours."""
    for length in range(len(text), 0, -1):
        setting = set_line(text if length == len(text) else f"{text[:length].rstrip()}…")
        if setting.on_picture(size_px).getlength(setting.text) <= most_px:
            return setting
    return set_line("…")
