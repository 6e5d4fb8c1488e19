"""The wall to scale with every hook's two measures along its edges."""

from __future__ import annotations

from typing import assert_never

from visualiser.geometry import Rect
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.drawing_scale import Frame, fit_scale
from visualiser.printing.page import FAINT, SOFT, TINT, Align, Page
from visualiser.printing.wall_measures import LABELS_MM, draw_measures
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import format_both

_APART_MM = 12.0  # two hooks nearer than this have no room for both names
_BORDER_LABEL_MM = 14.0
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
    beyond = _BORDER_LABEL_MM  # at the side that is not measured from
    room = (area.width_mm - LABELS_MM - beyond, area.height_mm - LABELS_MM - 6)
    denominator = fit_scale(view.width_mm, view.height_mm, room)
    part = _nearer_part(plan, view)
    larger = fit_scale(part.width_mm, part.height_mm, room)
    if larger < denominator:
        view, denominator = part, larger
    before = LABELS_MM if plan.measures.side == "left" else beyond
    x = area.x_mm + before + (room[0] - view.width_mm / denominator) / 2
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
    page.text(*place, f"usable wall goes on: {wall} in all", 8, angle_deg=90, colour=SOFT)


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
        page.text(x + 1, y + 1, item.name or item.kind, 8, colour=SOFT, most_mm=width - 1)
    for zone in plan.survey.zones:
        points = [frame.place(*point) for point in zone.polygon]
        page.line(points, 0.5, colour=SOFT, closed=True, dash_mm=(0.8, 0.8))
        left, top = frame.place(zone.polygon.bounds.left_mm, zone.polygon.bounds.top_mm)
        page.text(left, top + 0.8, zone.name or zone.kind, 8, colour=SOFT)
    for x in plan.survey.studs.between(view.left_mm, view.right_mm):
        ends = [frame.place(x, view.bottom_mm), frame.place(x, view.top_mm)]
        page.line(ends, 0.5, colour=FAINT, dash_mm=(4, 1.5))
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
        size = max(min(16.0, height * 1.1, width * 1.6), 8.0)
        middle, low = x + width / 2, y + height / 2 - size * 0.18
        page.text(middle, low, str(piece.number), size, bold=True, align="centre")
        if height > 16 and width > 8:
            page.text(middle, low - 4, piece.piece.called, 8, align="centre", most_mm=width - 1)
    for piece in plan.pieces:
        places = [frame.place(*hook) for hook in piece.hooks_mm]
        _bearing(page, frame, piece, places)
        near = len(places) == 2 and places[1][0] - places[0][0] < _APART_MM
        for (x, y), name in zip(places, piece.hook_names(), strict=True):
            if near:  # the piece's number stands between them
                page.text(x, y - 4.6, name[-1], 8, bold=True, align="centre")
                continue
            right = name.endswith("R")  # its name stays inside the frame
            align: Align = "right" if right else "left"
            page.text(x - 1.4 if right else x + 1.4, y - 4.2, name, 8, bold=True, align=align)


def _bearing(page: Page, frame: Frame, piece: PiecePlan, places: list[tuple[float, float]]) -> None:
    """Draw what a piece bears on, as its kind of hanger has it."""
    drawn = piece.piece.hanger.of.drawn
    match drawn:
        case "cross" | "bar" | "cord":
            for place in places:
                page.cross(*place, 1.6, 0.6)
                page.circle(*place, 0.8, 0.5)
                if drawn == "cord":
                    page.line([place, (place[0], place[1] + 6)], 0.5, dash_mm=(1, 1))
            if drawn == "bar":
                page.line(places, 1.2)
            for lock in piece.locks_mm:
                page.cross(*frame.place(*lock), 1.2, 0.6)
        case "corners":
            x, y, width, height = frame.box(piece.rect)
            inset = min(3.0, width / 4, height / 4)
            for left in (x + inset / 2, x + width - inset * 1.5):
                for low in (y + inset / 2, y + height - inset * 1.5):
                    page.box(left, low, inset, inset, 0.4, colour=SOFT)
        case _:
            assert_never(drawn)


def _border(page: Page, plan: HangingPlan, frame: Frame) -> None:
    """Tape border, and its inside measures along the top and the far side."""
    rect = plan.border.rect
    x, y, width, height = frame.box(rect)
    page.box(*_grown((x, y, width, height), _TAPE_MM / frame.denominator), 0.5, dash_mm=(2.0, 1.0))
    page.box(x, y, width, height, 0.25)
    top = y + height + 2.5
    page.arrow((x + width / 2, top), (x, top), 0.4)
    page.arrow((x + width / 2, top), (x + width, top), 0.4)
    page.text(x + width / 2, top + 1, format_both(rect.width_mm), 9, bold=True, align="centre")
    right = x + width + 2.5
    if plan.measures.side == "right":
        right = x - 2.5
    page.arrow((right, y + height / 2), (right, y), 0.4)
    page.arrow((right, y + height / 2), (right, y + height), 0.4)
    page.text(
        right + (3.4 if plan.measures.side == "left" else -1.2),
        y + height / 2,
        format_both(rect.height_mm),
        9,
        bold=True,
        align="centre",
        angle_deg=90,
    )
