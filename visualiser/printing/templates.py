"""Paper templates at true size: on sheets to be taped together, on one roll, or hooks only.

On sheets, each page shows one tile of the piece. A dashed line with match marks runs down the
middle of the overlap of two tiles, drawn on both sheets at the same place of the piece: cut one
sheet along it and lay it on the other's. Every page carries bars of exactly 100 mm and 4 in to
check the printer by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from visualiser.errors import PrintingError
from visualiser.geometry import Rect
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.booklet import Booklet
from visualiser.printing.line_breaking import leading_mm, text_width_mm, wrapped
from visualiser.printing.page import FAINT, SOFT, Align, Page
from visualiser.printing.tiling import (
    CAPTION_MM,
    LEAST_TILE_MM,
    MARGIN_MM,
    OVERLAP_MM,
    Tile,
    best_tiling,
)
from visualiser.sizes import PaperSize, paper_size
from visualiser.units import MM_PER_INCH, format_both

TemplateKind = Literal["whole", "hooks"]
BAR_MM, BAR_IN = 100.0, 4.0
_AROUND_MM = 3.0  # paper beyond the outline, so that the line itself is whole
_ROLL_AROUND_MM = 15.0
_STRIP_MM = 30.0  # paper round the hooks of a hook strip
_MARK_STEP_MM = 60.0


def templates_pdf(
    plan: HangingPlan,
    paper: PaperSize | None = None,
    *,
    kind: TemplateKind = "whole",
    roll: bool = False,
    piece_ids: Sequence[str] | None = None,
    title: str = "",
) -> bytes:
    """Print templates at true size, in the order of hanging.

    Parameters
    ----------
    plan
        What is to be hung.
    paper
        Sheet to tile on; A4 when None. Not used for a roll.
    kind
        Each whole piece, or only a strip with its hooks.
    roll
        One page a piece, as large as it needs, for a wide printer.
    piece_ids
        Only these pieces; all when None.
    title
        The job's name, on every sheet; the arrangement's when empty.

    Returns
    -------
    A PDF to be printed at 100 %, without "fit to page".

    Raises
    ------
    PrintingError
        If the paper is too small, or a piece named is not in the plan.
    """
    sheet = paper or paper_size("a4")
    chosen = _chosen(plan, piece_ids)
    name = title or plan.arrangement.name or "Group"
    booklet = Booklet(f"{name}: paper templates at true size", "Print at 100 %, not fitted to page")
    for piece in chosen:
        shown = _shown(piece, kind, _ROLL_AROUND_MM if roll else _AROUND_MM)
        if roll:
            size = (
                max(shown.width_mm, BAR_IN * MM_PER_INCH + 60) + 2 * MARGIN_MM,
                shown.height_mm + CAPTION_MM + 2 * MARGIN_MM,
            )
            pieces_tiles = [Tile(0, 0, shown)]
        else:
            size, pieces_tiles = best_tiling(shown, sheet)
        for tile in pieces_tiles:
            page = booklet.page(*size, f"{piece.name_and_mark}, sheet {tile.name}", footer=False)
            _draw_tile(page, plan, piece, kind, tile, pieces_tiles)
            if tile is pieces_tiles[0]:
                _cautions(page, plan, piece, kind, tile)
            _caption(page, name, piece, tile, pieces_tiles)
    return booklet.to_bytes()


def _chosen(plan: HangingPlan, piece_ids: Sequence[str] | None) -> list[PiecePlan]:
    if piece_ids is None:
        return list(plan.pieces)
    known = {piece.piece.id: piece for piece in plan.pieces}
    if unknown := [i for i in piece_ids if i not in known]:
        raise PrintingError(
            f"Piece {unknown[0]} has no place in this plan.",
            hint=f"Choose from {', '.join(known)}.",
        )
    if not piece_ids:
        raise PrintingError("No piece was chosen.", hint="Name at least one piece.")
    return [piece for piece in plan.pieces if piece.piece.id in piece_ids]


def _shown(piece: PiecePlan, kind: TemplateKind, around_mm: float) -> Rect:
    """Part of the piece's plane that the template covers, in the piece's own mm."""
    whole = Rect(0, 0, piece.rect.width_mm, piece.rect.height_mm)
    if kind == "whole":
        return whole.grown(around_mm)
    if not piece.hooks_mm:  # strips: the upper corners stand in for hooks
        return Rect(0, whole.top_mm - _STRIP_MM, whole.width_mm, _STRIP_MM).grown(_AROUND_MM)
    hooks = _local_hooks(piece)
    left, right = min(x for x, _ in hooks), max(x for x, _ in hooks)
    width = max(right - left + 2 * _STRIP_MM, 2 * LEAST_TILE_MM)
    return Rect.from_centre((left + right) / 2, hooks[0][1], width, 2 * _STRIP_MM)


def _local_hooks(piece: PiecePlan) -> list[tuple[float, float]]:
    return [(x - piece.rect.left_mm, y - piece.rect.bottom_mm) for x, y in piece.hooks_mm]


def _draw_tile(
    page: Page,
    plan: HangingPlan,
    piece: PiecePlan,
    kind: TemplateKind,
    tile: Tile,
    all_tiles: Sequence[Tile],
) -> None:
    part = tile.part
    x0, y0 = _origin(page, part)
    dx, dy = x0 - part.left_mm, y0 - part.bottom_mm
    with page.clipped(x0, y0, part.width_mm, part.height_mm):
        if kind == "whole":
            _whole(page, piece, dx, dy)
        else:
            _strip(page, plan, piece, part, dx, dy)
    if kind == "hooks":
        page.box(x0, y0, part.width_mm, part.height_mm, 0.3, colour=FAINT, dash_mm=(1, 2))
    _joins(page, tile, all_tiles, dx, dy)


def _origin(page: Page, part: Rect) -> tuple[float, float]:
    """Lower left corner of a tile, in the middle of the page above its caption."""
    y0 = MARGIN_MM + CAPTION_MM
    y0 += (page.height_mm - MARGIN_MM - y0 - part.height_mm) / 2
    return (page.width_mm - part.width_mm) / 2, y0


def _cautions(
    page: Page, plan: HangingPlan, piece: PiecePlan, kind: TemplateKind, tile: Tile
) -> None:
    """Print at the foot of a piece's first sheet what could hurt somebody there."""
    said = [
        f"CAUTION: {told.text.partition(': ')[2] or told.text}"
        for told in plan.gravest_of(piece.piece.id)
    ]
    if plan.accepted:
        said.append(f"Answered for with: “{plan.accepted}”")
    if not said:
        return
    x, y = _origin(page, tile.part)
    inset = OVERLAP_MM + 2
    wide = tile.part.width_mm - 2 * inset
    if kind == "hooks":  # a strip has room for one line
        more = f" (and {len(said) - 1} more: see the plan)" if len(said) > 1 else ""
        top = y + tile.part.height_mm - 8
        page.text(x + inset, top, said[0] + more, 8, bold=True, most_mm=wide)
        return
    size = 10.0
    lines = [line for text in said for line in wrapped(text, wide - 6, size, True)]
    most = int((tile.part.height_mm * 0.3) / leading_mm(size))
    if len(lines) > most:
        lines = [*lines[: max(most - 1, 1)], "More cautions: see the plan."]
    height = len(lines) * leading_mm(size) + 5
    low = y + inset
    page.box(x + inset, low, wide, height, 0.9, fill="#ffffff")
    for row, line in enumerate(lines):
        at = low + height - 5.5 - row * leading_mm(size)
        page.text(x + inset + 3, at, line, size, bold=True, most_mm=wide - 6)


