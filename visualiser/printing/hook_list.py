"""The list to hang by: cautions first, then one large line a hook, to be read at arm's length."""

from __future__ import annotations

from dataclasses import dataclass
from string import ascii_uppercase

from visualiser.findings import Finding
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.line_breaking import leading_mm, wrapped
from visualiser.printing.page import FAINT, FLOOR_MM, INK, MARGIN_MM, TINT, NewPage, Page
from visualiser.units import format_half_width, format_length

HOOK_PT = 14.0
"""Read from 70 cm in a dim hall. 14 pt capitals are 3.5 mm high and fill 17 minutes of arc there;
normal sight reads 5 (20/20, by the definition of visual acuity)."""
_HEAD_PT, _CAUTION_PT, _FIXING_PT = 11.0, 10.0, 10.0
_ROW_MM, _TALL_ROW_MM = 7.8, 11.6  # a tall row holds the fixing below the piece's name
_LEAST_LINES = 8  # of cautions, however many hooks there are
_NOT_TO_MISS = ("drop-assumed",)  # advice by its harm, but the hole would be in the wrong place
_HEADINGS_MM = 4.4
_SHARES = (0.05, 0.09, 0.27, 0.33, 0.26)


@dataclass(frozen=True, slots=True)
class Lettered:
    """What could hurt somebody or spoil the wall, each by a letter that stands at its hooks."""

    findings: tuple[tuple[str, Finding], ...]

    def at(self, piece_ids: tuple[str, ...]) -> str:
        """Letters of what concerns any of some pieces."""
        return "".join(
            letter
            for letter, finding in self.findings
            if finding.piece_ids and set(finding.piece_ids) & set(piece_ids)
        )


def lettered(plan: HangingPlan) -> Lettered:
    """Give a letter to each thing that is said on the first page."""
    grave = [f for f in plan.findings if f in plan.gravest or f.code in _NOT_TO_MISS]
    letters = [*ascii_uppercase, *(a + b for a in ascii_uppercase for b in ascii_uppercase)]
    return Lettered(tuple(zip(letters, grave, strict=False)))


def hook_list(plan: HangingPlan, new_page: NewPage) -> int:
    """Print cautions, accuracy, and where every hook goes; give how many cautions had room."""
    page, y = new_page("Hooks, in the order of hanging")
    marked = lettered(plan)
    y = _datums(page, plan, y)
    y, shown = _cautions(page, plan, marked, y)
    y = _headings(page, plan, y)
    rows = {piece.number: _rows(plan, piece) for piece in plan.pieces}
    tall = sum(map(len, rows.values())) * _TALL_ROW_MM <= y - FLOOR_MM
    high_mm = _TALL_ROW_MM if tall else _ROW_MM
    for piece in plan.pieces:
        for row, cells in enumerate(rows[piece.number]):
            if y - high_mm < FLOOR_MM:
                page, y = new_page("Hooks, continued")
                y = _headings(page, plan, y)
            if row == 0:
                page.line([(MARGIN_MM, y), (page.width_mm - MARGIN_MM, y)], 0.4, colour=FAINT)
            letters = marked.at((piece.piece.id,)) if row == 0 else ""
            _row(page, y, cells, letters, piece.fixing.name, below=tall)
            y -= high_mm
    return shown


def _datums(page: Page, plan: HangingPlan, y: float) -> float:
    """Say in large how well places are known, and what they are measured from."""
    wide = page.width_mm - 2 * MARGIN_MM
    y = page.paragraph(MARGIN_MM, y - 1, wide, accuracy(plan), 14, bold=True)
    measures = plan.measures
    floor = "the floor" if measures.floor_known else "the height datum"
    text = (
        f"Heights are from {floor} to where the hanger rests on its hook; across is from "
        f"{measures.across_from}."
    )
    if "sheet" in measures.across_from or not measures.floor_known:
        text += " Leave the sheet on the wall until the last hook is in."
    return page.paragraph(MARGIN_MM, y, wide, text, 12, bold=True) - 1


def accuracy(plan: HangingPlan) -> str:
    """Say how well the plan's places are known."""
    measures = plan.measures
    if plan.survey.plane is None and plan.survey.floor_sigma_mm == 0:
        return "The wall's size was typed: measure it before the first hole."
    heights, across = (
        format_half_width(half)
        for half in (measures.up_half_width_mm, measures.across_half_width_mm)
    )
    return f"Measured from the photo: heights {heights}, across {across} (95 %)."


