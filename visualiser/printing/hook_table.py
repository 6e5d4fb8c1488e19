"""The plan's table of hooks: where each goes, from which datum, and the gap to check."""

from __future__ import annotations

from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.page import FLOOR_MM, MARGIN_MM, NewPage, Page
from visualiser.printing.table import Cell, Column, draw_table, name_and_mark
from visualiser.units import format_length


def hook_pages(plan: HangingPlan, new_page: NewPage) -> None:
    """Print where every hook goes, and how the drop to it is measured."""
    page, y = new_page("Hooks, in the order of hanging")
    wide = page.width_mm - 2 * MARGIN_MM
    datum = "the floor" if plan.measures.floor_known else "the height datum"
    y = page.paragraph(
        MARGIN_MM,
        y,
        wide,
        "Mark the hook's bearing point, where wire or ring will rest, not the nail hole: hold the "
        "hook with its bearing point on the mark and let it show where the nail goes. Check the "
        "gap to the piece hung before.",
        8.5,
    )
    shares = (0.055, 0.165, 0.14, 0.16, 0.11, 0.11, 0.12, 0.14)
    headings = (
        "Hook",
        "Piece",
        "Outside size, width by height",
        "Hanger, drop from top edge",
        f"From {plan.measures.across_from}",
        f"From {datum}",
        "From the group's centre line",
        "Gap to piece hung before",
    )
    columns = [Column(h, s * wide) for h, s in zip(headings, shares, strict=True)]
    rows = [row for piece in plan.pieces for row in _hook_rows(plan, piece)]
    page, y = draw_table(page, y, columns, rows, lambda: new_page("Hooks, continued"))
    if y < FLOOR_MM + 46:
        page, y = new_page("How the drop is measured")
    _drop_drawing(page, y - 8)


def _hook_rows(plan: HangingPlan, piece: PiecePlan) -> list[list[Cell]]:
    size = [
        " × ".join(format_length(v, unit) for v in (piece.rect.width_mm, piece.rect.height_mm))
        for unit in ("mm", "in")
    ]
    name = name_and_mark(piece.piece.called, piece.piece.id)
    hanger = [piece.piece.hanger.of.words, *_drop_lines(piece)]
    gap: list[str] = []
    if piece.neighbour:
        other, place, distance = piece.neighbour
        number = next(p.number for p in plan.pieces if p.piece.id == other)
        gap = [*_lines(distance), f"{place} {number}"]
    middle, across = plan.border.rect.centre_mm[0], plan.measures.across
    rows: list[list[Cell]] = []
    for hook_name, (x, y) in zip(piece.hook_names(), piece.hooks_mm, strict=True):
        first = not rows
        offset = x - middle
        where = "" if abs(offset) < 0.5 else " right" if offset > 0 else " left"
        rows.append(
            [
                [hook_name],
                name if first else [],
                size if first else [],
                hanger if first else [],
                [across(x, "mm"), across(x, "in")],
                _lines(y),
                [f"{format_length(abs(offset), unit)}{where}" for unit in ("mm", "in")],
                gap if first else [],
            ]
        )
    if not rows:
        left, top = piece.rect.left_mm, piece.rect.top_mm
        corner = left if plan.measures.side == "left" else piece.rect.right_mm
        rows.append(
            [
                [str(piece.number)],
                name,
                size,
                hanger,
                [across(corner, "mm"), across(corner, "in"), "upper corner of frame"],
                [*_lines(top), "top edge of frame"],
                [],
                gap,
            ]
        )
    return rows


def _drop_lines(piece: PiecePlan) -> list[str]:
    bearing = piece.bearing
    if bearing.kind == "strips":
        return ["no hook: mark the corners"]
    lines = _lines(bearing.drop_mm)
    if bearing.drop_origin == "assumed":
        lines.append("ASSUMED: measure first")
    elif bearing.drop_origin == "from the wire":
        lines.append("from the wire's length")
    return lines


def _lines(length_mm: float) -> list[str]:
    return [format_length(length_mm, "mm"), format_length(length_mm, "in")]


def _drop_drawing(page: Page, y: float) -> None:
    """Small drawing of a frame's back with its wire pulled up, and the method in one line."""
    x, width, height = MARGIN_MM + 2, 34.0, 30.0
    page.box(x, y - height, width, height, 1.0)
    page.box(x + 2.5, y - height + 2.5, width - 5, height - 5, 0.4)
    left, right, peak = (x + 4, y - 14), (x + width - 4, y - 14), (x + width / 2, y - 6)
    page.line([left, peak, right], 0.8)
    page.circle(*peak, 0.9, 0.6, fill="#ffffff")
    page.line([(x + width / 2, y), (x + width + 9, y)], 0.3)
    page.line([peak, (x + width + 9, peak[1])], 0.3)
    at = x + width + 7
    page.arrow((at, y + 6), (at, y), 0.5)
    page.arrow((at, peak[1] - 6), (at, peak[1]), 0.5)
    page.text(at + 2, (y + peak[1]) / 2 - 1, "drop", 8.5, bold=True)
    page.paragraph(
        at + 16,
        y - 2,
        page.width_mm - at - 16 - MARGIN_MM,
        "The drop, seen from the back: pull the wire up with the tape's end until it is taut (with "
        "two fingers as far apart as the hooks, for two hooks) and read from there to the top "
        "edge. D-rings and sawtooth: from the top edge down to where the ring or teeth will bear. "
        "Then hook height = height of the frame's top edge − drop.",
        8.5,
    )
