"""The wall to scale with every hook's two measures along its edges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from visualiser.errors import PrintingError
from visualiser.geometry import Rect
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.page import FAINT, SOFT, TINT, Align, Page
from visualiser.survey.dangers import POINTS_WITH_CABLES
from visualiser.units import format_both, format_length

SCALES = (5, 10, 15, 20, 25, 30, 40, 50, 60, 75, 100, 150, 200)
"""Drawing scales that a ruler can follow: ISO 5455 (5, 10, 20, 50, 100, 200) and steps between."""
_MARGIN_MM = 32.0  # room for the longest label, "12 345 (486 15/16)", and its leader
_TAPE_MM = 25.0  # width of common masking tape
_BEYOND_MM = 250.0  # of wall shown beyond the group where the drawing is cut
_LABEL_PT = 7.0
_LABEL_STEP_MM = 3.3
_SAME_MM = 0.5  # places nearer than a printed millimetre share a label


@dataclass(frozen=True, slots=True)
class Frame:
    """Part of a page that a drawing of the wall fills, and its scale, 1 to ``denominator``."""

    x_mm: float
    y_mm: float
    denominator: int
    view: Rect

    def place(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Find the place on the paper of a place on the wall."""
        return (
            self.x_mm + (x_mm - self.view.left_mm) / self.denominator,
            self.y_mm + (y_mm - self.view.bottom_mm) / self.denominator,
        )

    def box(self, rect: Rect) -> tuple[float, float, float, float]:
        """Lower left corner and size on the paper of a rectangle of the wall."""
        x, y = self.place(rect.left_mm, rect.bottom_mm)
        return x, y, rect.width_mm / self.denominator, rect.height_mm / self.denominator


def fit_scale(width_mm: float, height_mm: float, room_mm: tuple[float, float]) -> int:
    """Largest drawing scale at which a wall fits into the room on the paper.

    Raises
    ------
    PrintingError
        If it fits at none.
    """
    for denominator in SCALES:
        if width_mm <= room_mm[0] * denominator and height_mm <= room_mm[1] * denominator:
            return denominator
    raise PrintingError(
        f"A wall of {width_mm / 1000:.1f} x {height_mm / 1000:.1f} m does not fit on this paper "
        f"even at 1:{SCALES[-1]}.",
        hint="Choose larger paper, or survey the part of the wall that is hung.",
    )


def spread(values: Sequence[float], step: float, low: float, high: float) -> list[float]:
    """Move labels apart to a step as little as can be, in order and within limits.

    Neighbours that would touch form a block whose labels stand a step apart, placed where the sum
    of squared shifts is least (pool adjacent violators on the places less their rank).

    Raises
    ------
    ValueError
        If they do not fit, or are not in order.
    """
    if (len(values) - 1) * step > high - low + 1e-9:
        raise ValueError("the labels do not fit")
    if any(a > b for a, b in pairwise(values)):
        raise ValueError("labels are placed in ascending order")
    blocks: list[tuple[float, int]] = []  # mean of (place less rank steps), and how many
    for rank, value in enumerate(values):
        mean, count = value - rank * step, 1
        while blocks and blocks[-1][0] > mean:
            before, more = blocks.pop()
            mean = (mean * count + before * more) / (count + more)
            count += more
        blocks.append((mean, count))
    means = [mean for mean, count in blocks for _ in range(count)]
    top = high - (len(values) - 1) * step
    return [min(max(mean, low), top) + rank * step for rank, mean in enumerate(means)]


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
    room = (area.width_mm - 2 * _MARGIN_MM, area.height_mm - _MARGIN_MM - 6)
    denominator = fit_scale(view.width_mm, view.height_mm, room)
    part = _nearer_part(plan, view)
    larger = fit_scale(part.width_mm, part.height_mm, room)
    if larger < denominator:
        view, denominator = part, larger
    x = area.x_mm + _MARGIN_MM + (room[0] - view.width_mm / denominator) / 2
    y = area.y_mm + _MARGIN_MM + (room[1] - view.height_mm / denominator) / 2
    frame = Frame(x, y, denominator, view)
    with page.clipped(*_grown(frame.box(view), 0.6)):
        _surroundings(page, plan, frame)
    if view is part:
        _where_cut(page, plan, frame)
    _pieces(page, plan, frame)
    _border(page, plan, frame)
    _measures(page, plan, frame, area)
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
            page.text(middle, low - 4, piece.piece.id, 6.5, align="centre", most_mm=width - 1)
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


