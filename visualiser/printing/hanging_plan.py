"""The measured plan as a PDF: hooks and cautions, the wall, what holds the pieces, the work."""

from __future__ import annotations

from visualiser.geometry import Rect
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.booklet import Booklet
from visualiser.printing.drawing_scale import scale_text
from visualiser.printing.hook_list import hook_list
from visualiser.printing.load_table import load_pages
from visualiser.printing.page import MARGIN_MM, SOFT, NewPage, Page
from visualiser.printing.preparation_page import preparation_page
from visualiser.printing.wall_drawing import draw_wall
from visualiser.sizes import PaperSize, paper_size
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import format_both, rounding_note


def plan_pdf(plan: HangingPlan, paper: PaperSize | None = None, title: str = "") -> bytes:
    """Print a hanging plan.

    Parameters
    ----------
    plan
        What is to be hung.
    paper
        Sheet, used on its side; A4 when None.
    title
        The job's name, on every page; the arrangement's name when empty.

    Returns
    -------
    A PDF; the same plan gives the same bytes.

    Raises
    ------
    PrintingError
        If the wall does not fit on the paper.
    """
    sheet = paper or paper_size("a4")
    size = (sheet.height_mm, sheet.width_mm)
    name = title or plan.arrangement.name or "Hanging plan"
    booklet = Booklet(
        name if "plan" in name.lower() else f"{name}: hanging plan",
        "Hooks, loads, fixings, measures and cautions for hanging a group of pictures",
    )

    def page(heading: str) -> tuple[Page, float]:
        new = booklet.page(*size, heading)
        room = size[0] - 2 * MARGIN_MM
        used = new.text(MARGIN_MM, size[1] - 13, heading, 15, bold=True, role="H1", most_mm=room)
        if room - used > 30:
            right, left = size[0] - MARGIN_MM, room - used - 8
            new.text(right, size[1] - 13, name, 12, align="right", colour=SOFT, most_mm=left)
        return new, size[1] - 20

    shown = hook_list(plan, page)
    _wall_page(plan, page)
    bought = load_pages(plan, page)
    preparation_page(plan, page, shown, bought)
    return booklet.to_bytes()


def _wall_page(plan: HangingPlan, new_page: NewPage) -> None:
    page, y = new_page("The wall and where the hooks go")
    area = Rect(MARGIN_MM, 21, page.width_mm - 2 * MARGIN_MM, y - 19)
    frame = draw_wall(page, plan, area)
    text = (
        f"Drawn to {scale_text(frame.denominator)}. Each number has its hook's name before it, "
        "is measured from the same two datums and "
        f"{rounding_note('mm')}, or {rounding_note('in')}; never add up from piece to piece. "
        "Dashed: tape border, measured inside, square when both diagonals are "
        f"{format_both(plan.border.diagonal_mm)}."
        + (" Tinted: cables may run here." if _has_bands(plan) else "")
        + (" Grey lines: studs." if plan.survey.studs.known else "")
    )
    page.paragraph(MARGIN_MM, 17.5, page.width_mm - 2 * MARGIN_MM, text, 8.5)


def _has_bands(plan: HangingPlan) -> bool:
    return any(zone.kind in POINTS_WITH_CABLES for zone in plan.survey.zones)
