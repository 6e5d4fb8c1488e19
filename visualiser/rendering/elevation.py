"""The wall face on, to scale, with sizes: a drawing to look at and to measure from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.rules import neighbour_gaps
from visualiser.arrangement.slopes import floor_height, floor_rise
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.units import format_length

Colour = tuple[int, int, int]

PAPER: Colour = (250, 249, 246)
WALL: Colour = (234, 231, 224)
FURNITURE: Colour = (196, 190, 181)
INK: Colour = (60, 60, 62)
FAINT: Colour = (140, 138, 134)
MEASURE: Colour = (28, 92, 140)
KEEP_CLEAR: Colour = (186, 84, 58)
PRINT: Colour = (178, 184, 186)
FINISHES: dict[str, Colour] = {
    "oak": (190, 152, 104),
    "walnut": (98, 68, 48),
    "black": (38, 38, 40),
    "white": (246, 246, 244),
    "brass": (184, 154, 88),
    "silver": (176, 178, 180),
    "natural": (214, 190, 152),
}
OVERSAMPLE = 2


def draw_elevation(
    arrangement: Arrangement,
    survey: Survey,
    *,
    guidelines: Guidelines | None = None,
    width_px: int = 1200,
    title: str = "",
    dimensions: bool = True,
) -> NDArray[np.uint8]:
    """Draw the wall with its group as seen straight on.

    Parameters
    ----------
    arrangement
        What hangs where.
    survey
        The wall; its outline, zones and furniture are drawn.
    guidelines
        For the height of the centre line.
    width_px
        Width of the picture.
    title
        Line above the drawing; the arrangement's name when empty.
    dimensions
        Whether sizes and distances are written in and about it. Without, the wall fills the
        picture, and names are large enough to be read in a small one.

    Returns
    -------
    (H, W, 3) uint8 sRGB.

    Raises
    ------
    ValueError
        If the picture would be narrower than 300 px.
    """
    if width_px < 300:
        raise ValueError(f"an elevation needs 300 px or more, got {width_px}")
    sheet = _Sheet.for_wall(survey.outline.bounds, width_px * OVERSAMPLE, small=not dimensions)
    _draw_wall(sheet, survey)
    for place in arrangement.placements:
        _draw_piece(sheet, arrangement.piece(place.piece_id), arrangement.rect(place.piece_id))
    if dimensions and arrangement.placements:
        _draw_centre_line(sheet, survey, arrangement, guidelines or Guidelines())
        _draw_gaps(sheet, arrangement)
        _draw_group(sheet, survey, arrangement)
    if dimensions:
        _draw_margin(sheet, title or arrangement.name or arrangement.family, arrangement)
    small = sheet.image.resize(
        (width_px, round(sheet.image.height / OVERSAMPLE)), Image.Resampling.LANCZOS
    )
    return np.asarray(small, dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A picture and how wall mm fall on it."""

    image: Image.Image
    pen: ImageDraw.ImageDraw
    bounds: Rect
    px_per_mm: float
    margin: float
    unit: float

    @classmethod
    def for_wall(cls, bounds: Rect, width: int, *, small: bool) -> _Sheet:
        unit = width / (50 if small else 120)
        margin = (0.6 if small else 6) * unit
        scale = (width - 2 * margin) / max(bounds.width_mm, 1e-9)
        below = 0 if small else 3 * unit
        height = round(bounds.height_mm * scale + 2 * margin + below)
        image = Image.new("RGB", (width, height), PAPER)
        return cls(image, ImageDraw.Draw(image), bounds, scale, margin, unit)

    def at(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        return (
            self.margin + (x_mm - self.bounds.left_mm) * self.px_per_mm,
            self.margin + (self.bounds.top_mm - y_mm) * self.px_per_mm,
        )

    def box(self, rect: Rect) -> list[tuple[float, float]]:
        return [self.at(rect.left_mm, rect.top_mm), self.at(rect.right_mm, rect.bottom_mm)]

    def font(self, size: float) -> Any:
        return ImageFont.load_default(size=size * self.unit)

    def write(
        self,
        at: tuple[float, float],
        text: str,
        colour: Colour = INK,
        size: float = 1.5,
        anchor: str = "mm",
        ground: Colour | None = None,
    ) -> None:
        font = self.font(size)
        if ground is not None:
            self.pen.rectangle(self.pen.textbbox(at, text, font=font, anchor=anchor), fill=ground)
        self.pen.text(at, text, fill=colour, font=font, anchor=anchor)

    def fits(self, text: str, width: float, size: float) -> bool:
        return float(self.pen.textlength(text, font=self.font(size))) <= width

    def line(self, points: list[tuple[float, float]], colour: Colour, width: float = 0.12) -> None:
        self.pen.line(points, fill=colour, width=max(1, round(width * self.unit)))


def _draw_wall(sheet: _Sheet, survey: Survey) -> None:
    outline = [sheet.at(x, y) for x, y in survey.outline]
    sheet.pen.polygon(outline, fill=WALL, outline=FAINT)
    if survey.floor_known:
        left, right = sheet.bounds.left_mm, sheet.bounds.right_mm
        sheet.line([sheet.at(left, 0.0), sheet.at(right, 0.0)], INK, 0.3)
    for item in survey.furniture:
        box = sheet.box(item.rect)
        radius = min(0.8 * sheet.unit, (box[1][0] - box[0][0]) / 4)
        sheet.pen.rounded_rectangle(box, radius=max(radius, 0), fill=FURNITURE, outline=FAINT)
        sheet.write(sheet.at(*item.rect.centre_mm), item.name or item.kind, FAINT)
    for zone in survey.zones:
        corners = [sheet.at(x, y) for x, y in zone.polygon]
        _hatch(sheet, corners)
        sheet.line([*corners, corners[0]], KEEP_CLEAR)
        bounds = zone.polygon.bounds
        label = zone.name or zone.kind
        if sheet.fits(label, bounds.width_mm * sheet.px_per_mm, 1.3):
            sheet.write(sheet.at(*bounds.centre_mm), label, KEEP_CLEAR, 1.3, ground=WALL)
        else:
            x, y = sheet.at(bounds.centre_mm[0], bounds.top_mm)
            sheet.write((x, y - 0.4 * sheet.unit), label, KEEP_CLEAR, 1.2, "mb")


def _hatch(sheet: _Sheet, corners: list[tuple[float, float]]) -> None:
    """Slanting lines inside a polygon."""
    mask = Image.new("1", sheet.image.size)
    ImageDraw.Draw(mask).polygon(corners, fill=1)
    lines = Image.new("1", sheet.image.size)
    pen = ImageDraw.Draw(lines)
    step = round(1.2 * sheet.unit)
    for start in range(-sheet.image.height, sheet.image.width, step):
        pen.line([(start, sheet.image.height), (start + sheet.image.height, 0)], fill=1, width=2)
    both = Image.fromarray(np.asarray(mask) & np.asarray(lines))
    sheet.image.paste(KEEP_CLEAR, mask=both)


def _draw_piece(sheet: _Sheet, piece: Piece, rect: Rect) -> None:
    box = sheet.box(rect)
    frame = piece.moulding.colour if piece.moulding else ""
    finish = FINISHES.get(piece.moulding.finish, FINISHES["oak"]) if piece.moulding else PRINT
    sheet.pen.rectangle(box, fill=frame or finish, outline=FAINT)
    rail = piece.moulding.width_mm if piece.moulding else 0.0
    inner = rect.grown(-rail)
    if piece.mat:
        sheet.pen.rectangle(sheet.box(inner), fill=piece.mat.colour)
        inner = Rect(
            inner.left_mm + piece.mat.sides_mm,
            inner.bottom_mm + piece.mat.bottom_mm,
            *piece.window_mm,
        )
    window = [(round(x), round(y)) for x, y in sheet.box(inner)]
    size = (window[1][0] - window[0][0], window[1][1] - window[0][1])
    if piece.artwork is not None and min(size) > 0:
        picture = Image.fromarray(np.array(piece.artwork.pixels))
        sheet.image.paste(
            picture.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0), window[0]
        )
        return
    sheet.pen.rectangle(sheet.box(inner), fill=PRINT)
    name = piece.called
    room = inner.width_mm * sheet.px_per_mm
    x, y = sheet.at(*rect.centre_mm)
    lines = [name, f"{piece.width_mm:.0f} x {piece.height_mm:.0f}", _inch_size(piece)]
    lines = [text for text in lines if sheet.fits(text, room, 1.2)]
    tall = int(rect.height_mm * sheet.px_per_mm / (1.5 * sheet.unit))
    lines = lines[: max(tall, 1)]
    for number, text in enumerate(lines):
        down = (number - (len(lines) - 1) / 2) * 1.5 * sheet.unit
        sheet.write((x, y + down), text, INK, 1.2)


