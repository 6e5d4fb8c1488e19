"""Dangerous places on a wall: one table of what may hold a piece there, and of what is said.

The fixing that is chosen and the caution that is printed are read from the same row, so that they
cannot disagree.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from visualiser.findings import Severity
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.inventory.weight import Weight
from visualiser.survey.dangers import MOST_PROTRUSION_MM, protrudes
from visualiser.survey.survey import FurnitureKind, Survey
from visualiser.wording import BothUnits, sentence

Place = Literal["bed", "cot", "seat", "radiator", "walkway", "earthquake"]
Held = Literal["any", "no strips", "closed", "closed in solid", "nothing"]
"""What may hold a piece, from whatever carries it to nothing that is named here."""
HELD: tuple[Held, ...] = ("any", "no strips", "closed", "closed in solid", "nothing")

LARGE_MM = 600.0
"""From this width or height a piece is large: our own limit; FEMA says "large" without a figure."""
LARGE_KG = 5.0
"""Above this weight a piece is large: our own limit, likewise."""
RADIATOR_REACH_MM = 1000.0
"""How far above a radiator its warm air is minded: our own limit."""

HELD_WORDS: dict[Held, str] = {
    "any": "",
    "no strips": "No adhesive strips are planned here.",
    "closed": "Only closed hooks, or hangers that lock, are planned here.",
    "closed in solid": "Only two closed hooks, or hangers that lock, in studs, masonry or solid "
    "timber are planned here: have a licensed person fix it, or hang it elsewhere.",
    "nothing": "No fixing is named: hang it elsewhere, or have a licensed person fix it.",
}  # fmt: skip
"""What the table's choice means, said beside the caution."""


@dataclass(frozen=True, slots=True)
class PlaceRule:
    """One row of the table.

    Parameters
    ----------
    code
        Of the finding.
    small, large
        What may hold a piece there, by its size: above `LARGE_KG`, or from `LARGE_MM` on, it is
        large.
    glass_is_large
        Whether glass counts as large here: its splinters fall on somebody.
    warns_small
        Whether a small piece is worth a caution.
    severity
        Of the finding.
    says
        End of the sentence that names the pieces; ``{there}`` is what is there.
    source
        Why, and who says so.
    """

    code: str
    small: Held
    large: Held
    glass_is_large: bool
    warns_small: bool
    severity: Severity
    says: str
    source: str


_FEMA = "FEMA (2008) advises against large pictures or mirrors over beds, chairs or couches."
RULES: dict[Place, PlaceRule] = {
    "cot": PlaceRule(
        "over-bed", "nothing", "nothing", True, True, "caution",
        "over the {there}, where it could fall on a child.",
        _FEMA,
    ),
    "bed": PlaceRule(
        "over-bed", "closed in solid", "nothing", True, True, "caution",
        "over the {there}, where it could fall on somebody.", _FEMA,
    ),
    "seat": PlaceRule(
        "over-seat", "no strips", "closed in solid", False, False, "caution",
        "over the {there}, where it could fall on somebody.", _FEMA,
    ),
    "radiator": PlaceRule(
        "above-radiator", "no strips", "no strips", False, True, "caution", "above the {there}.",
        "Warm air dries paper, paint and glue, and strips let go (common practice, no source).",
    ),
    "walkway": PlaceRule(
        "protrudes", "no strips", "no strips", False, True, "advice",
        sentence(
            "stand more than ", BothUnits(MOST_PROTRUSION_MM), " off the wall at walking height."
        ),
        "Not allowed beside a public walkway (2010 ADA Standards, §307.2); at home, keep it out of "
        "the way people walk.",
    ),
    "earthquake": PlaceRule(
        "earthquake", "closed", "closed", False, True, "caution", "hang where earthquakes happen.",
        "Closed hooks, and the lower corners secured (FEMA 528, 2014); follow the local code.",
    ),
}  # fmt: skip

_LYING: dict[FurnitureKind, Place] = {"bed": "bed", "cot": "cot", "sofa": "seat", "chair": "seat"}


def places_of(
    piece: Piece, rect: Rect, survey: Survey, seismic: bool
) -> tuple[tuple[Place, str], ...]:
    """List the dangerous places that a piece hangs at, each with what people call it."""
    return tuple(dict.fromkeys(_places(piece, rect, survey, seismic)))


def _places(piece: Piece, rect: Rect, survey: Survey, seismic: bool) -> Iterator[tuple[Place, str]]:
    for item in survey.furniture:
        place = _LYING.get(item.kind)
        over = rect.gap_to(item.rect)[0] < 0 and rect.top_mm > item.rect.top_mm
        if place is not None and over:
            yield place, item.name or item.kind
    for zone in survey.zones:
        if zone.kind == "radiator":
            box = zone.polygon.bounds
            warm = Rect(box.x_mm, box.top_mm, box.width_mm, RADIATOR_REACH_MM)
            if rect.overlaps(warm):
                yield "radiator", zone.name or zone.kind
    if survey.floor_known and protrudes(rect.bottom_mm, piece.stand_off_mm):
        yield "walkway", ""
    if seismic:
        yield "earthquake", ""


def is_large(piece: Piece, weight: Weight, glass_is_large: bool) -> bool:
    """Whether a piece is large by its weight, its size, or its glass where that counts."""
    return (
        weight.heavy_kg > LARGE_KG
        or max(piece.width_mm, piece.height_mm) >= LARGE_MM
        or (glass_is_large and piece.has_glass)
    )


def held_at(place: Place, piece: Piece, weight: Weight) -> Held:
    """Read from the table what may hold a piece at one place."""
    rule = RULES[place]
    return rule.large if is_large(piece, weight, rule.glass_is_large) else rule.small


def strictest(places: Iterable[Place], piece: Piece, weight: Weight) -> Held:
    """Read what may hold a piece at all the places it hangs at together."""
    held = (held_at(place, piece, weight) for place in places)
    return max(held, key=HELD.index, default="any")


def warned(place: Place, piece: Piece, weight: Weight) -> bool:
    """Whether a caution is printed for a piece at one place."""
    rule = RULES[place]
    return rule.warns_small or is_large(piece, weight, rule.glass_is_large)
