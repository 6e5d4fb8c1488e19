"""How the mock-up is to look: finish, wall colour, light, what stands in front or is taken away."""

from __future__ import annotations

from typing import Any, cast, get_args

import numpy as np
import streamlit as st

from visualiser.app.fields import plain, shortened
from visualiser.app.marking import change_marks
from visualiser.app.presses import pressed
from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.geometry import PointsPx
from visualiser.inventory.framing_sizes import mat_to_fit
from visualiser.inventory.piece import FINISHES
from visualiser.project.piece_entries import OptionEntry, PieceEntry
from visualiser.project.wall_entries import InFrontEntry, PaintedOutEntry
from visualiser.rendering.wall_colour import RoomLight
from visualiser.survey.light_choice import LightChoice, LightHeight, LightSide, ShadowEdges

OWN = "each piece's own"
FROM_PHOTO = "as the photo shows"
_FITS = {
    "cut": "cut to its window",
    "whole": "whole, on paper",
    "mat": "whole, the mat widened",
}
_CORNERS = 10
"""Handles of a fresh outline: enough to follow a lamp or a plant roughly."""


def choose_finish(work: Work, option: OptionEntry) -> None:
    """Try one finish on every moulding."""
    finishes = [OWN, *FINISHES]
    chosen = st.selectbox(
        "Finish of all mouldings",
        finishes,
        index=finishes.index(option.finish) if option.finish in FINISHES else 0,
        key=f"finish-{option.id}-{work.generation}",
    )
    finish = None if chosen == OWN else chosen
    if finish != option.finish:
        _put(work, option, finish=finish)


def choose_wall_colour(work: Work, option: OptionEntry) -> None:
    """Try another paint on the wall."""
    paint = st.toggle(
        "Try another wall colour",
        option.wall_colour is not None,
        key=f"paint-{option.id}-{work.generation}",
    )
    colour = None
    if paint:
        colour = st.color_picker(
            "Wall colour",
            option.wall_colour or "#8fa39b",
            key=f"colour-{option.id}-{work.generation}",
        )
    if colour != option.wall_colour:
        _put(work, option, wall_colour=colour)


def choose_light(work: Work, option: OptionEntry) -> None:
    """Show the room by another light; correct where the light comes from."""
    lights = list(get_args(RoomLight))
    room = st.selectbox(
        "Light in the room",
        lights,
        index=lights.index(option.room_light),
        key=f"room-light-{option.id}-{work.generation}",
        help="“Neutral” takes the photo's colour cast away.",
    )
    if room != option.room_light:
        _put(work, option, room_light=room)
    present = work.document.marks.light
    sides = [FROM_PHOTO, "left", "middle", "right"]
    side = st.selectbox(
        "The main light comes from",
        sides,
        index=sides.index(present.side) if present else 0,
        key=f"light-side-{work.generation}",
    )
    light = None
    if side != FROM_PHOTO:
        given = present or LightChoice()
        height, edges = st.columns(2)
        heights, kinds = list(get_args(LightHeight)), list(get_args(ShadowEdges))
        up = height.selectbox(
            "How high", heights, heights.index(given.height), key=f"light-up-{work.generation}"
        )
        edge = edges.selectbox(
            "Shadows", kinds, kinds.index(given.edges), key=f"light-edge-{work.generation}"
        )
        light = LightChoice(cast(LightSide, side), up, edge)
    if light != present:
        change_marks(work, light=light)


def outline_things(work: Work, results: Results) -> None:
    """Outline what stays in front of the pieces, and what is painted out."""
    marks = work.document.marks
    st.caption(
        "Draw the outline a little too large in the photo: the true edge is looked for inside it."
    )
    front, gone = st.columns(2)
    if pressed(
        "Something in front", at=front, width="stretch", help="A lamp, a plant, a sofa's back."
    ):
        change_marks(work, in_front=(*marks.in_front, InFrontEntry(outline_px=_ring(results))))
    if pressed("Paint something out", at=gone, width="stretch", help="A nail, an old picture."):
        change_marks(
            work, painted_out=(*marks.painted_out, PaintedOutEntry(outline_px=_ring(results)))
        )
    for field, word in (("in_front", "in front"), ("painted_out", "painted out")):
        items = getattr(marks, field)
        for index in range(len(items)):
            text, button = st.columns([1.5, 1], vertical_alignment="center")
            text.markdown(f"{word} {index + 1}")
            key = f"remove-{field}-{index}"
            if button.button("Remove", key=key, help=f"Remove {word} {index + 1}", width="stretch"):
                change_marks(work, **{field: items[:index] + items[index + 1 :]})


def choose_fits(work: Work, results: Results, piece_ids: list[str]) -> None:
    """Offer the ways to fit pictures whose shape is not their window's."""
    pieces = {piece.id: piece for piece in results.pieces()}
    for entry in work.document.pieces:
        if entry.id not in piece_ids or entry.artwork is None:
            continue
        chosen = st.selectbox(
            f"Picture of {plain(shortened(entry.name or entry.id, 40))}",
            list(_FITS),
            index=list(_FITS).index(entry.artwork_fit),
            format_func=_FITS.__getitem__,
            key=f"fit-{entry.id}-{work.generation}",
        )
        if chosen == entry.artwork_fit:
            continue
        if chosen == "mat":
            mat = mat_to_fit(pieces[entry.id]).mat
            _replace_piece(work, entry.model_copy(update={"mat": mat}))
        else:
            _replace_piece(work, entry.model_copy(update={"artwork_fit": chosen}))


def _replace_piece(work: Work, changed: PieceEntry) -> None:
    work.change(work.document.replacing(changed))
    st.rerun()


def _ring(results: Results) -> tuple[tuple[float, float], ...]:
    """Outline in the middle of the photo, to be dragged to where it belongs."""
    photo = results.photo()
    side = min(photo.width_px, photo.height_px)
    turn = 2 * np.pi * np.arange(_CORNERS) / _CORNERS
    points: PointsPx = np.c_[
        photo.width_px / 2 + 0.1 * side * np.cos(turn),
        photo.height_px / 2 + 0.16 * side * np.sin(turn),
    ]
    return tuple((float(x), float(y)) for x, y in points)


def _put(work: Work, option: OptionEntry, **values: Any) -> None:
    changed = OptionEntry.model_validate({**dict(option), **values})
    work.change(work.document.replacing(changed))
    st.rerun()
