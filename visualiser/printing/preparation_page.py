"""The page of work: steps on the wall, the drop, papers to cut, fixings, and all else said."""

from __future__ import annotations

from dataclasses import dataclass

from visualiser.geometry import Rect
from visualiser.hanging.cautions import GENERAL
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.drawing_scale import fit_scale, scale_text
from visualiser.printing.hook_list import lettered
from visualiser.printing.line_breaking import leading_mm, wrapped
from visualiser.printing.load_table import purchase_lines
from visualiser.printing.page import FLOOR_MM, MARGIN_MM, SOFT, TINT, NewPage, Page
from visualiser.units import Unit, format_both, format_length

_UNITS: tuple[Unit, ...] = ("mm", "in")
_PT = 9.0
_LEAST_CUTS_MM = 40.0


def preparation_page(plan: HangingPlan, new_page: NewPage, shown: int, bought: bool) -> None:
    """Print the work on the wall at the left, and at the right how fixings are set and all else.

    The first page had room for as many cautions as were ``shown``; the others come here, and what
    to buy where it is not ``bought`` on the page before.
    """
    page, top = new_page("The work, step by step")
    column = (page.width_mm - 3 * MARGIN_MM) / 2
    left = _Column(page, MARGIN_MM, column, top)
    for number, step in enumerate(_steps(plan), start=1):
        left.item(step, mark=f"{number}.")
    left.y -= 3
    _drop_drawing(page, left)
    room = left.y - FLOOR_MM - 12
    if room >= _LEAST_CUTS_MM:
        _papers(page, plan, Rect(MARGIN_MM, FLOOR_MM, column, left.y - FLOOR_MM))

    right = _Flow(new_page, _Column(page, 2 * MARGIN_MM + column, column, top))
    grave = lettered(plan).findings
    if grave[shown:]:
        right.heading("Cautions, continued")
        for letter, finding in grave[shown:]:
            right.item(f"{finding.text} {finding.hint}".strip(), mark=letter)
    if not bought:
        right.heading("What to buy")
        for line in purchase_lines(plan):
            right.item(line)
    used = {p.fixing.fixing.name: p.fixing.fixing for p in plan.pieces if p.fixing.fixing}
    if used:
        right.heading("Setting the fixings")
        for name, fixing in sorted(used.items()):
            right.item(f"{name}: {fixing.advice}")
    said = [finding for _, finding in grave]
    rest = [finding for finding in plan.findings if finding not in said]
    if rest:
        right.heading("Advice and notes")
        for finding in rest:
            right.item(f"{finding.text} {finding.hint}".strip())
    right.heading("For every wall")
    for text in GENERAL:
        right.item(text)
    if room < _LEAST_CUTS_MM and plan.cuts.cuts:
        page, top = new_page("Papers to cut")
        _papers(page, plan, Rect(MARGIN_MM, FLOOR_MM, page.width_mm - 24, top - FLOOR_MM))


@dataclass(slots=True)
class _Column:
    """Where text goes on in one column of a page."""

    page: Page
    x: float
    width: float
    y: float

    def item(self, text: str, mark: str = "–") -> None:
        self.page.text(self.x, self.y, mark, _PT, bold=mark != "–")
        self.y = self.page.paragraph(self.x + 6, self.y, self.width - 6, text, _PT) - 0.8


class _Flow:
    """A column that goes on across a whole new page where it is full."""

    def __init__(self, new_page: NewPage, column: _Column) -> None:
        self._new_page, self._column = new_page, column

    def heading(self, text: str) -> None:
        self._room(14)
        column = self._column
        column.page.text(column.x, column.y, text, 10, bold=True, role="H2")
        column.y -= 5.5

    def item(self, text: str, mark: str = "–") -> None:
        lines = wrapped(text, self._column.width - 6, _PT)
        self._room(len(lines) * leading_mm(_PT))
        self._column.item(text, mark)

    def _room(self, height: float) -> None:
        if self._column.y - height < FLOOR_MM - 2:
            page, y = self._new_page("Cautions, advice and notes, continued")
            self._column = _Column(page, MARGIN_MM, page.width_mm - 2 * MARGIN_MM, y)