def _inch_size(piece: Piece) -> str:
    return f"{_inches(piece.width_mm)} x {_inches(piece.height_mm)}"


def _inches(length_mm: float) -> str:
    return format_length(length_mm, "in")


def _both(length_mm: float) -> str:
    return f"{length_mm:.0f} mm · {_inches(length_mm)}"


def _draw_centre_line(
    sheet: _Sheet, survey: Survey, arrangement: Arrangement, guidelines: Guidelines
) -> None:
    height, bounds = guidelines.centre_height_mm, sheet.bounds
    if not survey.floor_known:
        return

    def place(x_mm: float) -> tuple[float, float]:
        """Give the line's point above a place along the wall: over a stair it rises with it."""
        return sheet.at(x_mm, floor_height(survey.outline, x_mm) + height)

    def shown(x_mm: float) -> bool:
        y_mm = floor_height(survey.outline, x_mm) + height
        behind = any(
            r.left_mm < x_mm < r.right_mm and r.bottom_mm < y_mm < r.top_mm
            for r in arrangement.rects().values()
        )
        return bounds.bottom_mm < y_mm < bounds.top_mm and not behind

    count = max(int((place(bounds.right_mm)[0] - place(bounds.left_mm)[0]) / (1.8 * sheet.unit)), 1)
    starts = np.linspace(bounds.left_mm, bounds.right_mm, count, endpoint=False)
    dash_mm = bounds.width_mm / count / 2
    drawn = [float(x) for x in starts if shown(float(x) + dash_mm / 2)]
    for x in drawn:
        sheet.line([place(x), place(x + dash_mm)], MEASURE)
    if not drawn:
        return
    end, y = place(drawn[-1] + dash_mm)
    sheet.write(
        (end - 0.4 * sheet.unit, y - 0.3 * sheet.unit),
        f"centre line {_both(height)}" + (" above the stair" if floor_rise(survey.outline) else ""),
        MEASURE,
        1.1,
        "rb",
    )


