"""Palettes and judgements as plain data for programs, shared by the colour commands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from visualiser.cli.output import finding_data

if TYPE_CHECKING:
    from visualiser.colour.judgement import Judgement
    from visualiser.colour.palette import Palette
    from visualiser.survey.room_colours import RoomColours


def palette_data(found: Palette) -> dict[str, Any]:
    """Turn a palette into plain data."""
    return {
        "swatches": [
            {
                "lab": [round(v, 2) for v in s.lab],
                "share": round(s.share, 4),
                "hex": s.hex,
                "name": s.name,
                "word": s.word,
                "accent": s.accent,
            }
            for s in found.swatches
        ],
        "trusted": found.trusted,
        "findings": finding_data(found.findings),
    }


def judgement_data(judged: Judgement) -> dict[str, Any]:
    """Turn a judgement into plain data."""
    return {
        "kind": judged.kind,
        "value": round(judged.value, 3),
        "unit": judged.unit,
        "band": judged.band,
        "sentence": judged.sentence,
        "trusted": judged.trusted,
    }


def room_data(room: RoomColours) -> dict[str, Any]:
    """Turn a room's colours into plain data."""
    return {
        "wall": {
            "lab": [round(v, 2) for v in room.wall.lab],
            "half_width_lab": [round(v, 2) for v in room.wall.half_width],
            "name": room.wall.name,
            "word": room.wall.word,
        },
        "white_from": room.balance.source,
        "cast": round(room.balance.cast, 2),
        "palette": palette_data(room.palette),
        "parts": {name: palette_data(palette)["swatches"] for name, palette in room.parts},
        "findings": finding_data(room.findings),
    }
