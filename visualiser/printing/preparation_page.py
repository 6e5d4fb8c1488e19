"""The plan's page of preparation: papers to cut, things to buy, steps on the wall."""

from __future__ import annotations

from collections.abc import Sequence

from visualiser.hanging.plan import HangingPlan
from visualiser.printing.drawing_scale import fit_scale, scale_text
from visualiser.printing.page import FLOOR_MM, MARGIN_MM, SOFT, TINT, NewPage, Page
from visualiser.units import Unit, format_both, format_length

_UNITS: tuple[Unit, ...] = ("mm", "in")


def preparation_page(plan: HangingPlan, new_page: NewPage) -> None:
    """Print the papers to cut from a roll, what to buy, and the work on the wall in steps."""
    page, y = new_page("Paper to cut, and what to buy")
    cuts = plan.cuts
    column = page.width_mm / 2
    room = (column - 2 * MARGIN_MM, y - FLOOR_MM - 24)
    # A long roll lies on its side: along the roll is down the page while it fits, else it shrinks.
    denominator = fit_scale(cuts.roll_width_mm, cuts.length_mm, room)
    low = y - 12 - cuts.length_mm / denominator
    page.text(
        MARGIN_MM,
        y - 4,
        f"Roll {format_both(cuts.roll_width_mm)} wide, {format_both(cuts.length_mm)} long",
        9,
        bold=True,
        role="H2",
    )
    page.box(
        MARGIN_MM, low, cuts.roll_width_mm / denominator, cuts.length_mm / denominator, 0.4,
        colour=SOFT, fill=TINT,
    )  # fmt: skip
    numbers = {piece.piece.id: piece.number for piece in plan.pieces}
    for cut in cuts.cuts:
        x = MARGIN_MM + cut.rect.x_mm / denominator
        bottom = low + cut.rect.y_mm / denominator
        width, height = cut.rect.width_mm / denominator, cut.rect.height_mm / denominator
        page.box(x, bottom, width, height, 0.6, fill="#ffffff")
        size = max(min(11.0, height * 1.2, width), 4.0)
        middle = (x + width / 2, bottom + height / 2)
        page.text(
            middle[0], middle[1] - size * 0.15, str(numbers[cut.piece_id]), size,
            bold=True, align="centre",
        )  # fmt: skip
        for row, unit in enumerate(_UNITS):
            if height > 20 and width > 22:
                sides = (cut.rect.width_mm, cut.rect.height_mm)
                across, along = (
                    format_length(side, unit).removesuffix(f" {unit}") for side in sides
                )
                label = f"{across} × {along}" + (" in" if unit == "in" else "")
                low_line = bottom + 3.6 - 2.6 * row
                page.text(middle[0], low_line, label, 6, align="centre", most_mm=width - 1)
    page.text(
        MARGIN_MM, low - 4, scale_text(denominator) + "; sizes: table of hooks", 7.5, colour=SOFT
    )

    y = _list(
        page, column, y - 4, "What to buy",
        [f"{p.amount}  {p.what}" + (f": {p.note}" if p.note else "") for p in plan.purchases],
    )  # fmt: skip
    measures, border = plan.measures, plan.border.rect
    corner = border.left_mm if measures.side == "left" else border.right_mm
    _list(
        page,
        column,
        y - 5,
        "On the wall, step by step",
        [
            f"Tape the border: its lower {measures.side} corner is "
            f"{measures.across_in_words(corner)} and "
            f"{format_both(border.bottom_mm)} up. Its inside is "
            f"{format_both(border.width_mm)} across and "
            f"{format_both(border.height_mm)} up; check level, plumb and both "
            f"diagonals ({format_both(plan.border.diagonal_mm)}).",
            "Cut one paper per piece, write its number on it, mark its hook points from the table.",
            "Tape the papers up in the order of their numbers, each level, gaps as listed.",
            "Stand back and look, with whoever decides. Move papers, not holes.",
            "Check for cables and pipes, set the fixings through the papers, tear the papers off.",
            "Hang in order, level each, and put felt dots on the lower corners.",
        ],
        numbered=True,
    )


def _list(
    page: Page, x: float, y: float, heading: str, items: Sequence[str], numbered: bool = False
) -> float:
    page.text(x, y, heading, 9, bold=True, role="H2")
    y -= 6
    for index, item in enumerate(items, start=1):
        page.text(x, y, f"{index}." if numbered else "–", 8.5)
        y = page.paragraph(x + 6, y, page.width_mm - x - 6 - MARGIN_MM, item, 8.5) - 0.8
    return y