def _whole(page: Page, piece: PiecePlan, dx: float, dy: float) -> None:
    width, height = piece.rect.width_mm, piece.rect.height_mm
    page.box(dx, dy, width, height, 0.7)
    middle = (dx + width / 2, dy + height / 2)
    page.line([(middle[0], dy), (middle[0], dy + height)], 0.35, colour=SOFT, dash_mm=(8, 2, 1, 2))
    page.line([(dx, middle[1]), (dx + width, middle[1])], 0.35, colour=SOFT, dash_mm=(8, 2, 1, 2))
    _hooks(page, piece, dx, dy, width)
    size = min(60.0, width * 0.35, height * 0.35)
    page.text(middle[0] + 4, middle[1] + 5, str(piece.number), size, bold=True)
    label = min(14.0, width * 0.08)
    page.text(middle[0] + 4, middle[1] - 9, piece.piece.called, label, most_mm=width / 2 - 8)
    size_text = f"{format_both(width)} × {format_both(height)}"
    page.text(middle[0] + 4, middle[1] - 16, size_text, min(9.0, label), most_mm=width / 2 - 8)
    reach = min(25.0, height / 6)
    start = (middle[0] - width / 4, middle[1] + height / 8)
    page.arrow(start, (start[0], start[1] + reach), 1.6)
    page.text(start[0], start[1] - 5, "UP", 11, bold=True, align="centre")


