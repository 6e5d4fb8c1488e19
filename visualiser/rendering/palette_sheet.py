"""Pictures of palettes: strips, the set on the a*b* plane, distances, and the room against art.

Everything is labelled in words, numbers and shapes, and lightness carries what hue carries, so the
pictures can be read in grey and with any colour vision.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from visualiser.colour.colorimetry import contrast_ratio, from_hex
from visualiser.colour.distance import pairwise_distances
from visualiser.colour.palette import Palette, Swatch
from visualiser.colour.room_fit import judge_room
from visualiser.errors import ColourError
from visualiser.photo.photo import PixelsRgb

_INK, _PAPER, _LINE, _FAINT = "#1c1c1c", "#ffffff", "#9a9a9a", "#e2e2e2"
_HUES = ("red", "orange", "yellow", "green", "blue-green", "blue", "violet", "purple-red")
"""What lies in each sector of the CIELAB hue circle, from a hue of 0 degrees on. Ours."""
_HUE_STARTS_DEG = (0, 45, 78, 105, 165, 220, 290, 325)
_MOST_PIECES = 24


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A drawing at twice its size, to be shrunk: that smooths every edge."""

    image: Image.Image
    draw: ImageDraw.ImageDraw

    @classmethod
    def of(cls, width: int, height: int) -> _Sheet:
        image = Image.new("RGB", (2 * width, 2 * height), _PAPER)
        return cls(image, ImageDraw.Draw(image))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: int = 13,
        ink: str = _INK,
        anchor: str = "lm",
        halo: str = "",
    ) -> None:
        font = ImageFont.load_default(2 * size)
        width = 3 if halo else 0
        self.draw.text(
            (2 * x, 2 * y),
            words,
            ink,
            font,
            anchor=anchor,
            stroke_width=width,
            stroke_fill=halo or None,
        )

    def box(
        self, left: float, top: float, right: float, bottom: float, fill: str, line: str = _LINE
    ) -> None:
        self.draw.rectangle([2 * left, 2 * top, 2 * right, 2 * bottom], fill, line, 1)

    def pixels(self) -> PixelsRgb:
        size = (self.image.width // 2, self.image.height // 2)
        return np.asarray(self.image.resize(size, Image.Resampling.BOX), np.uint8)


def palette_strips(
    palettes: Sequence[Palette], names: Sequence[str], width: int = 900
) -> PixelsRgb:
    """One strip a piece: its swatches as wide as their shares, named below.

    Parameters
    ----------
    palettes, names
        One each, up to 24.
    width
        Of the picture, px.

    Returns
    -------
    (H, W, 3) sRGB.

    Raises
    ------
    ColourError
        If there are none, or more than can be drawn legibly.
    """
    _check(palettes, names)
    strip, gap, left = 54, 26, 170
    most = max(len(p.swatches) for p in palettes)
    lines = (most + 1) // 2
    row = strip + 16 * lines + gap
    sheet = _Sheet.of(width, row * len(palettes) + 20)
    for i, (palette, name) in enumerate(zip(palettes, names, strict=True)):
        top = 14 + i * row
        sheet.text(12, top + strip / 2, _shortened(name, 20), 15)
        _strip(sheet, palette, left, top, width - 14, top + strip)
        half = (width - left - 14) / 2
        for k, swatch in enumerate(palette.swatches):
            x, y = left + (k % 2) * half, top + strip + 12 + 16 * (k // 2)
            sheet.text(x, y, f"{_letter(k)}  {_described(swatch)}", 12)
    return sheet.pixels()


def hue_plane(palettes: Sequence[Palette], names: Sequence[str], side: int = 760) -> PixelsRgb:
    """Swatches of a set on the a*b* plane, with hue sectors and circles of equal chroma.

    Each piece has its number, each swatch the area of its share; further out is more vivid.

    Parameters
    ----------
    palettes, names
        One each, up to 24.
    side
        Of the plane, px.

    Raises
    ------
    ColourError
        If there are none, or more than can be drawn legibly.
    """
    _check(palettes, names)
    sheet = _Sheet.of(side + 210, side)
    middle, rim = side / 2, side / 2 - 50
    chroma = max(float(np.hypot(p.lab[:, 1], p.lab[:, 2]).max()) for p in palettes)
    outer = float(max(40, 20 * np.ceil((chroma + 5) / 20)))
    scale = rim / outer
    for ring in np.arange(20, outer + 1, 20):
        r = ring * scale
        sheet.draw.ellipse(
            [2 * (middle - r), 2 * (middle - r), 2 * (middle + r), 2 * (middle + r)],
            outline=_LINE if ring == outer else _FAINT,
            width=2,
        )
        sheet.text(middle + 3, middle - r + 8, f"C* {ring:.0f}", 10, "#6a6a6a")
    for k, start in enumerate(_HUE_STARTS_DEG):
        end = (_HUE_STARTS_DEG[k + 1] if k + 1 < len(_HUE_STARTS_DEG) else 360) - start
        x, y = _turned(middle, rim, start)
        sheet.draw.line([2 * middle, 2 * middle, 2 * x, 2 * y], _FAINT, 2)
        x, y = _turned(middle, rim + 16, start + end / 2)
        sheet.text(x, y, _HUES[k], 12, "#4a4a4a", "mm")
    marks = [
        (swatch, number)
        for number, palette in enumerate(palettes, start=1)
        for swatch in palette.swatches
    ]
    placed = [
        (middle + m[0].lab[1] * scale, middle - m[0].lab[2] * scale, *m)
        for m in sorted(marks, key=lambda m: -m[0].share)
    ]
    for x, y, swatch, _ in placed:
        r = 4 + 18 * np.sqrt(swatch.share)
        sheet.draw.ellipse(
            [2 * (x - r), 2 * (y - r), 2 * (x + r), 2 * (y + r)], swatch.hex, _INK, 2
        )
    for x, y, swatch, number in placed:  # on top of all marks, so that none is hidden
        ink = _ink_on(swatch.hex)
        halo = _INK if ink == _PAPER else _PAPER
        sheet.text(x, y, str(number), 12, ink, "mm", halo)
    for i, name in enumerate(names):
        sheet.text(side + 6, 30 + 22 * i, f"{i + 1}  {_shortened(name, 24)}", 13)
    sheet.text(side + 6, side - 40, "Area: share of the picture", 11, "#4a4a4a")
    sheet.text(side + 6, side - 22, "Distance from the middle: chroma", 11, "#4a4a4a")
    return sheet.pixels()


def distance_table(palettes: Sequence[Palette], names: Sequence[str], cell: int = 62) -> PixelsRgb:
    """Palette distances of every pair, as numbers on a grey ramp: the darker the further.

    Parameters
    ----------
    palettes, names
        One each, up to 24.
    cell
        Side of a cell, px.

    Raises
    ------
    ColourError
        If there are none, or more than can be drawn legibly.
    """
    _check(palettes, names)
    count, left, top = len(palettes), 190, 40
    sheet = _Sheet.of(left + count * cell + 20, top + count * cell + 50)
    distances = pairwise_distances(palettes)
    most = max(float(distances.max()), 1e-9)
    for i in range(count):
        sheet.text(
            left - 10,
            top + (i + 0.5) * cell,
            f"{_shortened(names[i], 20)}  {i + 1}",
            13,
            anchor="rm",
        )
        sheet.text(left + (i + 0.5) * cell, top - 14, str(i + 1), 13, anchor="mm")
        for j in range(count):
            grey = round(255 - 190 * float(distances[i, j]) / most)
            fill = f"#{grey:02x}{grey:02x}{grey:02x}"
            x, y = left + j * cell, top + i * cell
            sheet.box(x, y, x + cell, y + cell, fill)
            words = f"{distances[i, j]:.0f}"
            sheet.text(x + cell / 2, y + cell / 2, words, 15, _ink_on(fill), "mm")
    sheet.text(
        left,
        top + count * cell + 24,
        "Colour distance of each pair (CIEDE2000): the darker the further",
        12,
        "#4a4a4a",
    )
    return sheet.pixels()


def room_against_art(
    room: Palette, palettes: Sequence[Palette], names: Sequence[str], width: int = 900
) -> PixelsRgb:
    """Room's strip above each piece's, with how far apart they are in a number and words.

    Parameters
    ----------
    room
        Palette of the room.
    palettes, names
        One a piece, up to 24.
    width
        Of the picture, px.

    Raises
    ------
    ColourError
        If there are no pieces, or more than can be drawn legibly.
    """
    _check(palettes, names)
    left, right, strip, row = 170, 150, 34, 94
    sheet = _Sheet.of(width, row * len(palettes) + 16)
    for i, (palette, name) in enumerate(zip(palettes, names, strict=True)):
        top = 12 + i * row
        judged = judge_room(palette, room)
        sheet.text(12, top + strip / 2, "room", 14, "#4a4a4a")
        sheet.text(12, top + 1.5 * strip, _shortened(name, 20), 15)
        _strip(sheet, room, left, top, width - right, top + strip)
        _strip(sheet, palette, left, top + strip, width - right, top + 2 * strip)
        sheet.text(width - right + 14, top + strip - 10, f"{judged.value:.0f} apart", 15)
        words = judged.band if judged.trusted else f"{judged.band}?"
        sheet.text(width - right + 14, top + strip + 12, words, 13, "#4a4a4a")
    return sheet.pixels()


def _check(palettes: Sequence[Palette], names: Sequence[str]) -> None:
    if len(palettes) != len(names):
        raise ValueError(f"expected a name for each of {len(palettes)} palettes, got {len(names)}")
    if not palettes:
        raise ColourError("There are no palettes to draw.", hint="Add a piece with an artwork.")
    if len(palettes) > _MOST_PIECES:
        raise ColourError(
            f"{len(palettes)} palettes do not fit on one picture.",
            hint=f"Choose {_MOST_PIECES} pieces or fewer.",
        )


def _strip(
    sheet: _Sheet, palette: Palette, left: float, top: float, right: float, bottom: float
) -> None:
    """Swatches side by side, as wide as their shares, each with its letter."""
    edges = left + (right - left) * np.concatenate([[0.0], np.cumsum(palette.shares)])
    for k, swatch in enumerate(palette.swatches):
        start, end = float(edges[k]), float(edges[k + 1])
        sheet.box(start, top, end, bottom, swatch.hex, swatch.hex)
        if end - start >= 14:
            middle = (start + end) / 2
            sheet.text(middle, (top + bottom) / 2, _letter(k), 14, _ink_on(swatch.hex), "mm")
    sheet.draw.rectangle([2 * left, 2 * top, 2 * right, 2 * bottom], None, _LINE, 2)


def _described(swatch: Swatch) -> str:
    accent = ", accent" if swatch.accent else ""
    return f"{100 * swatch.share:.0f} %  {swatch.word}{accent}  L*{swatch.lab[0]:.0f}  {swatch.hex}"


def _ink_on(code: str) -> str:
    """Black or white, whichever can be read better on a colour."""
    ground: NDArray[np.uint8] = from_hex(code)
    on_white = float(contrast_ratio(ground, from_hex("#ffffff")))
    return "#ffffff" if on_white >= float(contrast_ratio(ground, from_hex(_INK))) else _INK


def _turned(middle: float, reach: float, hue_deg: float) -> tuple[float, float]:
    angle = np.radians(hue_deg)
    return float(middle + reach * np.cos(angle)), float(middle - reach * np.sin(angle))


def _letter(k: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[k % 26]


def _shortened(words: str, most: int) -> str:
    return words if len(words) <= most else words[: most - 1] + "…"