def _cautions(page: Page, plan: HangingPlan, marked: Lettered, y: float) -> tuple[float, int]:
    """Print what could hurt somebody, in a frame, gravest first; give how many had room."""
    wide = page.width_mm - 2 * MARGIN_MM
    step = leading_mm(_CAUTION_PT)
    lines: list[tuple[str, str, bool]] = []
    if plan.accepted:
        said = f"Dangerous as it is placed, and answered for with: “{plan.accepted}”"
        lines += [("", line, True) for line in wrapped(said, wide - 12, _CAUTION_PT, True)]
    # The hooks are to stand on this page too, where it can hold them.
    hooks = sum(max(len(p.hooks_mm), 1) + len(p.locks_mm) for p in plan.pieces)
    room = y - FLOOR_MM - _HEADINGS_MM - 4.5 - hooks * _ROW_MM
    if room < 0:
        room = y - FLOOR_MM
    most = max(int(room / step) - 1, _LEAST_LINES)
    shown = 0
    for letter, finding in marked.findings:
        word = {"broken": "STOP: ", "caution": "", "advice": "", "note": ""}[finding.severity]
        new = [(line, True) for line in wrapped(word + finding.text, wide - 12, _CAUTION_PT, True)]
        new += [(line, False) for line in wrapped(finding.hint, wide - 12, _CAUTION_PT)]
        if lines and len(lines) + len(new) > most:
            left = len(marked.findings) - shown
            lines.append(("", f"{left} more on the page of the work.", True))
            break
        shown += 1
        lines += [(letter if k == 0 else "", line, bold) for k, (line, bold) in enumerate(new)]
    if not lines:
        return y, 0
    height = len(lines) * step + 3
    page.box(MARGIN_MM, y - height + 2.6, wide, height, 1.4, fill="#ffffff")
    at = y - step + 2.6
    for letter, line, bold in lines:
        page.text(MARGIN_MM + 3, at, letter, _CAUTION_PT + 1, bold=True)
        page.text(MARGIN_MM + 10, at, line, _CAUTION_PT, bold=bold, most_mm=wide - 11)
        at -= step
    return y - height - 1.5, shown


def _columns(page: Page) -> list[float]:
    wide = page.width_mm - 2 * MARGIN_MM
    starts = [MARGIN_MM]
    for share in _SHARES[:-1]:
        starts.append(starts[-1] + share * wide)
    return starts


def _headings(page: Page, plan: HangingPlan, y: float) -> float:
    floor = "the floor" if plan.measures.floor_known else "the height datum"
    side = f"From {plan.measures.across_from}"
    words = ("Done", "Hook", f"Up from {floor}", side, "Piece, fixing")
    page.box(MARGIN_MM, y - 4.4, page.width_mm - 2 * MARGIN_MM, 6.2, 0, fill=TINT)
    starts = _columns(page)
    for x, word, end in zip(starts, words, [*starts[1:], page.width_mm - MARGIN_MM], strict=True):
        page.text(x + 1, y - 2.6, word, _HEAD_PT, bold=True, most_mm=end - x - 1)
    page.text(page.width_mm - MARGIN_MM - 1, y - 2.6, "See", _HEAD_PT, bold=True, align="right")
    return y - _HEADINGS_MM


def _rows(plan: HangingPlan, piece: PiecePlan) -> list[tuple[str, str, str, str]]:
    """List hook, height, place across and piece of every line, also of pieces without hooks."""
    across = plan.measures.across

    def both(x: float | None, y: float) -> tuple[str, str]:
        up = f"{format_length(y, 'mm')}  ({format_length(y, 'in')})"
        if x is None:
            return up, ""
        there = across(x, "mm")
        number, _, way = there.partition(" mm")
        inches = across(x, "in").partition(" in")[0]
        return up, f"{number} mm  ({inches} in){way.replace(' to its', '')}"

    called = piece.piece.called
    if not piece.hooks_mm:
        corner = piece.rect.left_mm if plan.measures.side == "left" else piece.rect.right_mm
        return [(str(piece.number), *both(corner, piece.rect.top_mm), f"corner of {called}")]
    rows = [
        (name, *both(x, y), called)
        for name, (x, y) in zip(piece.hook_names(), piece.hooks_mm, strict=True)
    ]
    rows += [(f"{piece.number} lock", *both(x, y), called) for x, y in piece.locks_mm]
    return rows


def _row(
    page: Page,
    y: float,
    cells: tuple[str, str, str, str],
    letters: str,
    fixing: str,
    *,
    below: bool,
) -> None:
    """Print a hook's line; its fixing below the piece's name, or behind it where rows are low."""
    starts = _columns(page)
    line = y - _ROW_MM + 2.4
    page.box(starts[0] + 1.5, line - 0.6, 5, 5, 0.8, colour=INK)
    name, up, across, called = cells
    page.text(starts[1] + 1, line, name, HOOK_PT, bold=True)
    page.text(starts[2] + 1, line, up, HOOK_PT, bold=True, most_mm=starts[3] - starts[2] - 2)
    page.text(starts[3] + 1, line, across, HOOK_PT, most_mm=starts[4] - starts[3] - 2)
    right = page.width_mm - MARGIN_MM
    used = page.text(right - 1, line, letters, HOOK_PT, bold=True, align="right") if letters else 0
    x, room = starts[4] + 1, right - starts[4] - used - 4
    if below:
        page.text(x, line, called, HOOK_PT, most_mm=room)
        page.text(x, line - 4.4, fixing, _FIXING_PT, most_mm=right - x)
        return
    taken = page.text(x, line, called, HOOK_PT, most_mm=0.6 * room) + 2
    page.text(x + taken, line, fixing, _FIXING_PT, most_mm=room - taken)
