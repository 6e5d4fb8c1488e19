"""The reference target as a page: the board at true size, a bar to check by, and how to use it."""

from __future__ import annotations

from visualiser.errors import PrintingError
from visualiser.printing.booklet import Booklet
from visualiser.printing.page import INK, SOFT, Page
from visualiser.rectification.finder.target import CHECK_BAR_MM, target_board
from visualiser.rectification.kinds import TARGETS
from visualiser.sizes import paper_size

BAR_BELOW_MM = 14.0
"""From the board to the check bar: white enough for the board's quiet border."""

_STEPS = (
    "Print at 100 % (“actual size”), without fitting to the page, on matt white paper.",
    "Measure the bar above. If it is not 100 mm, give its length with the photo: the wall is "
    "then measured by what was printed.",
    "Tape the whole page flat on the wall, at about the pictures’ height; any way up will do.",
    "Photograph the whole wall with it: it is read from six metres of wall across (20 ft).",
    "Where a height above the floor is asked for, measure to the lowest edge of the page.",
)


def target_pdf(paper: str = "a4") -> bytes:
    """Print the reference target.

    Parameters
    ----------
    paper
        ``a4`` or ``letter``.

    Returns
    -------
    A PDF of one page, to be printed at 100 %.

    Raises
    ------
    PrintingError
        If there is no target for that paper.
    """
    kinds = {sheet: kind for kind, sheet in TARGETS.items()}
    name = paper.strip().lower()
    if name not in kinds:
        raise PrintingError(
            f"There is no target for “{paper}” paper.",
            hint=f"Use {' or '.join(kinds)}.",
        )
    board, sheet = target_board(kinds[name]), paper_size(name)
    booklet = Booklet("Reference target", "A board of known size, to measure a wall by its photo.")
    page = booklet.page(sheet.width_mm, sheet.height_mm, "Reference target", footer=False)
    left, bottom = board.left_mm, board.bottom_mm
    for rect, black in board.painted():
        page.box(
            left + rect.left_mm,
            bottom + rect.bottom_mm,
            rect.width_mm,
            rect.height_mm,
            0,
            fill="#000000" if black else "#ffffff",
        )
    _check_bar(page, left, bottom - BAR_BELOW_MM)
    page.text(
        left + board.width_mm,
        bottom - BAR_BELOW_MM - 1.0,
        f"{kinds[name]} · page {sheet.width_mm:.0f} × {sheet.height_mm:.0f} mm",
        8,
        align="right",
        colour=SOFT,
    )
    _how_to(page, left, bottom - BAR_BELOW_MM - 8, board.width_mm)
    _lower_edge(page, sheet.width_mm / 2)
    return booklet.to_bytes()


def _check_bar(page: Page, left_mm: float, y_mm: float) -> None:
    """Draw the bar; it runs from the outer edge of one end mark to that of the other."""
    right = left_mm + CHECK_BAR_MM
    page.box(left_mm, y_mm - 0.4, CHECK_BAR_MM, 0.8, 0, fill=INK)
    for x in (left_mm, right - 0.5):
        page.box(x, y_mm - 3, 0.5, 6, 0, fill=INK)
    page.text(left_mm + CHECK_BAR_MM / 2, y_mm + 1.8, "check bar: 100 mm", 8, align="centre")


def _lower_edge(page: Page, x_mm: float) -> None:
    """Mark the edge that heights are measured to: the page's, not the board's."""
    y_mm = 8.0
    page.text(
        x_mm, y_mm, "lower edge: heights above the floor are measured to here", 8, align="centre"
    )
    for aside in (-42.0, 42.0):
        page.box(x_mm + aside - 0.2, 4.5, 0.4, y_mm - 3.0, 0, fill=INK)
        page.box(x_mm + aside - 1.5, 4.5, 3.0, 0.4, 0, fill=INK)


def _how_to(page: Page, left_mm: float, y_mm: float, width_mm: float) -> None:
    for number, step in enumerate(_STEPS, 1):
        page.text(left_mm, y_mm, f"{number}", 8.5, bold=True)
        y_mm = page.paragraph(left_mm + 5, y_mm, width_mm - 5, step, 8.5) - 0.6
