"""The plan's table of loads: weights, forces, and the fixings that carry them."""

from __future__ import annotations

from visualiser.hanging.fixings import STRIPS, WALL_NAMES
from visualiser.hanging.loads import GRAVITY
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.page import FLOOR_MM, MARGIN_MM, NewPage
from visualiser.printing.table import Cell, Column, draw_table, name_and_mark

_LB_PER_KG = 1 / 0.45359237


def load_pages(plan: HangingPlan, new_page: NewPage) -> None:
    """Print what each piece weighs, what that does to its hooks, and what holds them."""
    page, y = new_page("Loads and fixings")
    wide = page.width_mm - 2 * MARGIN_MM
    y = page.paragraph(
        MARGIN_MM,
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
        if y < FLOOR_MM + 8:
            page, y = new_page("Setting the fixings")
        y = page.paragraph(MARGIN_MM, y, wide, f"{name}: {fixing.advice}", 8.5) - 1


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
        name_and_mark(piece.piece.called, piece.piece.id),
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
