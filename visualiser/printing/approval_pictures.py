"""Pictures for the client: each option as a file that can be sent, and all on one picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from visualiser.arrangement.arrangement import Arrangement
from visualiser.colour.extraction import extract_palette
from visualiser.colour.palette import Palette
from visualiser.colour.theme import overall_palette
from visualiser.inventory.piece import Artwork
from visualiser.photo.encoding import encode_jpeg, encode_png
from visualiser.printing.approval import ApprovalOption, ApprovalSheet
from visualiser.printing.fonts import set_line
from visualiser.rendering.elevation import draw_elevation
from visualiser.units import format_both

MESSAGE_PX = 1600
"""Longest side of the small version: what messaging programs send without shrinking it further."""
_GAP_PX = 40
_PAPER, _INK, _SOFT = "#ffffff", "#1a1a1a", "#5a5a5a"


@dataclass(frozen=True, slots=True)
class OptionPicture:
    """One option as JPEG files with an sRGB profile, a title, and nothing private."""

    letter: str
    title: str
    full: bytes
    small: bytes


def option_pictures(sheet: ApprovalSheet) -> tuple[OptionPicture, ...]:
    """Encode every option: at full size, and small for messages.

    Options without a mock-up are shown as the wall drawn straight on.
    """
    pictures = []
    for option, letter in zip(sheet.options, sheet.letters(), strict=True):
        title = f"{sheet.title}, option {letter}"
        if option.arrangement.name:
            title += f": {option.arrangement.name}"
        pixels = _pixels(option, sheet, 2400)
        pictures.append(
            OptionPicture(
                letter,
                title,
                encode_jpeg(pixels, 95, title),
                encode_jpeg(_shrunk(pixels, MESSAGE_PX), 85, title),
            )
        )
    return tuple(pictures)


def approval_png(sheet: ApprovalSheet, width_px: int = 2400) -> bytes:
    """Draw all options on one picture: over the photo, and straight on at one scale.

    Raises
    ------
    ValueError
        If the picture would be too narrow for its options.
    """
    count = len(sheet.options)
    column = (width_px - (count + 1) * _GAP_PX) // count
    if column < 300:
        raise ValueError(f"{count} options need at least {count * 340 + 40} px, got {width_px}")
    cells = [
        _column(option, letter, sheet, column)
        for option, letter in zip(sheet.options, sheet.letters(), strict=True)
    ]
    height = max(cell.height for cell in cells) + 3 * _GAP_PX + 30
    image = Image.new("RGB", (width_px, height), _PAPER)
    draw = ImageDraw.Draw(image)
    heading = " · ".join(
        part
        for part in (
            sheet.title,
            sheet.date,
            f"revision {sheet.revision}" if sheet.revision else "",
        )
        if part
    )
    _write(draw, (_GAP_PX, _GAP_PX), heading, 34, _INK, width_px - 2 * _GAP_PX)
    for index, cell in enumerate(cells):
        image.paste(cell, (_GAP_PX + index * (column + _GAP_PX), 2 * _GAP_PX + 30))
    return encode_png(np.asarray(image), f"{sheet.title}: for approval")


_PALETTES: WeakKeyDictionary[Artwork, Palette] = WeakKeyDictionary()
"""Palettes of artworks in use: the options of a job show the same ones."""


def group_palette(arrangement: Arrangement) -> Palette | None:
    """Colours of all placed pictures together, each by the area it shows; None without pictures."""
    palettes, areas = [], []
    for placement in arrangement.placements:
        piece = arrangement.piece(placement.piece_id)
        if piece.artwork is not None:
            if piece.artwork not in _PALETTES:
                _PALETTES[piece.artwork] = extract_palette(piece.artwork.pixels)
            palettes.append(_PALETTES[piece.artwork])
            areas.append(piece.window_mm[0] * piece.window_mm[1])
    return overall_palette(palettes, areas) if palettes else None


def _column(option: ApprovalOption, letter: str, sheet: ApprovalSheet, width: int) -> Image.Image:
    # The survey is the same for all, so the drawings come out at one scale.
    small = _with_small_artworks(option.arrangement, width // 2)
    drawn = Image.fromarray(draw_elevation(small, sheet.survey, width_px=width, dimensions=False))
    parts = [drawn]
    if option.mockup is not None:
        photo = Image.fromarray(option.mockup)
        size = (width, max(round(photo.height * width / photo.width), 1))
        parts.insert(0, photo.resize(size, Image.Resampling.LANCZOS, reducing_gap=3.0))
    height = 44 + sum(part.height + 16 for part in parts) + 2 * 34
    column = Image.new("RGB", (width, height), _PAPER)
    draw = ImageDraw.Draw(column)
    name = option.arrangement.name or option.arrangement.family
    _write(draw, (0, 0), f"{letter}  {name}", 28, _INK, width)
    y = 44
    for part in parts:
        column.paste(part, (0, y))
        y += part.height + 16
    bounds = option.arrangement.bounds
    size_text = f"{format_both(bounds.width_mm)} × {format_both(bounds.height_mm)}"
    _write(draw, (0, y), size_text, 22, _SOFT, width)
    centre = f"centre {format_both(bounds.centre_mm[1])} up"
    _write(draw, (0, y + 34), centre, 22, _SOFT, width)
    return column


def _pixels(option: ApprovalOption, sheet: ApprovalSheet, width: int) -> NDArray[np.uint8]:
    if option.mockup is not None:
        return option.mockup
    return draw_elevation(option.arrangement, sheet.survey, width_px=width)


def _with_small_artworks(arrangement: Arrangement, enough_px: int) -> Arrangement:
    """Reduce each picture, by whole factors and so quickly, to what a small drawing can show."""
    pieces = []
    for piece in arrangement.pieces:
        artwork = piece.artwork
        if artwork is not None and (factor := max(artwork.pixels.shape) // enough_px) > 1:
            small = np.asarray(Image.fromarray(artwork.pixels).reduce(factor))
            piece = replace(piece, artwork=Artwork(small, artwork.name))
        pieces.append(piece)
    return replace(arrangement, pieces=tuple(pieces))


def _shrunk(pixels: NDArray[np.uint8], longest_px: int) -> NDArray[np.uint8]:
    image = Image.fromarray(np.ascontiguousarray(pixels))
    image.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS, reducing_gap=3.0)
    return np.asarray(image)


def _write(
    draw: ImageDraw.ImageDraw,
    place: tuple[int, int],
    text: str,
    size_px: int,
    colour: str,
    most_px: int,
) -> None:
    """Write one line, smaller where it would not fit."""
    setting = set_line(text)
    font = setting.on_picture(size_px)
    wide = font.getlength(setting.text)
    if wide > most_px:
        font = setting.on_picture(max(int(size_px * most_px / wide), 8))
    draw.text(place, setting.text, font=font, fill=colour)
