"""Marks put into the photo by buttons, and taken away: lines, lengths, what is kept clear."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.fields import length_field, plain
from visualiser.app.marking import change_marks
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.project.wall_entries import FurnitureEntry, ZoneEntry
from visualiser.rectification.marks import DrawnLine, TapedLength

ZONES = ("switch", "socket", "thermostat", "radiator", "window", "door", "pipe", "beam", "other")
FURNITURE = ("sofa", "bed", "cot", "sideboard", "table", "desk", "chair", "other")


def drawn_lines(work: Work, results: Results) -> None:
    """Add and take away lines that are plumb or level."""
    marks = work.document.marks
    st.caption(
        "Lay a line along a door frame, a corner, the skirting or the ceiling: it says what is "
        "plumb or level, and shows how the lens bends."
    )
    x, y = (value / 2 for value in photo_size(results))
    left, right = st.columns(2)
    if pressed("Add a plumb line", at=left, width="stretch"):
        line = DrawnLine((x, 0.6 * y), (x, 1.4 * y), "plumb")
        change_marks(work, lines=(*marks.lines, line))
    if pressed("Add a level line", at=right, width="stretch"):
        line = DrawnLine((0.6 * x, y), (1.4 * x, y), "level")
        change_marks(work, lines=(*marks.lines, line))
    for index, line in enumerate(marks.lines):
        if _removable(f"{line.direction} line {index + 1}", f"line-{index}"):
            change_marks(work, lines=_without(marks.lines, index))


def taped_lengths(work: Work, results: Results) -> None:
    """Add, type and take away lengths measured by tape."""
    marks = work.document.marks
    x, y = (value / 2 for value in photo_size(results))
    if pressed("Add a length measured by tape", width="stretch"):
        tape = TapedLength((0.8 * x, y), (1.2 * x, y), 1000.0)
        change_marks(work, taped=(*marks.taped, tape))
    for index, tape in enumerate(marks.taped):
        typed = length_field(
            work, f"Taped length {index + 1}", tape.length_mm, f"tape-{index}", least_mm=1
        )
        if typed is not None and typed != tape.length_mm:
            changed = TapedLength(tape.start_px, tape.end_px, typed, name=tape.name)
            change_marks(work, taped=_replaced(marks.taped, index, changed))
        if _removable(f"taped length {index + 1}", f"tape-{index}"):
            change_marks(work, taped=_without(marks.taped, index))


def mark_by_hand(work: Work, results: Results) -> None:
    """Add and take away zones, furniture and an outline of the usable wall, by hand."""
    marks = work.document.marks
    what, kind = st.columns(2)
    part = what.selectbox("Add", ("keep clear", "furniture"), key="add-part")
    zone = part == "keep clear"
    name = kind.selectbox("Kind", ZONES if zone else FURNITURE, key=f"add-{zone}")
    where = _typed_box(work) if work.document.photo is None else {}
    if pressed("Add it to the wall", width="stretch"):
        if work.document.photo is not None:
            points = tuple((float(x), float(y)) for x, y in box_in_photo(results, 0.08, 0.08))
            where = {"points_px": points}
        if zone:
            added = ZoneEntry.model_validate({"kind": name, **where})
            change_marks(work, zones=(*marks.zones, added))
        else:
            stands = FurnitureEntry.called(name, **where)
            change_marks(work, furniture=(*marks.furniture, stands))
    for index, entry in enumerate(marks.zones):
        if _removable(f"{entry.name or entry.kind} {index + 1}", f"zone-{index}"):
            change_marks(work, zones=_without(marks.zones, index))
    for index, item in enumerate(marks.furniture):
        if _removable(f"{item.name or item.kind} {index + 1}", f"furniture-{index}"):
            change_marks(work, furniture=_without(marks.furniture, index))
    if work.document.photo is None:
        return
    if marks.outline_px is None:
        if pressed("Draw the usable wall by hand", width="stretch"):
            box = box_in_photo(results, 0.35, 0.3)
            change_marks(work, outline_px=tuple((float(x), float(y)) for x, y in box))
    elif pressed("Use the wall as surveyed", width="stretch"):
        change_marks(work, outline_px=None)


def add_furniture(work: Work, results: Results, kind: str) -> None:
    """Put a box for a piece of furniture into the photo, where such things stand, to be dragged."""
    width, height = photo_size(results)
    x, y, half_w, half_h = 0.5 * width, 0.8 * height, 0.22 * width, 0.14 * height
    points = tuple(
        (x + across * half_w, y + down * half_h)
        for across, down in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )
    stands = FurnitureEntry.model_validate({"kind": kind, "points_px": points})
    change_marks(work, furniture=(*work.document.marks.furniture, stands))


def _typed_box(work: Work) -> dict[str, Any]:
    left, right = st.columns(2)
    with left:
        x = length_field(work, "From the side", 1000.0, "box-x") or 0.0
        w = length_field(work, "Its width", 800.0, "box-w", least_mm=10) or 100.0
    with right:
        y = length_field(work, "Above the floor", 0.0, "box-y") or 0.0
        h = length_field(work, "Its height", 800.0, "box-h", least_mm=10) or 100.0
    return {"points_mm": ((x, y + h), (x + w, y + h), (x + w, y), (x, y))}


def _removable(label: str, key: str) -> bool:
    text, button = st.columns([1.5, 1], vertical_alignment="center")
    text.markdown(plain(label))
    return button.button(
        "Remove", key=f"remove-{key}", help=f"Remove {plain(label)}", width="stretch"
    )


def photo_size(results: Results) -> tuple[float, float]:
    """Give the photo's width and height, px."""
    photo = results.photo()
    return float(photo.width_px), float(photo.height_px)


def box_in_photo(results: Results, half_w: float, half_h: float) -> list[tuple[float, float]]:
    """Box around the photo's middle, half sizes as shares of its shorter side."""
    width, height = photo_size(results)
    side = min(width, height)
    x, y, w, h = width / 2, height / 2, half_w * side, half_h * side
    return [(x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)]


def _without(items: tuple[Any, ...], index: int) -> tuple[Any, ...]:
    return items[:index] + items[index + 1 :]


def _replaced(items: tuple[Any, ...], index: int, item: Any) -> tuple[Any, ...]:
    return (*items[:index], item, *items[index + 1 :])