def _hooks(page: Page, piece: PiecePlan, dx: float, dy: float, right_mm: float) -> None:
    """Draw the hooks, each with its words on the side where the paper has room for them."""
    words = [f"drop {format_both(piece.bearing.drop_mm)}"]
    if piece.bearing.drop_origin == "assumed":
        words.append("assumed: measure it first")
    room = 4 + max(text_width_mm(line, 7.5, bold=True) for line in words)
    for name, (x, y) in zip(piece.hook_names(), _local_hooks(piece), strict=True):
        page.cross(dx + x, dy + y, 9, 0.5)
        page.circle(dx + x, dy + y, 3, 0.5)
        fits = x + room <= right_mm
        align: Align = "left" if fits else "right"
        at = dx + x + (4 if fits else -4)
        page.text(at, dy + y + 4, f"hook {name}", 9, bold=True, align=align)
        for row, line in enumerate(words):
            page.text(at, dy + y - 7 - 4 * row, line, 7.5, bold=row > 0, align=align)


def _strip(
    page: Page, plan: HangingPlan, piece: PiecePlan, part: Rect, dx: float, dy: float
) -> None:
    width, height = piece.rect.width_mm, piece.rect.height_mm
    page.box(dx, dy, width, height, 0.7)
    middle = dx + width / 2
    level = height - piece.bearing.drop_mm if piece.hooks_mm else height - _STRIP_MM / 2
    page.line([(middle, dy), (middle, dy + height)], 0.35, colour=SOFT, dash_mm=(8, 2, 1, 2))
    page.line([(dx, dy + level), (dx + width, dy + level)], 0.35, colour=SOFT, dash_mm=(8, 2, 1, 2))
    _hooks(page, piece, dx, dy, part.right_mm)
    lines = [f"{piece.name} · top edge of frame {format_both(piece.rect.top_mm)} up"]
    if piece.hooks_mm:
        lines.insert(0, f"{piece.name} · this line {format_both(piece.hooks_mm[0][1])} up")
        lines[1] = lines[1].removeprefix(f"{piece.name} · ")
    for name, (x, _) in zip(piece.hook_names(), piece.hooks_mm, strict=True):
        place = plan.measures.across_in_words(x)
        lines.append(f"hook {name} {place}")
    # On every sheet anew, so that no sheet is without its measures.
    for row, line in enumerate(lines):
        left = dx + part.left_mm + OVERLAP_MM + 2
        page.text(left, dy + level - (12.5 if piece.hooks_mm else 5) - 4 * row, line, 7.5)


