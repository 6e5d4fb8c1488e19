"""Measures along the edges of a drawn wall: where hooks and border are, from the two datums."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from visualiser.geometry import Rect
from visualiser.hanging.plan import HangingPlan
from visualiser.printing.drawing_scale import Frame
from visualiser.printing.page import SOFT, Align, Page
from visualiser.units import format_length

LABELS_MM = 40.0
"""Room for a long label, "3L 12 345 (486 15/16)", and its leader."""
_LABEL_PT = 8.5
_LABEL_STEP_MM = 3.9
_SAME_MM = 0.5  # places nearer than a printed millimetre share a label
_SEE_TABLE = "measure from the list of hooks"
_BORDER = "tape"
_SHORT_NAMES = 9  # characters; longer ones stand behind their number, and are cut before it


def draw_measures(page: Page, plan: HangingPlan, frame: Frame, area: Rect) -> None:
    """Distances from the side along the bottom, heights along the measured side."""
    measures, rect = plan.measures, plan.border.rect
    hooks = [
        (name, hook)
        for piece in plan.pieces
        for name, hook in zip(piece.hook_names(), piece.hooks_mm, strict=True)
    ]
    across = [(x, name) for name, (x, _) in hooks]
    across += [(rect.left_mm, _BORDER), (rect.right_mm, _BORDER)]
    up = [(y, name) for name, (_, y) in hooks]
    up += [(rect.bottom_mm, _BORDER), (rect.top_mm, _BORDER)]
    left = measures.side == "left"
    x_side = frame.place(frame.view.left_mm if left else frame.view.right_mm, 0)[0]
    x_zero, y_zero = frame.place(measures.side_x_mm, 0)
    page.line([(x_zero, y_zero - 3), (x_zero, y_zero + 3)], 1.6)
    page.text(x_zero, y_zero - 6, "0", 8, align="centre", colour=SOFT)
    y_low = frame.place(0, frame.view.bottom_mm)[1]

    places = _distinct(across)
    if _too_many(len(places), area.width_mm - LABELS_MM):
        page.text(frame.x_mm, y_low - 8, _SEE_TABLE, 9, colour=SOFT)
    else:
        drawn = [frame.place(x, 0)[0] for x, _ in places]
        moved = spread(drawn, _LABEL_STEP_MM, area.x_mm + LABELS_MM - 4, area.right_mm - 2)
        for (x, names), at, label_at in zip(places, drawn, moved, strict=True):
            leader = [(at, y_low), (at, y_low - 1), (label_at, y_low - 4), (label_at, y_low - 5)]
            page.line(leader, 0.25, colour=SOFT)
            label = _short(abs(measures.from_side_mm(x)))
            label += measures.across(x, "mm").partition(" mm")[2].replace(" to its", "")
            label += f"  {names}"
            page.text(
                label_at + 0.9, y_low - 5.6, label, _LABEL_PT,
                align="right", angle_deg=90, most_mm=max(LABELS_MM - 6, y_low - 5.6 - area.y_mm),
            )  # fmt: skip
    for row, text in enumerate((f"from {measures.across_from},", "mm (in)")):
        page.text(
            frame.x_mm - 5, y_low - 8 - 3.6 * row, text, 8, align="right", colour=SOFT,
            most_mm=frame.x_mm - 8,
        )  # fmt: skip

    places = _distinct(up)
    sign = -1 if left else 1
    moved = [y_low]
    if _too_many(len(places), area.top_mm - 4 - y_low):
        page.text(x_side + sign * 2, y_low + 6, _SEE_TABLE, 9, angle_deg=90, colour=SOFT)
    else:
        drawn = [frame.place(0, y)[1] for y, _ in places]
        moved = spread(drawn, _LABEL_STEP_MM, y_low, area.top_mm - 4)
        for (y, names), at, label_at in zip(places, drawn, moved, strict=True):
            leader = [(0, at), (1, at), (4, label_at), (5, label_at)]
            page.line([(x_side + sign * dx, dy) for dx, dy in leader], 0.25, colour=SOFT)
            page.text(
                x_side + sign * 5.6,
                label_at - 0.9,
                f"{names}  {_short(y)}" if len(names) <= _SHORT_NAMES else f"{_short(y)}  {names}",
                _LABEL_PT,
                align="right" if left else "left",
                most_mm=LABELS_MM - 6,
            )
    datum = "floor" if measures.floor_known else "height datum"
    y_top = max(frame.place(0, frame.view.top_mm)[1], *moved)
    align: Align = "right" if left else "left"
    page.text(
        x_side + sign * 2, y_top + 2, f"from the {datum}, mm (in)", 8, align=align, colour=SOFT
    )


def _too_many(count: int, room_mm: float) -> bool:
    return (count - 1) * _LABEL_STEP_MM > room_mm


def _distinct(values: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Sort places, those nearer than a printed millimetre once, with the names of all of them."""
    kept: list[tuple[float, list[str]]] = []
    for value, name in sorted(values):
        if not kept or value - kept[-1][0] > _SAME_MM:
            kept.append((value, []))
        if name not in kept[-1][1]:
            kept[-1][1].append(name)
    return [(value, _in_short(names)) for value, names in kept]


def _in_short(names: Sequence[str]) -> str:
    """Name both hooks of a piece by its number alone.

    Examples
    --------
    >>> _in_short(["1L", "1R", "2L", "3"])
    '1 2L 3'
    """
    short: list[str] = []
    for name in names:
        number = name.rstrip("LR")
        both = {f"{number}L", f"{number}R"} <= set(names)
        if (number if both else name) not in short:
            short.append(number if both else name)
    return " ".join(short)


def _short(length_mm: float) -> str:
    """Millimetres with inches, units left to the axis."""
    inches = format_length(length_mm, "in").removesuffix(" in")
    return f"{format_length(length_mm, 'mm').removesuffix(' mm')} ({inches})"


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
