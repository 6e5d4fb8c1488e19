"""Tiling: a piece covered by overlapping sheets of paper, as few as will do."""

from __future__ import annotations

import math
from dataclasses import dataclass

from visualiser.errors import PrintingError
from visualiser.geometry import Rect
from visualiser.sizes import PaperSize
from visualiser.wording import Lengths, sentence

MARGIN_MM = 8.0
"""Edge that office printers leave white: common practice, no source."""
OVERLAP_MM = 16.0
CAPTION_MM = 22.0
"""Band below each tile for the check bars and what the tile is."""
LEAST_TILE_MM = 80.0


@dataclass(frozen=True, slots=True)
class Tile:
    """One page's part of a piece, in the piece's own mm from its lower left corner.

    Parameters
    ----------
    column, row
        From the left and from the top, counted from 0.
    part
        What of the piece the page shows, overlaps included.
    """

    column: int
    row: int
    part: Rect

    @property
    def name(self) -> str:
        """Place in the sheet plan: rows by letter from the top, columns by number."""
        return f"{_letters(self.row)}{self.column + 1}"


def tiles(shown: Rect, tile_width_mm: float, tile_height_mm: float) -> list[Tile]:
    """Cover a rectangle with overlapping tiles, row by row from the top.

    The tiles are as small as the number needed allows, so that the joins share out evenly.

    Raises
    ------
    PrintingError
        If a tile is hardly larger than its overlap.
    """
    if min(tile_width_mm, tile_height_mm) < LEAST_TILE_MM:
        raise PrintingError(
            sentence(
                "The paper leaves only ",
                Lengths((tile_width_mm, tile_height_mm)),
                " for a template.",
            ),
            hint="Use A4, Letter or larger paper.",
        )
    columns = _count(shown.width_mm, tile_width_mm)
    rows = _count(shown.height_mm, tile_height_mm)
    width = (shown.width_mm + (columns - 1) * OVERLAP_MM) / columns
    height = (shown.height_mm + (rows - 1) * OVERLAP_MM) / rows
    found = []
    for row in range(rows):
        for column in range(columns):
            left = shown.left_mm + column * (width - OVERLAP_MM)
            top = shown.top_mm - row * (height - OVERLAP_MM)
            found.append(Tile(column, row, Rect(left, top - height, width, height)))
    return found


def best_tiling(shown: Rect, sheet: PaperSize) -> tuple[tuple[float, float], list[Tile]]:
    """Fewest pages, the sheet upright or on its side."""
    options = []
    for width, height in (
        (sheet.width_mm, sheet.height_mm),
        (sheet.height_mm, sheet.width_mm),
    ):
        room = (width - 2 * MARGIN_MM, height - 2 * MARGIN_MM - CAPTION_MM)
        options.append(((width, height), tiles(shown, *room)))
    return min(options, key=lambda option: len(option[1]))


def _count(length_mm: float, tile_mm: float) -> int:
    return max(1, math.ceil((length_mm - OVERLAP_MM) / (tile_mm - OVERLAP_MM) - 1e-9))


def _letters(row: int) -> str:
    """Count rows by letters: A to Z, then AA, AB, …."""
    name = ""
    row += 1
    while row:
        row, letter = divmod(row - 1, 26)
        name = chr(ord("A") + letter) + name
    return name
