"""How a picture goes with a room: its colours, its wall, and colours that face each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import palette_distance
from visualiser.colour.judgement import Judgement
from visualiser.colour.palette import Palette, palette_from_lab
from visualiser.colour.scales import ROOM_FIT, WALL_CONTRAST
from visualiser.colour.wording import facing_colours

_WHITE_LIGHTNESS, _WHITE_CHROMA = 80.0, 12.0
"""A colour this light and weak is a white of some kind: it takes any picture. Common practice, no
source; plaster, ivory and pale grey are within it."""
_LEAST_COLOURED = 0.1
"""Part of the room that must not be white for its colours to be compared. Ours."""


def room_colours_only(room: Palette) -> Palette | None:
    """Palette of a room without its whites; None where hardly anything else is seen."""
    lab = room.lab
    white = (lab[:, 0] >= _WHITE_LIGHTNESS) & (np.hypot(lab[:, 1], lab[:, 2]) <= _WHITE_CHROMA)
    if room.shares[~white].sum() < _LEAST_COLOURED:
        return None
    return palette_from_lab(lab[~white], room.shares[~white], findings=room.findings)


def judge_room(palette: Palette, room: Palette) -> Judgement:
    """Judge a piece against the room's colours.

    White takes anything: the room's whites are left out, and a room of whites is judged to suit
    every piece. A colour of the piece that is the opposite of one of the room's is named.
    """
    coloured = room_colours_only(room)
    if coloured is None:
        distance = palette_distance(palette, room)
        sentence = "The room is white, which takes any picture."
        return Judgement(ROOM_FIT.kind, distance, ROOM_FIT.unit, "free", sentence)
    judged = ROOM_FIT.judge(
        palette_distance(palette, coloured),
        trusted=palette.trusted and room.trusted,
        doubt="the picture or the room gives little to go by.",
    )
    facing = facing_colours(palette, coloured)
    if facing is None:
        return judged
    return replace(
        judged,
        sentence=f"{judged.sentence} Its {facing[0]} is the opposite of the room's {facing[1]}: "
        "each makes the other look stronger.",
    )


def judge_contrast(palette: Palette, wall_lab: ArrayLike) -> Judgement:
    """Judge a piece against the wall's paint behind it."""
    return WALL_CONTRAST.judge(contrast_with_wall(palette, wall_lab), trusted=True)


def contrast_with_wall(palette: Palette, wall_lab: ArrayLike) -> float:
    """Mean CIEDE2000 of a piece's colours, by share, to the wall's paint."""
    return float(palette.shares @ delta_e_2000(palette.lab, wall_lab))