def _steps(plan: HangingPlan) -> list[str]:
    measures, border = plan.measures, plan.border.rect
    corner = border.left_mm if measures.side == "left" else border.right_mm
    leave = ""
    if "sheet" in measures.across_from or not measures.floor_known:
        leave = " Leave the sheet up: the measures start from it."
    return [
        f"Tape the border: its lower {measures.side} corner is "
        f"{measures.across_in_words(corner)} and {format_both(border.bottom_mm)} up. Its inside is "
        f"{format_both(border.width_mm)} across and {format_both(border.height_mm)} up; check "
        f"level, plumb and both diagonals ({format_both(plan.border.diagonal_mm)}).{leave}",
        "Cut one paper per piece, write its number on it, mark its hook points from the list.",
        "Tape the papers up in the order of their numbers, each level, gaps as listed.",
        "Stand back and look, with whoever decides. Move papers, not holes.",
        "A mark is where wire or ring will bear, not the nail hole: hold the hook with its bearing "
        "point on the mark, and let it show where the nail goes.",
        "Check for cables and pipes, set the fixings through the papers, tear the papers off.",
        "Hang in order, level each, and put felt dots on the lower corners.",
    ]


def _drop_drawing(page: Page, column: _Column) -> None:
    """Draw a frame's back with its wire pulled up, and say the method beside it."""
    x, y, width, height = column.x + 2, column.y - 5, 26.0, 24.0
    page.box(x, y - height, width, height, 1.0)
    page.box(x + 2.5, y - height + 2.5, width - 5, height - 5, 0.4)
    left, right, peak = (x + 4, y - 13), (x + width - 4, y - 13), (x + width / 2, y - 6)
    page.line([left, peak, right], 0.8)
    page.circle(*peak, 0.9, 0.6, fill="#ffffff")
    page.line([(x + width / 2, y), (x + width + 9, y)], 0.3)
    page.line([peak, (x + width + 9, peak[1])], 0.3)
    at = x + width + 7
    page.arrow((at, y + 4), (at, y), 0.5)
    page.arrow((at, peak[1] - 4), (at, peak[1]), 0.5)
    page.text(at + 2, (y + peak[1]) / 2 - 1, "drop", _PT, bold=True)
    low = page.paragraph(
        at + 13,
        y + 1,
        column.width - (at + 13 - column.x),
        "The drop, from the back: pull the wire up taut with the tape's end (two fingers as far "
        "apart as the hooks, for two hooks) and read to the top edge. Rings, plates and sawtooth: "
        "from the top edge down to where they bear. Hook height = height of the frame's top edge "
        "− drop.",
        _PT,
    )
    column.y = min(low, y - height) - 5


def _papers(page: Page, plan: HangingPlan, area: Rect) -> None:
    """Draw the papers to cut from the roll, as they are nested."""
    cuts = plan.cuts
    title = f"Paper: roll {format_both(cuts.roll_width_mm)}, {format_both(cuts.length_mm)} long"
    page.text(area.x_mm, area.top_mm, title, 10, bold=True, role="H2")
    if not cuts.cuts:
        return
    room = (area.width_mm, area.height_mm - 10)
    # A long roll lies across the column where that shows it larger.
    upright = fit_scale(cuts.roll_width_mm, cuts.length_mm, room)
    lying = fit_scale(cuts.length_mm, cuts.roll_width_mm, room)
    turned, denominator = lying < upright, min(lying, upright)
    wide, high = (v / denominator for v in (cuts.roll_width_mm, cuts.length_mm))
    if turned:
        wide, high = high, wide
    low = area.top_mm - 4 - high
    page.box(area.x_mm, low, wide, high, 0.4, colour=SOFT, fill=TINT)
    numbers = {piece.piece.id: piece.number for piece in plan.pieces}
    for cut in cuts.cuts:
        x, y = cut.rect.x_mm / denominator, cut.rect.y_mm / denominator
        width, height = cut.rect.width_mm / denominator, cut.rect.height_mm / denominator
        if turned:
            x, y, width, height = y, x, height, width
        x, y = area.x_mm + x, low + y
        page.box(x, y, width, height, 0.6, fill="#ffffff")
        size = max(min(11.0, height * 1.2, width), 8.0)
        middle = (x + width / 2, y + height / 2)
        named = str(numbers[cut.piece_id])
        page.text(middle[0], middle[1] - size * 0.15, named, size, bold=True, align="centre")
        for row, unit in enumerate(_UNITS):
            if height > 22 and width > 24:
                sides = (cut.rect.width_mm, cut.rect.height_mm)
                across, along = (format_length(s, unit).removesuffix(f" {unit}") for s in sides)
                label = f"{across} × {along}" + (" in" if unit == "in" else "")
                at = y + 5 - 3.2 * row
                page.text(middle[0], at, label, 8, align="centre", most_mm=width - 1)
    page.text(area.x_mm, low - 4, scale_text(denominator), 8, colour=SOFT)
