"""Kinds of wall, and the classes of fixing that each takes.

No neutral public table gives what anchors hold in gypsum board, so a capacity comes from the
fixing's own packet: the person types the maker's rating and it is divided by the visible safety
factor. Without it a cautious allowance of our own stands in, called common practice without a
source, and the maker's rating governs. Only withdrawal from wood has a public formula.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, cast, get_args

from visualiser.errors import HangingError
from visualiser.units import MM_PER_INCH

WallKind = Literal["plasterboard", "lath and plaster", "brick", "concrete", "timber", "unknown"]
WALL_NAMES: dict[WallKind, str] = {
    "unknown": "not known yet",
    "plasterboard": "gypsum board on studs",
    "lath and plaster": "lath and plaster",
    "brick": "brick or block",
    "concrete": "concrete",
    "timber": "timber panelling",
}
HEAVY_KG = 20.0
"""Above this a licensed person is asked for: our own limit, no standard's."""
STRIPS_MOST_KG = 4.0
"""What no number and no rating of strips lifts: our own limit, common practice, no source."""


WITHDRAWAL_FACTOR = 6.0
"""Ultimate over working load of a nail pulled out of wood; from memory of the NDS."""


def nail_withdrawal_n(specific_gravity: float, diameter_mm: float, length_mm: float) -> float:
    """Ultimate withdrawal load of a bright common nail from the side grain of seasoned wood.

    Parameters
    ----------
    specific_gravity
        Of the wood, on ovendry weight and volume at 12 % moisture: 0.42 for spruce-pine-fir.
    diameter_mm, length_mm
        Of the nail, and of its part in the wood.

    Returns
    -------
    Newtons; an average, to be divided by `WITHDRAWAL_FACTOR` for work.

    References
    ----------
    USDA Forest Products Laboratory, Wood Handbook, chapter Fastenings: p = 54.12 G^(5/2) D L.
    """
    if not (0 < specific_gravity < 2 and diameter_mm > 0 and length_mm >= 0):
        raise ValueError("a nail needs a wood, a diameter and a length above 0")
    return 54.12 * math.pow(specific_gravity, 2.5) * diameter_mm * length_mm


Into = Literal["surface", "board", "stud", "studs", "solid", "rail"]


@dataclass(frozen=True, slots=True)
class FixingClass:
    """One class of fixing, by its trade name.

    Parameters
    ----------
    name
        What to ask for in the shop.
    allowance_kg
        What we let it carry without a rating from its packet: common practice, no source.
    advice
        How it is set, and what it must not be used in.
    into
        What holds it: the paint, the board, one stud, a batten over two, solid wall, a rail.
    ceiling_kg
        What no rating lifts: our own limit, common practice, no source.
    closable
        Whether it is screwed, so that a closed hook or a plate can be screwed to it.
    pull_out_n
        What it may be pulled straight out with, where a formula says so.
    screw_name
        What to ask for where a hanger goes on the screw itself; its name when empty.
    """

    name: str
    allowance_kg: float
    advice: str
    into: Into
    ceiling_kg: float
    closable: bool = False
    pull_out_n: float = math.inf
    screw_name: str = ""