def _joins(page: Page, tile: Tile, all_tiles: Sequence[Tile], dx: float, dy: float) -> None:
    """Cut line and match marks in the middle of each overlap with a neighbour."""
    part = tile.part
    last_column = max(other.column for other in all_tiles)
    last_row = max(other.row for other in all_tiles)
    half = OVERLAP_MM / 2
    columns = [
        x
        for x, there in (
            (part.left_mm + half, tile.column > 0),
            (part.right_mm - half, tile.column < last_column),
        )
        if there
    ]
    rows = [
        y
        for y, there in (
            (part.top_mm - half, tile.row > 0),
            (part.bottom_mm + half, tile.row < last_row),
        )
        if there
    ]
    for x in columns:
        ends = [(dx + x, dy + part.bottom_mm), (dx + x, dy + part.top_mm)]
        page.line(ends, 0.4, colour=SOFT, dash_mm=(3, 2))
        for y in _marks(part.bottom_mm, part.top_mm):
            _match_mark(page, dx + x, dy + y)
    for y in rows:
        ends = [(dx + part.left_mm, dy + y), (dx + part.right_mm, dy + y)]
        page.line(ends, 0.4, colour=SOFT, dash_mm=(3, 2))
        for x in _marks(part.left_mm, part.right_mm):
            _match_mark(page, dx + x, dy + y)


def _marks(low: float, high: float) -> list[float]:
    """Places of match marks: multiples of the step in the piece's own mm, clear of the ends."""
    first = math.ceil((low + OVERLAP_MM) / _MARK_STEP_MM)
    last = math.floor((high - OVERLAP_MM) / _MARK_STEP_MM)
    return [number * _MARK_STEP_MM for number in range(first, last + 1)]


def _match_mark(page: Page, x: float, y: float) -> None:
    arm = 2.5
    corners = [(x - arm, y), (x, y + arm), (x + arm, y), (x, y - arm)]
    page.line(corners, 0.4, closed=True)
    page.cross(x, y, arm, 0.3)


def _caption(
    page: Page, title: str, piece: PiecePlan, tile: Tile, all_tiles: Sequence[Tile]
) -> None:
    y = MARGIN_MM + 2
    for length, label, low in (
        (BAR_MM, "100 mm", y + 6),
        (BAR_IN * MM_PER_INCH, "4 in", y),
    ):
        x = MARGIN_MM
        page.line([(x, low), (x + length, low)], 0.8)
        for end in (x, x + length):
            page.line([(end, low - 1.5), (end, low + 1.5)], 0.5)
        page.text(x + length + 2, low - 1, label, 7.5)
    left = MARGIN_MM
    sheet = f"sheet {tile.name}" if len(all_tiles) > 1 else "one sheet"
    if len(all_tiles) > 1:
        sheet += f" of {all_tiles[-1].name}"
    page.text(
        left,
        y + 11.5,
        f"{piece.name_and_mark} · {sheet} · print at 100 %: measure both bars",
        9,
        bold=True,
        role="H1",
        most_mm=page.width_mm - 2 * MARGIN_MM - 24,
    )
    _tile_plan(page, tile, all_tiles)
    right = page.width_mm - MARGIN_MM - 22
    beside = right - (left + BAR_MM + 20)  # what the bars and their lengths leave
    if title and beside > 25:
        page.text(right, y, title, 7.5, align="right", colour=SOFT, most_mm=beside)


def _tile_plan(page: Page, tile: Tile, all_tiles: Sequence[Tile]) -> None:
    """Small plan of all sheets with this one filled."""
    if len(all_tiles) == 1:
        return
    columns = max(other.column for other in all_tiles) + 1
    rows = max(other.row for other in all_tiles) + 1
    cell = min(18.0 / columns, 16.0 / rows, 5.0)
    left, top = page.width_mm - MARGIN_MM - columns * cell, MARGIN_MM + 18
    for other in all_tiles:
        here = (other.column, other.row) == (tile.column, tile.row)
        x, y = left + other.column * cell, top - (other.row + 1) * cell
        page.box(x, y, cell, cell, 0.4, fill=FAINT if here else "#ffffff")
