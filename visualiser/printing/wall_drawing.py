"""The wall to scale with every hook's two measures along its edges."""

from __future__ import annotations

from visualiser.geometry import Rect
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.drawing_scale import Frame, fit_scale
from visualiser.printing.page import FAINT, SOFT, TINT, Page
from visualiser.printing.wall_measures import LABELS_MM, draw_measures
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import format_both

_TAPE_MM = 25.0  # width of common masking tape
_BEYOND_MM = 250.0  # of wall shown beyond the group where the drawing is cut


def draw_wall(page: Page, plan: HangingPlan, area: Rect) -> Frame:
    """Draw the wall, what is on it and before it, the pieces, their hooks and all measures.

    Parameters
    ----------
    area
        Room on the paper, mm, its left and lower margins used for the measures.

    Raises
    ------
    PrintingError
        If the wall does not fit.
    """
    wall = plan.survey.outline.bounds
    # Both datums are shown, also where the usable wall begins beyond them.
    floor, datum = min(wall.bottom_mm, 0.0), plan.measures.side_x_mm
    left, right = min(wall.left_mm, datum), max(wall.right_mm, datum)
    view = Rect(left, floor, right - left, wall.top_mm - floor)
    room = (area.width_mm - 2 * LABELS_MM, area.height_mm - LABELS_MM - 6)
    denominator = fit_scale(view.width_mm, view.height_mm, room)
    part = _nearer_part(plan, view)
    larger = fit_scale(part.width_mm, part.height_mm, room)
    if larger < denominator:
        view, denominator = part, larger
    x = area.x_mm + LABELS_MM + (room[0] - view.width_mm / denominator) / 2
    y = area.y_mm + LABELS_MM + (room[1] - view.height_mm / denominator) / 2
    frame = Frame(x, y, denominator, view)
    with page.clipped(*_grown(frame.box(view), 0.6)):
        _surroundings(page, plan, frame)
    if view is part:
        _where_cut(page, plan, frame)
    _pieces(page, plan, frame)
    _border(page, plan, frame)
    draw_measures(page, plan, frame, area)
    return frame


def _nearer_part(plan: HangingPlan, view: Rect) -> Rect:
    """Part of the wall from the measured side to a little beyond the group."""
    group = plan.border.rect
    if plan.measures.side == "left":
        right = min(view.right_mm, group.right_mm + _BEYOND_MM)
        return Rect(view.left_mm, view.bottom_mm, right - view.left_mm, view.height_mm)
    left = max(view.left_mm, group.left_mm - _BEYOND_MM)
    return Rect(left, view.bottom_mm, view.right_mm - left, view.height_mm)


def _grown(box: tuple[float, float, float, float], by: float) -> tuple[float, float, float, float]:
    x, y, width, height = box
    return x - by, y - by, width + 2 * by, height + 2 * by


def _where_cut(page: Page, plan: HangingPlan, frame: Frame) -> None:
    """Break line where the drawing ends before the wall does."""
    x, y, width, height = frame.box(frame.view)
    left = plan.measures.side == "left"
    at = x + width if left else x
    middle, tooth = y + height / 2, 2.5
    zigzag = [
        (at, y),
        (at, middle - 2 * tooth),
        (at - tooth, middle - tooth),
        (at + tooth, middle + tooth),
        (at, middle + 2 * tooth),
        (at, y + height),
    ]
    page.line(zigzag, 0.4, colour=SOFT)
    wall = format_both(plan.survey.outline.bounds.width_mm)
    place = (at + 4, y + 2) if left else (at - 2, y + 2)
    page.text(*place, f"usable wall goes on: {wall} in all", 6.5, angle_deg=90, colour=SOFT)


def _surroundings(page: Page, plan: HangingPlan, frame: Frame) -> None:
    view = frame.view
    for zone in plan.survey.zones:
        if zone.kind in POINTS_WITH_CABLES:
            band = zone.polygon.bounds
            upright = Rect(band.x_mm, view.y_mm, band.width_mm, view.height_mm)
            level = Rect(view.x_mm, band.y_mm, view.width_mm, band.height_mm)
            for strip in (upright, level):
                page.box(*frame.box(strip), 0, fill=TINT)
    for item in plan.survey.furniture:
        x, y, width, height = frame.box(item.rect)
        page.box(x, y, width, height, 0.4, colour=FAINT, fill="#f4f4f2")
        page.text(x + 1, y + 1, item.name or item.kind, 6.5, colour=SOFT, most_mm=width - 1)
    for zone in plan.survey.zones:
        points = [frame.place(*point) for point in zone.polygon]
        page.line(points, 0.5, colour=SOFT, closed=True, dash_mm=(0.8, 0.8))
        left, top = frame.place(zone.polygon.bounds.left_mm, zone.polygon.bounds.top_mm)
        page.text(left, top + 0.8, zone.name or zone.kind, 6, colour=SOFT)
    outline = [frame.place(*point) for point in plan.survey.outline]
    page.line(outline, 0.8, closed=True)
    if plan.measures.floor_known:
        x0, y0 = frame.place(frame.view.left_mm, 0)
        x1 = frame.place(frame.view.right_mm, 0)[0]
        page.line([(x0, y0), (x1, y0)], 1.6)


def _pieces(page: Page, plan: HangingPlan, frame: Frame) -> None:
    for piece in plan.pieces:
        x, y, width, height = frame.box(piece.rect)
        page.box(x, y, width, height, 0.8, fill="#ffffff")
        size = max(min(14.0, height * 1.1, width * 1.6), 5.0)
        middle, low = x + width / 2, y + height / 2 - size * 0.18
        page.text(middle, low, str(piece.number), size, bold=True, align="centre")
        if height > 16 and width > 8:
            page.text(middle, low - 4, piece.piece.called, 6.5, align="centre", most_mm=width - 1)
    for piece in plan.pieces:
        for hook in piece.hooks_mm:
            page.cross(*frame.place(*hook), 1.6, 0.6)
            page.circle(*frame.place(*hook), 0.8, 0.5)


def _border(page: Page, plan: HangingPlan, frame: Frame) -> None:
    """Tape border, and its inside measures along the top and the far side."""
    rect = plan.border.rect
    x, y, width, height = frame.box(rect)
    page.box(*_grown((x, y, width, height), _TAPE_MM / frame.denominator), 0.5, dash_mm=(2.0, 1.0))
    page.box(x, y, width, height, 0.25)
    top = y + height + 2.5
    page.arrow((x + width / 2, top), (x, top), 0.4)
    page.arrow((x + width / 2, top), (x + width, top), 0.4)
    page.text(x + width / 2, top + 1, format_both(rect.width_mm), 7.5, bold=True, align="centre")
    right = x + width + 2.5
    if plan.measures.side == "right":
        right = x - 2.5
    page.arrow((right, y + height / 2), (right, y), 0.4)
    page.arrow((right, y + height / 2), (right, y + height), 0.4)
    page.text(
        right + (3.4 if plan.measures.side == "left" else -1.2),
        y + height / 2,
        format_both(rect.height_mm),
        7.5,
        bold=True,
        align="centre",
        angle_deg=90,
    )
