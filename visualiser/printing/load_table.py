"""The plan's page of pieces: size, hanger, gap, weight, forces, the fixings that carry them."""

from __future__ import annotations

from visualiser.hanging.fixing_classes import STRIPS, WALL_NAMES
from visualiser.hanging.loads import GRAVITY
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.hanging.withheld import WITHHELD
from visualiser.printing.hook_list import Lettered, lettered
from visualiser.printing.line_breaking import leading_mm, wrapped
from visualiser.printing.page import FLOOR_MM, MARGIN_MM, NewPage, Page
from visualiser.printing.table import Cell, Column, draw_table, name_and_mark
from visualiser.statistics import COVERAGE_95
from visualiser.units import format_length

_LB_PER_KG = 1 / 0.45359237
_PT = 8.5
_BUY_PT = 9.0


def load_pages(plan: HangingPlan, new_page: NewPage) -> bool:
    """Print what each piece weighs, what that does to its hooks, what holds them, what to buy.

    Gives whether there was room for what to buy.
    """
    page, y = new_page("Pieces, loads and fixings")
    wide = page.width_mm - 2 * MARGIN_MM
    y = page.paragraph(
        MARGIN_MM,
        y,
        wide,
        f"Wall: {WALL_NAMES[plan.wall]}. Each fixing is chosen for the whole force at the upper "
        "end of the weight's ± (95 %), the wire's pull and the frame's lever in it. A maker's "
        f"rating typed in is divided by {plan.safety_factor:g}; without one the allowance is our "
        "own, without a source, and the maker's rating governs. Letters: cautions on page 1.",
        _PT,
    )
    shares = (0.05, 0.135, 0.13, 0.135, 0.125, 0.135, 0.15, 0.14)
    headings = (
        "No.",
        "Piece, width by height",
        "Hanger, drop from top edge",
        "Gap to piece hung before",
        "Weight",
        "Each hook: down, out; wire",
        "Fixing",
        "Each carries, may carry",
    )
    columns = [Column(h, s * wide) for h, s in zip(headings, shares, strict=True)]
    marked = lettered(plan)
    rows = [_load_row(plan, piece, marked) for piece in plan.pieces]
    page, y = draw_table(
        page, y, columns, rows, lambda: new_page("Loads and fixings, continued"), size_pt=_PT
    )
    return _purchases(plan, page, y - 5)


def _load_row(plan: HangingPlan, piece: PiecePlan, marked: Lettered) -> list[Cell]:
    weight, fixing = piece.load.weight, piece.fixing
    kg, half = weight.kg, COVERAGE_95 * weight.sigma_kg
    size = [
        " × ".join(
            format_length(v, unit).removesuffix(f" {unit}")
            for v in (piece.rect.width_mm, piece.rect.height_mm)
        )
        + f" {unit}"
        for unit in ("mm", "in")
    ]
    if fixing.fixing is None:
        what: Cell = ["NONE NAMED", WITHHELD[fixing.reasons[0]].short]
        carries: Cell = [_mass(fixing.load_kg)]
    else:
        unit = "pairs of " if fixing.fixing is STRIPS else "× "
        label = "adhesive strips" if fixing.fixing is STRIPS else fixing.name
        what = [f"{fixing.count} {unit}{label}"]
        carries = [
            f"{fixing.load_kg:.1f} of {fixing.allowed_kg:.1f} kg",
            f"{fixing.load_kg * _LB_PER_KG:.1f} of {fixing.allowed_kg * _LB_PER_KG:.1f} lb",
            fixing.basis.replace("common practice, no source: the maker's", "the maker's"),
        ]
    letters = marked.at((piece.piece.id,))
    return [
        [str(piece.number), *([letters] if letters else [])],
        [*name_and_mark(piece.piece.called, piece.piece.id), *size],
        [piece.piece.hanger.of.words, *_drop_lines(piece)],
        _gap(plan, piece),
        [
            f"{kg:.1f} ± {half:.1f} kg",
            f"{kg * _LB_PER_KG:.1f} ± {half * _LB_PER_KG:.1f} lb",
            *(["ESTIMATED: weigh it"] if weight.estimated else []),
        ],
        _forces(piece),
        what,
        carries,
    ]


