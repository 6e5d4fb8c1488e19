"""A plan to share on paper: its slots to scale, and a table of their places and sizes."""

from __future__ import annotations

from visualiser.arrangement.slots import Plan
from visualiser.geometry import Rect
from visualiser.printing.booklet import Booklet
from visualiser.printing.drawing_scale import Frame, fit_scale, scale_text
from visualiser.printing.page import SOFT, TINT, Page
from visualiser.printing.table import Cell, Column, draw_table
from visualiser.sizes import PaperSize, paper_size
from visualiser.units import format_both, format_length

_MARGIN_MM = 14.0


def shared_plan_pdf(plan: Plan, paper: PaperSize | None = None) -> bytes:
    """Print a plan without artworks.

    Parameters
    ----------
    plan
        Its slots; places are counted from the middle of the group.
    paper
        Used upright; A4 when None.

    Raises
    ------
    PrintingError
        If the group does not fit on the paper at any drawing scale.
    """
    size = paper or paper_size("a4")
    title = plan.name or plan.family
    booklet = Booklet(f"{title}: plan", "Slots of a picture group, to hang again with other pieces")

    def new_page(heading: str = "Slots, continued") -> tuple[Page, float]:
        page = booklet.page(size.width_mm, size.height_mm, heading)
        page.text(_MARGIN_MM, page.height_mm - 16, heading, 14, bold=True, role="H1")
        return page, page.height_mm - 24

    page, y = new_page(f"{title}: plan")
    y = _drawing(page, plan, y)
    wide = page.width_mm - 2 * _MARGIN_MM
    headings = (
        "Slot",
        "Outside width",
        "Outside height",
        "From the plumb line",
        "Centre from middle line",
    )
    columns = [
        Column(h, s * wide) for h, s in zip(headings, (0.16, 0.2, 0.2, 0.22, 0.22), strict=True)
    ]
    rows: list[list[Cell]] = [
        [
            [slot.id],
            _lines(slot.width_mm),
            _lines(slot.height_mm),
            _directed(slot.x_mm, ("left", "right")),
            _directed(slot.y_mm, ("below", "above")),
        ]
        for slot in plan.slots
    ]
    draw_table(page, y, columns, rows, new_page, x_mm=_MARGIN_MM)
    return booklet.to_bytes()


def _drawing(page: Page, plan: Plan, y_mm: float) -> float:
    """Draw the slots to scale; give the height below the drawing."""
    bounds = plan.bounds
    room = (page.width_mm - 2 * _MARGIN_MM, 0.45 * page.height_mm)
    scale = fit_scale(bounds.width_mm, bounds.height_mm, room)
    width, height = bounds.width_mm / scale, bounds.height_mm / scale
    facts = (
        f"{scale_text(scale)}. Outline {format_both(bounds.width_mm)} wide, "
        f"{format_both(bounds.height_mm)} tall; gap {format_both(plan.gap_mm)}; middle "
        f"{format_both(plan.centre_height_mm)} above the floor. Places are those of the slots' "
        "centres, from the plumb and the level line through the middle (cross)."
    )
    y = page.paragraph(_MARGIN_MM, y_mm, page.width_mm - 2 * _MARGIN_MM, facts, 9) - 4
    frame = Frame((page.width_mm - width) / 2, y - height, scale, bounds)
    for slot in plan.slots:
        _slot(page, frame, slot.id, slot.rect)
    across, up = frame.place(0.0, 0.0)
    page.cross(across, up, 2.5)
    return y - height - 10


def _slot(page: Page, frame: Frame, name: str, rect: Rect) -> None:
    x, y, width, height = frame.box(rect)
    page.box(x, y, width, height, 0.5, fill=TINT)
    middle = y + height / 2
    page.text(x + width / 2, middle + 0.6, name, 8, bold=True, align="centre", most_mm=width - 1)
    size = " x ".join(
        format_length(v, "mm").removesuffix(" mm") for v in (rect.width_mm, rect.height_mm)
    )
    page.text(
        x + width / 2, middle - 2.6, size, 6.5, align="centre", colour=SOFT, most_mm=width - 1
    )


def _lines(length_mm: float) -> list[str]:
    return [format_length(length_mm, unit) for unit in ("mm", "in")]


def _directed(length_mm: float, words: tuple[str, str]) -> list[str]:
    """Write a distance with its direction: ``354 mm left``."""
    if abs(length_mm) < 0.5:
        return ["on it"]
    word = words[int(length_mm > 0)]
    return [f"{format_length(abs(length_mm), unit)} {word}" for unit in ("mm", "in")]
