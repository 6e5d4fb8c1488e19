"""Tables whose cells hold a few lines, such as millimetres over inches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from visualiser.printing.line_breaking import leading_mm, wrapped
from visualiser.printing.page import FAINT, FLOOR_MM, INK, MARGIN_MM, SOFT, TINT, Align, Page

_PAD_MM = 1.2


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, its width and how cells stand in it."""

    heading: str
    width_mm: float
    align: Align = "left"


Cell = Sequence[str]
"""Lines of a cell; the first is set in ink, those after it softer."""


def name_and_mark(called: str, piece_id: str) -> Cell:
    """Cell that names a piece: its title, with its id below where that is another."""
    return [called] if called == piece_id else [called, f"mark {piece_id}"]


def draw_table(
    page: Page,
    y_mm: float,
    columns: Sequence[Column],
    rows: Sequence[Sequence[Cell]],
    next_page: Callable[[], tuple[Page, float]],
    *,
    x_mm: float = MARGIN_MM,
    size_pt: float = 8.0,
) -> tuple[Page, float]:
    """Draw a table from a height downwards, with its heading again on every further page.

    Parameters
    ----------
    next_page
        Starts a page when the one at hand is full; gives it and the height to go on from.

    Returns
    -------
    The page the table ends on, and the height below it.
    """
    step = leading_mm(size_pt)

    def heading(page: Page, y: float) -> float:
        lines = [wrapped(c.heading, c.width_mm - 2 * _PAD_MM, size_pt, bold=True) for c in columns]
        height = max(len(cell) for cell in lines) * step + 2 * _PAD_MM
        width = sum(c.width_mm for c in columns)
        page.box(x_mm, y - height, width, height, 0, fill=TINT)
        _row(page, y, lines, [0] * len(lines), bold=True)
        return y - height

    def _row(
        page: Page, y: float, cells: Sequence[Cell], inked: Sequence[int], bold: bool = False
    ) -> None:
        x = x_mm
        for column, cell, ink in zip(columns, cells, inked, strict=True):
            at = {
                "left": x + _PAD_MM,
                "centre": x + column.width_mm / 2,
                "right": x + column.width_mm - _PAD_MM,
            }[column.align]
            for index, line in enumerate(cell):
                page.text(
                    at,
                    y - _PAD_MM - (index + 0.8) * step,
                    line,
                    size_pt,
                    bold=bold,
                    align=column.align,
                    colour=INK if bold or index < ink else SOFT,
                    most_mm=column.width_mm - _PAD_MM,
                )
            x += column.width_mm

    y_mm = heading(page, y_mm)
    for cells in rows:
        parts = [
            [wrapped(line, column.width_mm - 2 * _PAD_MM, size_pt) for line in cell]
            for column, cell in zip(columns, cells, strict=True)
        ]
        fitted = [[part for line in cell for part in line] for cell in parts]
        inked = [len(cell[0]) if cell else 0 for cell in parts]
        height = max(len(cell) for cell in fitted) * step + 2 * _PAD_MM
        if y_mm - height < FLOOR_MM:
            page, y_mm = next_page()
            y_mm = heading(page, y_mm)
        _row(page, y_mm, fitted, inked)
        y_mm -= height
        right = x_mm + sum(c.width_mm for c in columns)
        page.line([(x_mm, y_mm), (right, y_mm)], 0.3, colour=FAINT)
    return page, y_mm