def _drop_lines(piece: PiecePlan) -> list[str]:
    bearing = piece.bearing
    if not piece.hooks_mm:
        return ["no hook: mark the corners"]
    lines = [f"{format_length(bearing.drop_mm, 'mm')} ({format_length(bearing.drop_mm, 'in')})"]
    if bearing.drop_origin == "assumed":
        lines.append("ASSUMED: measure first")
    elif bearing.drop_origin == "from the wire":
        lines.append("from the wire's length")
    if bearing.spacing_assumed:
        lines.append("SPACING ASSUMED: measure")
    return lines


def _gap(plan: HangingPlan, piece: PiecePlan) -> list[str]:
    if piece.neighbour is None:
        return []
    other, place, distance = piece.neighbour
    number = next(p.number for p in plan.pieces if p.piece.id == other)
    return [
        f"{format_length(distance, 'mm')} ({format_length(distance, 'in')})",
        f"{place} {number}",
    ]


def _forces(piece: PiecePlan) -> list[str]:
    load = piece.load
    if not load.hooks:
        return ["shared"]
    lines = [
        f"{load.down_n:.0f} N, {_mass(load.down_n / GRAVITY)}",
        f"out {load.pull_out_n:.0f} N ({load.pull_out_n / 4.4482216:.1f} lbf)",
    ]
    if load.wire_n is not None and load.wire_angle_deg is not None:
        lines.append(f"wire {load.wire_n:.0f} N at {load.wire_angle_deg:.0f}°")
    elif piece.piece.hanger.of.bears in ("wire", "two wires"):
        lines.append("wire: measure its fixing points")
    return lines


def _mass(kg: float) -> str:
    return f"{kg:.1f} kg ({kg * _LB_PER_KG:.1f} lb)"


def purchase_lines(plan: HangingPlan) -> list[str]:
    """List what to buy, the letters of cautions behind each line.

    Parts to check that need the same rating share a line.
    """
    marked = lettered(plan)
    groups: dict[tuple[str, ...], list[str]] = {}
    for number, item in enumerate(plan.purchases):
        alone = "" if item.amount == "check" else str(number)
        key = item.amount, item.note, marked.at(item.piece_ids), alone
        groups.setdefault(key, []).append(item.what)
    lines = []
    for (amount, note, letters, _), what in groups.items():
        text = f"{amount}  {', '.join(what)}" + (f": {note}" if note else "")
        lines.append(text + (f"  [{letters}]" if letters else ""))
    return lines


def _purchases(plan: HangingPlan, page: Page, y: float) -> bool:
    """List what to buy in two columns, where they have room."""
    wide = (page.width_mm - 3 * MARGIN_MM) / 2
    step = leading_mm(_BUY_PT)
    items = [wrapped(text, wide - 5, _BUY_PT) for text in purchase_lines(plan)]
    half = (sum(len(lines) for lines in items) + 1) // 2
    first: list[list[str]] = []
    while items and sum(len(lines) for lines in first) < half:
        first.append(items.pop(0))
    tallest = max(sum(len(lines) for lines in column) for column in (first, items))
    if y - 6 - tallest * step < FLOOR_MM:
        return False
    page.text(MARGIN_MM, y, "What to buy", 11, bold=True, role="H2")
    y -= 6
    for x, column in ((MARGIN_MM, first), (2 * MARGIN_MM + wide, items)):
        at = y
        for lines in column:
            page.box(x, at - 0.4, 2.6, 2.6, 0.6)
            for line in lines:
                page.text(x + 5, at, line, _BUY_PT)
                at -= step
    return True