def _measures(page: Page, plan: HangingPlan, frame: Frame, area: Rect) -> None:
    """Distances from the side along the bottom, heights along the measured side."""
    measures, rect = plan.measures, plan.border.rect
    hooks = [hook for piece in plan.pieces for hook in piece.hooks_mm]
    across = [x for x, _ in hooks] + [rect.left_mm, rect.right_mm]
    up = [y for _, y in hooks] + [rect.bottom_mm, rect.top_mm]
    left = measures.side == "left"
    x_side = frame.place(frame.view.left_mm if left else frame.view.right_mm, 0)[0]
    x_zero, y_zero = frame.place(measures.side_x_mm, 0)
    page.line([(x_zero, y_zero - 3), (x_zero, y_zero + 3)], 1.6)
    page.text(x_zero, y_zero - 6, "0", 7, align="centre", colour=SOFT)
    y_low = frame.place(0, frame.view.bottom_mm)[1]

    places = _distinct(across)
    if _too_many(len(places), area.width_mm - _MARGIN_MM):
        page.text(frame.x_mm, y_low - 8, _SEE_TABLE, 7.5, colour=SOFT)
    else:
        drawn = [frame.place(x, 0)[0] for x in places]
        moved = spread(drawn, _LABEL_STEP_MM, area.x_mm + _MARGIN_MM - 4, area.right_mm - 2)
        for x, at, label_at in zip(places, drawn, moved, strict=True):
            leader = [(at, y_low), (at, y_low - 1), (label_at, y_low - 4), (label_at, y_low - 5)]
            page.line(leader, 0.25, colour=SOFT)
            label = _short(abs(measures.from_side_mm(x)))
            label += measures.across(x, "mm").partition(" mm")[2].replace(" to its", "")
            page.text(label_at + 0.9, y_low - 5.6, label, _LABEL_PT, align="right", angle_deg=90)
    for row, text in enumerate((f"from {measures.across_from},", "mm (in)")):
        page.text(
            frame.x_mm - 5, y_low - 8 - 3 * row, text, 7, align="right", colour=SOFT,
            most_mm=frame.x_mm - 8,
        )  # fmt: skip

    places = _distinct(up)
    sign = -1 if left else 1
    moved = [y_low]
    if _too_many(len(places), area.top_mm - 4 - y_low):
        page.text(x_side + sign * 2, y_low + 6, _SEE_TABLE, 7.5, angle_deg=90, colour=SOFT)
    else:
        drawn = [frame.place(0, y)[1] for y in places]
        moved = spread(drawn, _LABEL_STEP_MM, y_low, area.top_mm - 4)
        for y, at, label_at in zip(places, drawn, moved, strict=True):
            leader = [(0, at), (1, at), (4, label_at), (5, label_at)]
            page.line([(x_side + sign * dx, dy) for dx, dy in leader], 0.25, colour=SOFT)
            page.text(
                x_side + sign * 5.6,
                label_at - 0.9,
                _short(y),
                _LABEL_PT,
                align="right" if left else "left",
            )
    datum = "floor" if measures.floor_known else "height datum"
    y_top = max(frame.place(0, frame.view.top_mm)[1], *moved)
    align: Align = "right" if left else "left"
    page.text(
        x_side + sign * 2, y_top + 2, f"from the {datum}, mm (in)", 7, align=align, colour=SOFT
    )


_SEE_TABLE = "measure from the table of hooks"


def _too_many(count: int, room_mm: float) -> bool:
    return (count - 1) * _LABEL_STEP_MM > room_mm


def _distinct(values: Sequence[float]) -> list[float]:
    """Ascending, those nearer than a printed millimetre once."""
    kept: list[float] = []
    for value in sorted(values):
        if not kept or value - kept[-1] > _SAME_MM:
            kept.append(value)
    return kept


def _short(length_mm: float) -> str:
    """Millimetres with inches, units left to the axis."""
    inches = format_length(length_mm, "in").removesuffix(" in")
    return f"{format_length(length_mm, 'mm').removesuffix(' mm')} ({inches})"


def scale_text(denominator: int) -> str:
    """Name a scale, and what an inch stands for."""
    return f"scale 1:{denominator} (1 in stands for {denominator / 12:.3g} ft)"
