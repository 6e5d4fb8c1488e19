"""The reference target as a page: the board at true size, a bar to check by, and how to use it."""

from __future__ import annotations

from visualiser.errors import PrintingError
from visualiser.printing.booklet import Booklet
from visualiser.printing.page import INK, SOFT, Page
from visualiser.rectification.finder.target import CHECK_BAR_MM, target_board
from visualiser.rectification.kinds import TARGETS
from visualiser.sizes import paper_size

MARGIN_MM = 14.0
"""Clear of what office printers leave white: common practice, no source."""
QUIET_MM = 8.0
"""White around the board, without which its outer markers are not seen."""

_EDGE_MARK_MM = 7.0
_STEPS = (
    "Print at 100 % (“actual size”), without fitting to the page, on matt white paper.",
    "Measure the bar above. If it is not 100 mm, give its length with the photo: the wall is "
    "then measured by what was printed.",
    "Tape the page flat on the wall, at about the height of the pictures; any way up will do.",
    "A height that you type is the board's lower edge above the floor: of the black and white "
    "board as it hangs, not of the paper.",
    "Photograph the whole wall with it, from as far as the pictures are to be seen.",
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
    left = (sheet.width_mm - board.width_mm) / 2
    bottom = sheet.height_mm - MARGIN_MM - QUIET_MM / 2 - board.height_mm
    for rect, black in board.painted():
        page.box(
            left + rect.left_mm,
            bottom + rect.bottom_mm,
            rect.width_mm,
            rect.height_mm,
            0,
            fill="#000000" if black else "#ffffff",
        )
    _lower_edge(page, left, bottom, board.width_mm)
    _check_bar(page, left, bottom - QUIET_MM - 8)
    _how_to(page, left, bottom - QUIET_MM - 17, board.width_mm)
    page.text(
        left + board.width_mm,
        bottom - QUIET_MM - 5.5,
        f"{kinds[name]} · {board.width_mm:.0f} × {board.height_mm:.0f} mm",
        8,
        align="right",
        colour=SOFT,
    )
    return booklet.to_bytes()


def _lower_edge(page: Page, left_mm: float, y_mm: float, width_mm: float) -> None:
    """Mark the edge that heights are measured to, clear of the white that the board needs."""
    for start, way in ((left_mm - QUIET_MM, -1), (left_mm + width_mm + QUIET_MM, 1)):
        page.line([(start, y_mm), (start + way * _EDGE_MARK_MM, y_mm)], 0.8)
        page.arrow((start + way * 4, y_mm - 9), (start + way * 4, y_mm), 0.6)
    at = left_mm - QUIET_MM - 4
    page.text(at + 1.4, y_mm - 11, "height", 8, angle_deg=-90, bold=True)


def _check_bar(page: Page, left_mm: float, y_mm: float) -> None:
    """Draw the bar; it runs from the outer edge of one end mark to that of the other."""
    right = left_mm + CHECK_BAR_MM
    page.box(left_mm, y_mm - 0.4, CHECK_BAR_MM, 0.8, 0, fill=INK)
    for x in (left_mm, right - 0.5):
        page.box(x, y_mm - 3, 0.5, 6, 0, fill=INK)
    page.text(left_mm + CHECK_BAR_MM / 2, y_mm + 1.8, "check bar: 100 mm", 8, align="centre")


def _how_to(page: Page, left_mm: float, y_mm: float, width_mm: float) -> None:
    for number, step in enumerate(_STEPS, 1):
        page.text(left_mm, y_mm, f"{number}", 8.5, bold=True)
        y_mm = page.paragraph(left_mm + 5, y_mm, width_mm - 5, step, 8.5) - 0.6
