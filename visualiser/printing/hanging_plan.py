"""The measured plan as a PDF: wall, hooks, what holds them, paper to cut, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from visualiser.geometry import Rect
from visualiser.hanging.cautions import GENERAL
from visualiser.hanging.fixings import STRIPS, WALL_NAMES
from visualiser.hanging.loads import GRAVITY
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.inventory.piece import HangerKind
from visualiser.printing.page import INK, SOFT, TINT, Booklet, Page
from visualiser.printing.table import Cell, Column, draw_table
from visualiser.printing.wall_drawing import draw_wall, fit_scale, scale_text
from visualiser.sizes import PaperSize, paper_size
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import (
    INCH_STEP,
    MM_PER_INCH,
    Unit,
    format_both,
    format_length,
    rounding_note,
)

_LB_PER_KG = 1 / 0.45359237
_MARGIN_MM = 12.0
_FLOOR_MM = 14.0
_SIXTEENTH_MM = MM_PER_INCH / INCH_STEP
_UNITS: tuple[Unit, ...] = ("mm", "in")
_HANGERS: dict[HangerKind, str] = {
    "wire": "wire",
    "d-rings": "D-rings",
    "sawtooth": "sawtooth",
    "strips": "adhesive strips",
}


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
        new.text(_MARGIN_MM, size[1] - 14, heading, 14, bold=True, role="H1")
        return new, size[1] - 20

    _wall_page(plan, page)
    _hook_pages(plan, page)
    _load_pages(plan, page)
    _paper_page(plan, page)
    _caution_page(plan, page)
    return booklet.to_bytes()


_NewPage = Callable[[str], tuple[Page, float]]


def _wall_page(plan: HangingPlan, new_page: _NewPage) -> None:
    page, y = new_page("The wall and where the hooks go")
    area = Rect(_MARGIN_MM, 26, page.width_mm - 2 * _MARGIN_MM, y - 26)
    frame = draw_wall(page, plan, area)
    page.text(
        page.width_mm - _MARGIN_MM,
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
    page.paragraph(_MARGIN_MM, 20, page.width_mm - 2 * _MARGIN_MM, text, 8)


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


# --- hooks


def _hook_pages(plan: HangingPlan, new_page: _NewPage) -> None:
    page, y = new_page("Hooks, in the order of hanging")
    wide = page.width_mm - 2 * _MARGIN_MM
    datum = "the floor" if plan.measures.floor_known else "the height datum"
    y = page.paragraph(
        _MARGIN_MM,
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
    if y < _FLOOR_MM + 46:
        page, y = new_page("How the drop is measured")
    _drop_drawing(page, y - 8)


def _hook_rows(plan: HangingPlan, piece: PiecePlan) -> list[list[Cell]]:
    size = [
        " × ".join(format_length(v, unit) for v in (piece.rect.width_mm, piece.rect.height_mm))
        for unit in ("mm", "in")
    ]
    name = [piece.piece.id] + ([piece.piece.name] if piece.piece.name else [])
    hanger = [_HANGERS[piece.bearing.kind], *_drop_lines(piece)]
    gap: list[str] = []
    if piece.neighbour:
        other, place, distance = piece.neighbour
        number = next(p.number for p in plan.pieces if p.piece.id == other)
        gap = [*_lines(distance), f"{place} {number}"]
    middle = plan.border.rect.centre_mm[0]
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
                [plan.measures.across(x, unit) for unit in _UNITS],
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
                [*(plan.measures.across(corner, unit) for unit in _UNITS), "upper corner of frame"],
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
    x, width, height = _MARGIN_MM + 2, 34.0, 30.0
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
        page.width_mm - at - 16 - _MARGIN_MM,
        "The drop, seen from the back: pull the wire up with the tape's end until it is taut (with "
        "two fingers as far apart as the hooks, for two hooks) and read from there to the top "
        "edge. D-rings and sawtooth: from the top edge down to where the ring or teeth will bear. "
        "Then hook height = height of the frame's top edge − drop.",
        8.5,
    )


# --- loads and fixings


def _load_pages(plan: HangingPlan, new_page: _NewPage) -> None:
    page, y = new_page("Loads and fixings")
    wide = page.width_mm - 2 * _MARGIN_MM
    y = page.paragraph(
        _MARGIN_MM,
        y,
        wide,
        f"Wall: {WALL_NAMES[plan.wall]}. What each fixing carries is the whole force at the upper "
        "end of the weight's ± (95 %), with the wire's pull and the lever of a frame that stands "
        f"off the wall. A maker's rating typed in is divided by {plan.safety_factor:g}; without "
        "one the allowance is our own cautious practice without a source, and the maker's rating "
        "governs.",
        8.5,
    )
    shares = (0.05, 0.14, 0.15, 0.12, 0.14, 0.2, 0.2)
    headings = (
        "No.",
        "Piece",
        "Weight",
        "Down, on each hook",
        "Out of the wall; wire",
        "Fixing",
        "Each carries / may carry",
    )
    columns = [Column(h, s * wide) for h, s in zip(headings, shares, strict=True)]
    rows = [_load_row(piece) for piece in plan.pieces]
    page, y = draw_table(page, y, columns, rows, lambda: new_page("Loads and fixings, continued"))
    used = {p.fixing.fixing.name: p.fixing.fixing for p in plan.pieces if p.fixing.fixing}
    y -= 6
    for name, fixing in sorted(used.items()):
        if y < _FLOOR_MM + 8:
            page, y = new_page("Setting the fixings")
        y = page.paragraph(_MARGIN_MM, y, wide, f"{name}: {fixing.advice}", 8.5) - 1


def _load_row(piece: PiecePlan) -> list[Cell]:
    weight, load, fixing = piece.load.weight, piece.load, piece.fixing
    kg, half = weight.kg, 1.96 * weight.sigma_kg
    out = [f"{load.pull_out_n:.0f} N ({load.pull_out_n / 4.4482216:.1f} lbf)"]
    if load.wire_n is not None and load.wire_angle_deg is not None:
        out += [f"wire {load.wire_n:.0f} N", f"at {load.wire_angle_deg:.0f}° from level"]
    elif load.hooks and piece.bearing.kind == "wire":
        out.append("wire: measure its fixing points")
    if fixing.fixing is None:
        what: Cell = ["licensed person", "to choose"]
        carries: Cell = [_mass(fixing.load_kg)]
    else:
        unit = "pairs of " if fixing.fixing.name == STRIPS.name else "× "
        label = "adhesive strips" if fixing.fixing.name == STRIPS.name else fixing.fixing.name
        what = [f"{fixing.count} {unit}{label}"]
        carries = [
            f"{fixing.load_kg:.1f} of {fixing.allowed_kg:.1f} kg "
            f"({fixing.load_kg * _LB_PER_KG:.1f} of {fixing.allowed_kg * _LB_PER_KG:.1f} lb)",
            fixing.basis,
        ]
    return [
        [str(piece.number)],
        [piece.piece.id],
        [
            f"{kg:.1f} ± {half:.1f} kg",
            f"{kg * _LB_PER_KG:.1f} ± {half * _LB_PER_KG:.1f} lb",
            *(["ESTIMATED: weigh it"] if weight.estimated else []),
        ],
        [f"{load.down_n:.0f} N", _mass(load.down_n / GRAVITY)] if load.hooks else ["shared"],
        out if load.hooks else [],
        what,
        carries,
    ]


def _mass(kg: float) -> str:
    return f"{kg:.1f} kg ({kg * _LB_PER_KG:.1f} lb)"


# --- paper


def _paper_page(plan: HangingPlan, new_page: _NewPage) -> None:
    page, y = new_page("Paper to cut, and what to buy")
    cuts = plan.cuts
    column = page.width_mm / 2
    room = (column - 2 * _MARGIN_MM, y - _FLOOR_MM - 24)
    # A long roll lies on its side: along the roll is down the page while it fits, else it shrinks.
    denominator = fit_scale(cuts.roll_width_mm, cuts.length_mm, room)
    low = y - 12 - cuts.length_mm / denominator
    page.text(
        _MARGIN_MM,
        y - 4,
        f"Roll {format_both(cuts.roll_width_mm)} wide, {format_both(cuts.length_mm)} long",
        9,
        bold=True,
        role="H2",
    )
    page.box(
        _MARGIN_MM, low, cuts.roll_width_mm / denominator, cuts.length_mm / denominator, 0.4,
        colour=SOFT, fill=TINT,
    )  # fmt: skip
    numbers = {piece.piece.id: piece.number for piece in plan.pieces}
    for cut in cuts.cuts:
        x = _MARGIN_MM + cut.rect.x_mm / denominator
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
        _MARGIN_MM, low - 4, scale_text(denominator) + "; sizes: table of hooks", 7.5, colour=SOFT
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
        y = page.paragraph(x + 6, y, page.width_mm - x - 6 - _MARGIN_MM, item, 8.5) - 0.8
    return y


# --- cautions


def _caution_page(plan: HangingPlan, new_page: _NewPage) -> None:
    page, y = new_page("Cautions")
    wide = page.width_mm - 2 * _MARGIN_MM
    marks = {"broken": "STOP", "caution": "CAUTION", "advice": "Advice", "note": "Note"}
    for finding in plan.findings:
        if y < _FLOOR_MM + 14:
            page, y = new_page("Cautions, continued")
        strong = finding.severity in ("broken", "caution")
        page.text(_MARGIN_MM, y, marks[finding.severity], 8.5, bold=strong)
        y = page.paragraph(_MARGIN_MM + 22, y, wide - 22, finding.text, 8.5, bold=strong)
        y = page.paragraph(_MARGIN_MM + 22, y, wide - 22, finding.hint, 8.5, colour=INK) - 1.5
    if y < _FLOOR_MM + 50:
        page, y = new_page("Cautions for every wall")
    else:
        page.text(_MARGIN_MM, y - 4, "For every wall", 10, bold=True, role="H2")
        y -= 10
    for text in GENERAL:
        page.text(_MARGIN_MM, y, "–", 8.5)
        y = page.paragraph(_MARGIN_MM + 6, y, wide - 6, text, 8.5) - 1.5
