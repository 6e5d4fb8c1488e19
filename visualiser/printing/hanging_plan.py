"""The measured plan as a PDF: wall, hooks, what holds them, paper to cut, cautions."""

from __future__ import annotations

import math

from visualiser.geometry import Rect
from visualiser.hanging.cautions import GENERAL
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.booklet import Booklet
from visualiser.printing.drawing_scale import scale_text
from visualiser.printing.hook_table import hook_pages
from visualiser.printing.load_table import load_pages
from visualiser.printing.page import FLOOR_MM, INK, MARGIN_MM, SOFT, NewPage, Page
from visualiser.printing.preparation_page import preparation_page
from visualiser.printing.wall_drawing import draw_wall
from visualiser.sizes import PaperSize, paper_size
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import INCH_STEP, MM_PER_INCH, format_both, format_length, rounding_note

_SIXTEENTH_MM = MM_PER_INCH / INCH_STEP


def plan_pdf(plan: HangingPlan, paper: PaperSize | None = None, title: str = "") -> bytes:
    """Print a hanging plan.

    Parameters
    ----------
    plan
        What is to be hung.
    paper
        Sheet, used on its side; A4 when None.
    title
        Heading; the arrangement's name when empty.

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
        new.text(MARGIN_MM, size[1] - 14, heading, 14, bold=True, role="H1")
        return new, size[1] - 20

    _wall_page(plan, page)
    hook_pages(plan, page)
    load_pages(plan, page)
    preparation_page(plan, page)
    _caution_page(plan, page)
    return booklet.to_bytes()


def _wall_page(plan: HangingPlan, new_page: NewPage) -> None:
    page, y = new_page("The wall and where the hooks go")
    area = Rect(MARGIN_MM, 26, page.width_mm - 2 * MARGIN_MM, y - 26)
    frame = draw_wall(page, plan, area)
    page.text(
        page.width_mm - MARGIN_MM,
        page.height_mm - 14,
        scale_text(frame.denominator),
        9,
        align="right",
        colour=SOFT,
    )
    text = (
        f"{_accuracy(plan)} Every place is measured from the same two datums and "
        f"{rounding_note('mm')}, or {rounding_note('in')}; never add distances up from piece to "
        "piece. Dashed: tape border round the group, measured inside the tape; it is square when "
        f"both diagonals are {format_both(plan.border.diagonal_mm)}. Numbers: order of hanging. "
        "Crosses: hooks." + (" Tinted bands: cables may run here." if _has_bands(plan) else "")
    )
    page.paragraph(MARGIN_MM, 20, page.width_mm - 2 * MARGIN_MM, text, 8)


def _has_bands(plan: HangingPlan) -> bool:
    return any(zone.kind in POINTS_WITH_CABLES for zone in plan.survey.zones)


def _accuracy(plan: HangingPlan) -> str:
    measures = plan.measures
    if plan.survey.plane is None and plan.survey.floor_sigma_mm == 0:
        return "The wall's size was typed: measure it before the first hole."
    heights, across = (
        f"± {max(math.ceil(half), 1)} mm ({format_length(max(half, _SIXTEENTH_MM), 'in')})"
        for half in (measures.up_half_width_mm, measures.across_half_width_mm)
    )
    return (
        f"Measured from the photo, 95 %: heights are good to {heights}, distances from the side to "
        f"{across}; sizes and gaps are exact as planned."
    )


def _caution_page(plan: HangingPlan, new_page: NewPage) -> None:
    page, y = new_page("Cautions")
    wide = page.width_mm - 2 * MARGIN_MM
    if plan.accepted:
        text = f"Answered for, in the person's own words: “{plan.accepted}”"
        y = page.paragraph(MARGIN_MM, y, wide, text, 10, bold=True) - 2
    marks = {"broken": "STOP", "caution": "CAUTION", "advice": "Advice", "note": "Note"}
    for finding in plan.findings:
        if y < FLOOR_MM + 14:
            page, y = new_page("Cautions, continued")
        strong = finding.severity in ("broken", "caution")
        page.text(MARGIN_MM, y, marks[finding.severity], 8.5, bold=strong)
        y = page.paragraph(MARGIN_MM + 22, y, wide - 22, finding.text, 8.5, bold=strong)
        y = page.paragraph(MARGIN_MM + 22, y, wide - 22, finding.hint, 8.5, colour=INK) - 1.5
    if y < FLOOR_MM + 50:
        page, y = new_page("Cautions for every wall")
    else:
        page.text(MARGIN_MM, y - 4, "For every wall", 10, bold=True, role="H2")
        y -= 10
    for text in GENERAL:
        page.text(MARGIN_MM, y, "–", 8.5)
        y = page.paragraph(MARGIN_MM + 6, y, wide - 6, text, 8.5) - 1.5