NAIL_HOOK = FixingClass(
    "nail hook", 2.0, "Angled hardened pin; drive it down at the angle of its guide.", "board", 10.0
)
CURVED_WIRE_HOOK = FixingClass(
    "curved wire hook for hollow board",
    5.0,
    "Push and turn it through the board by hand; not where a stud, pipe or cable lies behind.",
    "board",
    10.0,
)
HOLLOW_ANCHOR = FixingClass(
    "hollow-wall anchor with screw",
    8.0,
    "Drill what its packet says for the board's thickness; let it spread behind the board.",
    "board",
    12.0,
    closable=True,
)
_SPRUCE_PINE_FIR, _SIX_PENNY_MM, _DEPTH_MM = 0.42, 0.113 * MM_PER_INCH, MM_PER_INCH
_STUD_PULL_N = nail_withdrawal_n(_SPRUCE_PINE_FIR, _SIX_PENNY_MM, _DEPTH_MM) / WITHDRAWAL_FACTOR
STUD = FixingClass(
    "screw or nail in a stud",
    20.0,
    "Find the stud, drill a pilot hole; at least 25 mm (1 in) in the wood itself, behind the "
    "board. Pulled straight out, a 6d common nail so deep in softwood may carry 75 N (17 lbf): "
    "Wood Handbook, divided by 6.",
    "stud",
    HEAVY_KG,
    closable=True,
    pull_out_n=_STUD_PULL_N,
    screw_name="screw in a stud",
)
BATTEN = FixingClass(
    "hook on a batten screwed to two studs",
    20.0,
    "Screw the batten level to both studs, 25 mm (1 in) at least in the wood of each, behind the "
    "frame; then the hooks, plates or cleat to the batten.",
    "studs",
    HEAVY_KG,
    closable=True,
    pull_out_n=_STUD_PULL_N,
    screw_name="screw in a batten over two studs",
)
MASONRY_PLUG = FixingClass(
    "screw in a masonry plug",
    20.0,
    "Drill into the brick, not the joint; clear the dust; plug and screw of matching size.",
    "solid",
    HEAVY_KG,
    closable=True,
)
CONCRETE_PIN_HOOK = FixingClass(
    "hard-wall hook with steel pins",
    2.0,
    "Tap the pins in squarely; not in crumbling plaster.",
    "surface",
    5.0,
)
WOOD_SCREW = FixingClass(
    "wood screw",
    10.0,
    "Into the solid panel or its batten, with a pilot hole.",
    "solid",
    HEAVY_KG,
    closable=True,
)
STRIPS = FixingClass(
    "adhesive strip pair",
    0.4,
    "Clean with alcohol; press about 30 s; wait as its maker says before hanging. Not on "
    "wallpaper, fresh paint, brick, rough or dusty plaster; not over people or radiators.",
    "surface",
    STRIPS_MOST_KG,
)
RAIL_HOOK = FixingClass(
    "picture rail hook and cord",
    0.0,
    "As the rail's maker says, with the rail fixed for the sum of all pieces on it.",
    "rail",
    HEAVY_KG,
    closable=True,
)

_CLASSES: dict[WallKind, tuple[FixingClass, ...]] = {
    "plasterboard": (NAIL_HOOK, CURVED_WIRE_HOOK, HOLLOW_ANCHOR, STUD, BATTEN),
    "lath and plaster": (NAIL_HOOK, HOLLOW_ANCHOR, STUD, BATTEN),
    "brick": (CONCRETE_PIN_HOOK, MASONRY_PLUG),
    "concrete": (CONCRETE_PIN_HOOK, MASONRY_PLUG),
    "timber": (NAIL_HOOK, WOOD_SCREW, STUD, BATTEN),
    "unknown": (),
}


def wall_kind(name: str | None) -> WallKind:
    """Kind of wall by its name, hyphens allowed; unknown where nobody says.

    Raises
    ------
    HangingError
        If the kind is not known.
    """
    plain = (name or "unknown").strip().lower().replace("-", " ")
    if plain not in get_args(WallKind):
        raise HangingError(
            f"“{name}” is not a kind of wall known here.",
            hint=f"Use one of {', '.join(get_args(WallKind))}.",
        )
    return cast("WallKind", plain)


def fixing_classes(wall: WallKind) -> tuple[FixingClass, ...]:
    """Classes of fixing for a wall, lightest first."""
    return _CLASSES[wall]


def check_ratings(safety_factor: float, ratings_kg: Mapping[str, float]) -> None:
    """Refuse a safety factor or rating that means nothing.

    Raises
    ------
    HangingError
        If a rating is not above 0, the factor below 1, or a class is not known.
    """
    if not 1 <= safety_factor < math.inf:
        raise HangingError(
            f"The safety factor is {safety_factor:g}.",
            hint="Use 4, or more where something could come to harm.",
        )
    classes = {fixing.name for classes in _CLASSES.values() for fixing in classes}
    known = classes | {STRIPS.name, RAIL_HOOK.name}
    for name, rated in ratings_kg.items():
        if name not in known:
            raise HangingError(
                f"“{name}” is not a class of fixing known here.",
                hint=f"Use one of {', '.join(sorted(known))}.",
            )
        if not 0 < rated < math.inf:
            raise HangingError(
                f"The rating of {name} is {rated:g} kg.",
                hint="Give the kilograms that its packet states.",
            )
