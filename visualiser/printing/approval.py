"""The client's sheet: options side by side at one scale, and a place to approve one of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement
from visualiser.colour.palette import Palette
from visualiser.errors import PrintingError
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.printing.booklet import Booklet
from visualiser.printing.drawing_scale import Frame, fit_scale
from visualiser.printing.page import FAINT, MARGIN_MM, SOFT, Page
from visualiser.printing.straight_on import draw_straight_on
from visualiser.printing.table import Cell, Column, draw_table
from visualiser.sizes import PaperSize, paper_size
from visualiser.statistics import COVERAGE_95
from visualiser.survey.survey import Survey
from visualiser.units import format_both, format_length, format_uncertain

PER_PAGE = 3
_GUTTER_MM = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class ApprovalOption:
    """One option the client chooses from.

    Parameters
    ----------
    arrangement
        What hangs where; its name heads the option.
    mockup
        The option over the photo, (H, W, 3) uint8 sRGB; None where the wall was typed.
    palette
        Colours of its pictures together; None to leave it out.
    answer
        What the person says to what is dangerous in it; printed with it.
    reply_key
        What the client's answer names it by; empty where answers are not taken in.
    """

    arrangement: Arrangement
    mockup: NDArray[np.uint8] | None = None
    palette: Palette | None = None
    answer: str = ""
    reply_key: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ApprovalSheet:
    """What the client sees.

    Parameters
    ----------
    survey
        The wall all options hang on.
    options
        At least one.
    title
        Of the job.
    date, revision
        As they are to be printed; the program has no clock of its own here.
    bare
        The photo before anything hangs, (H, W, 3) uint8 sRGB; None where the wall was typed.
    """

    survey: Survey
    options: tuple[ApprovalOption, ...]
    title: str = "Picture group"
    date: str = ""
    revision: str = ""
    bare: NDArray[np.uint8] | None = None

    def __post_init__(self) -> None:
        if not self.options:
            raise PrintingError(
                "There is no option to approve.", hint="Save at least one arrangement first."
            )
        for option in self.options:
            if not option.arrangement.placements:
                raise PrintingError(
                    f"Option {option.arrangement.name or 'without a name'} has no piece on the "
                    "wall.",
                    hint="Place its pieces, or leave the option out.",
                )

    def letters(self) -> tuple[str, ...]:
        """Short name of each option: A, B, C, …."""
        return tuple(chr(ord("A") + k % 26) * (1 + k // 26) for k in range(len(self.options)))


def approval_pdf(sheet: ApprovalSheet, paper: PaperSize | None = None) -> bytes:
    """Print the approval sheet.

    Parameters
    ----------
    sheet
        What the client sees.
    paper
        Used on its side; A4 when None.

    Raises
    ------
    PrintingError
        If the wall does not fit on the paper.
    """
    size = paper or paper_size("a4")
    booklet = Booklet(f"{sheet.title}: for approval", "Options side by side at one scale")
    letters = sheet.letters()
    for first in range(0, len(sheet.options), PER_PAGE):
        page = booklet.page(size.height_mm, size.width_mm, f"{sheet.title}: for approval")
        _heading(page, sheet)
        shown = sheet.options[first : first + PER_PAGE]
        _options_page(page, sheet, shown, letters[first : first + PER_PAGE])
    _pieces_pages(booklet, sheet, size)
    return booklet.to_bytes()


def _heading(page: Page, sheet: ApprovalSheet) -> None:
    y = page.height_mm - 14
    room = page.width_mm - 2 * MARGIN_MM
    page.text(MARGIN_MM, y, sheet.title, 14, bold=True, role="H1", most_mm=room * 0.6)
    parts = [sheet.date, f"revision {sheet.revision}" if sheet.revision else ""]
    text = " · ".join(part for part in parts if part)
    page.text(page.width_mm - MARGIN_MM, y, text, 9, align="right", colour=SOFT)


def _options_page(
    page: Page,
    sheet: ApprovalSheet,
    options: Sequence[ApprovalOption],
    letters: Sequence[str],
) -> None:
    # Columns are as wide on the last page as on the first, so that the scale stays one.
    columns = min(len(sheet.options), PER_PAGE)
    wide = (page.width_mm - 2 * MARGIN_MM - (columns - 1) * _GUTTER_MM) / columns
    low = 48.0  # remarks and signature below
    top = page.height_mm - 22
    wall = sheet.survey.outline.bounds
    pictured = any(option.mockup is not None for option in sheet.options)
    height = top - low - 32  # facts, palette and gaps below the pictures
    room = (wide, height * (0.48 if pictured else 1.0))
    denominator = fit_scale(wall.width_mm, wall.height_mm, room)
    for index, (option, letter) in enumerate(zip(options, letters, strict=True)):
        x = MARGIN_MM + index * (wide + _GUTTER_MM)
        name = option.arrangement.name or option.arrangement.family
        page.text(x, top, f"{letter}  {name}", 11, bold=True, role="H2", most_mm=wide)
        y = top - 4
        if option.mockup is not None:
            y = _photo(page, option.mockup, Rect(x, 0, wide, height * 0.52), y, name)
        y -= wall.height_mm / denominator + 1
        frame = Frame(x + (wide - wall.width_mm / denominator) / 2, y, denominator, wall)
        draw_straight_on(page, frame, option.arrangement, sheet.survey)
        y -= 5
        for line in _facts(option.arrangement, sheet.survey):
            page.text(x, y, line, 7.5, most_mm=wide)
            y -= 3.6
        if option.answer:
            said = f"Dangerous as it is placed; answered for with: “{option.answer}”"
            y = page.paragraph(x, y, wide, said, 7.5, bold=True)
        if option.palette is not None:
            _swatches(page, option.palette, x, y - 3.2, wide)
    page.text(
        page.width_mm - MARGIN_MM,
        low - 4,
        f"straight on, scale 1:{denominator} for all options",
        7,
        align="right",
        colour=SOFT,
    )
    _signature(page, letters, low - 8)


def _photo(page: Page, pixels: NDArray[np.uint8], room: Rect, y: float, name: str) -> float:
    """Place a mock-up as large as the room allows, top edge at ``y``; return its lower edge."""
    aspect = int(pixels.shape[1]) / int(pixels.shape[0])
    width = min(room.width_mm, room.height_mm * aspect)
    left = room.x_mm + (room.width_mm - width) / 2
    page.picture(
        pixels, left, y - width / aspect, width, f"{name}: the pictures on the photographed wall"
    )
    return y - width / aspect - 3


def _facts(arrangement: Arrangement, survey: Survey) -> list[str]:
    bounds = arrangement.bounds
    covariance = survey.covariance(np.array([bounds.centre_mm]))[0]
    half = COVERAGE_95 * float(np.sqrt(max(covariance[1, 1], 0.0)))
    centre = bounds.centre_mm[1]
    height = format_length(centre, "mm")
    if half > 0:
        height = f"{format_uncertain(centre, half)} mm"
    datum = "the floor" if survey.floor_known else "the height datum"
    return [
        f"{len(arrangement.placements)} pieces",
        f"group {format_both(bounds.width_mm)} wide",
        f"and {format_both(bounds.height_mm)} high",
        f"centre {height} ({format_length(centre, 'in')}) above {datum}",
    ]


def _swatches(page: Page, palette: Palette, x: float, y: float, wide: float) -> None:
    """Colours as a strip, each as wide as its share."""
    for swatch in palette.swatches:
        page.box(x, y, wide * swatch.share, 4, 0, fill=swatch.hex)
        x += wide * swatch.share
    names = ", ".join(f"{s.word} {100 * s.share:.0f} %" for s in palette.swatches[:3])
    page.text(x - wide, y - 3.4, names, 7, colour=SOFT, most_mm=wide)


def _signature(page: Page, letters: Sequence[str], y: float) -> None:
    page.text(MARGIN_MM, y, "Chosen option", 9, bold=True)
    x = MARGIN_MM + 32
    for letter in letters:
        page.box(x, y - 0.8, 4, 4, 0.7)
        page.text(x + 6, y, letter, 9)
        x += 18
    page.text(MARGIN_MM, y - 9, "Remarks", 9, bold=True)
    right = page.width_mm - MARGIN_MM
    for row in (9.0, 16.0):
        page.line([(MARGIN_MM + 32, y - row - 1), (right, y - row - 1)], 0.4, colour=FAINT)
    page.text(MARGIN_MM, y - 26, "Approved by", 9, bold=True)
    page.line([(MARGIN_MM + 32, y - 27), (right * 0.62, y - 27)], 0.4)
    page.text(right * 0.65, y - 26, "Date", 9, bold=True)
    page.line([(right * 0.65 + 14, y - 27), (right, y - 27)], 0.4)


def _pieces_pages(booklet: Booklet, sheet: ApprovalSheet, size: PaperSize) -> None:
    """List each piece once, with the options that use it."""

    def new_page(heading: str = "Pieces, continued") -> tuple[Page, float]:
        page = booklet.page(size.height_mm, size.width_mm, heading)
        page.text(MARGIN_MM, page.height_mm - 14, heading, 14, bold=True, role="H1")
        return page, page.height_mm - 20

    used: dict[str, list[str]] = {}
    pieces: dict[str, Piece] = {}
    for option, letter in zip(sheet.options, sheet.letters(), strict=True):
        for placement in option.arrangement.placements:
            used.setdefault(placement.piece_id, []).append(letter)
            pieces.setdefault(placement.piece_id, option.arrangement.piece(placement.piece_id))
    page, y = new_page("Pieces")
    wide = page.width_mm - 2 * MARGIN_MM
    shares = (0.14, 0.26, 0.2, 0.24, 0.16)
    headings = ("Mark", "Title", "Outside size", "Frame, mat and glazing", "In options")
    columns = [Column(h, s * wide) for h, s in zip(headings, shares, strict=True)]
    rows = [_piece_row(piece, used[piece_id]) for piece_id, piece in pieces.items()]
    draw_table(page, y, columns, rows, new_page)


def _piece_row(piece: Piece, letters: Sequence[str]) -> list[Cell]:
    size = [
        " × ".join(format_length(v, unit) for v in (piece.width_mm, piece.height_mm))
        for unit in ("mm", "in")
    ]
    frame = ["canvas without frame"]
    if piece.moulding is not None:
        rail = piece.moulding
        frame = [f"{rail.finish}, {rail.profile}, {format_both(rail.width_mm)} wide"]
        mat = "with mat" if piece.mat else "no mat"
        glass = "unglazed" if piece.glazing == "none" else f"{piece.glazing} glazing"
        frame.append(f"{mat}, {glass}")
    return [[piece.id], [piece.name or "–"], size, frame, [", ".join(letters)]]