def _draw_gaps(sheet: _Sheet, arrangement: Arrangement) -> None:
    """Write each gap between neighbours where it lies, mm."""
    rects = arrangement.rects()
    for one, two, gap in neighbour_gaps(rects):
        a, b = rects[one], rects[two]
        xs = sorted([a.left_mm, a.right_mm, b.left_mm, b.right_mm])[1:3]
        ys = sorted([a.bottom_mm, a.top_mm, b.bottom_mm, b.top_mm])[1:3]
        if 0 < gap < 200 and min(a.gap_to(b)) < -40:
            sheet.write(sheet.at(sum(xs) / 2, sum(ys) / 2), f"{gap:.0f}", MEASURE, 0.9)


def _draw_group(sheet: _Sheet, survey: Survey, arrangement: Arrangement) -> None:
    """Overall width and height, and the distances a person sets out from."""
    group = arrangement.bounds
    off = 2.2 * sheet.unit / sheet.px_per_mm
    top = min(group.top_mm + off, sheet.bounds.top_mm - 0.2 * off)
    _measure(sheet, (group.left_mm, top), (group.right_mm, top), group.width_mm)
    side = group.right_mm + off
    _measure(sheet, (side, group.bottom_mm), (side, group.top_mm), group.height_mm)
    bottom = max(
        (
            f.rect.top_mm
            for f in survey.furniture
            if f.rect.gap_to(group)[0] < 0 and f.rect.top_mm <= group.bottom_mm
        ),
        default=max(sheet.bounds.bottom_mm, 0.0) if survey.floor_known else None,
    )
    if bottom is not None and group.bottom_mm - bottom > 1:
        low = group.left_mm + 0.15 * group.width_mm
        _measure(sheet, (low, bottom), (low, group.bottom_mm), group.bottom_mm - bottom)
    start = sheet.bounds.left_mm
    if group.left_mm - start > 1:
        y = group.bottom_mm + 0.1 * group.height_mm
        _measure(sheet, (start, y), (group.left_mm, y), group.left_mm - start)


def _measure(
    sheet: _Sheet, start: tuple[float, float], end: tuple[float, float], length_mm: float
) -> None:
    """Draw a dimension line with end ticks and the length in mm and inches."""
    a, b = sheet.at(*start), sheet.at(*end)
    tick = 0.5 * sheet.unit
    across = abs(a[1] - b[1]) < 1e-6
    sheet.line([a, b], MEASURE)
    for x, y in (a, b):
        ends = [(x, y - tick), (x, y + tick)] if across else [(x - tick, y), (x + tick, y)]
        sheet.line(ends, MEASURE)
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    text = _both(length_mm)
    if across and sheet.fits(text, abs(b[0] - a[0]) - sheet.unit, 1.2):
        sheet.write(middle, text, MEASURE, 1.2, ground=WALL)
    elif across:
        sheet.write((middle[0], middle[1] - 0.3 * sheet.unit), text, MEASURE, 1.2, "mb")
    else:
        sheet.write((middle[0] + 0.4 * sheet.unit, middle[1]), text, MEASURE, 1.2, "lm", WALL)


def _draw_margin(sheet: _Sheet, title: str, arrangement: Arrangement) -> None:
    width, height = sheet.image.size
    score = f"   score {arrangement.score:.1f}" if arrangement.terms else ""
    sheet.write((sheet.margin, 0.5 * sheet.margin), title + score, INK, 2.0, "lm")
    length = 500.0 if sheet.bounds.width_mm < 3000 else 1000.0
    y = height - 3.2 * sheet.unit
    x = width - sheet.margin - length * sheet.px_per_mm
    for number in range(5):
        left = x + number * length / 5 * sheet.px_per_mm
        right = left + length / 5 * sheet.px_per_mm
        fill = INK if number % 2 == 0 else PAPER
        sheet.pen.rectangle([left, y - 0.3 * sheet.unit, right, y + 0.3 * sheet.unit], fill, INK)
    sheet.write((x - 0.6 * sheet.unit, y), f"{_both(length)}", INK, 1.3, "rm")
    across, up = sheet.bounds.width_mm, sheet.bounds.height_mm
    text = f"wall {across:.0f} x {up:.0f} mm · {_inches(across)} x {_inches(up)}"
    sheet.write((sheet.margin, y), text, INK, 1.3, "lm")
