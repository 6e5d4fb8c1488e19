"""Classes of fixing for each kind of wall, and what may be hung from them.

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
from visualiser.hanging.loads import HookLoad
from visualiser.units import MM_PER_INCH

WallKind = Literal["plasterboard", "lath and plaster", "brick", "concrete", "timber", "unknown"]
WALL_NAMES: dict[WallKind, str] = {
    "plasterboard": "gypsum board on studs",
    "lath and plaster": "lath and plaster",
    "brick": "brick or block",
    "concrete": "concrete",
    "timber": "timber panelling",
    "unknown": "unknown build",
}
HEAVY_KG = 20.0
"""Above this a licensed person is asked for: our own limit, no standard's."""


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
    pull_out_n
        What it may be pulled straight out with, where a formula says so.
    """

    name: str
    allowance_kg: float
    advice: str
    pull_out_n: float = math.inf


NAIL_HOOK = FixingClass(
    "nail hook", 2.0, "Angled hardened pin; drive it down at the angle of its guide."
)
CURVED_WIRE_HOOK = FixingClass(
    "curved wire hook for hollow board",
    5.0,
    "Push and turn it through the board by hand; not where a stud, pipe or cable lies behind.",
)
HOLLOW_ANCHOR = FixingClass(
    "hollow-wall anchor with screw",
    8.0,
    "Drill what its packet says for the board's thickness; let it spread behind the board.",
)
_SPRUCE_PINE_FIR, _SIX_PENNY_MM, _DEPTH_MM = 0.42, 0.113 * MM_PER_INCH, MM_PER_INCH
STUD = FixingClass(
    "screw or nail in a stud",
    20.0,
    "Find the stud, drill a pilot hole; at least 25 mm (1 in) in the wood itself, behind the "
    "board. Pulled straight out, a 6d common nail so deep in softwood may carry 75 N (17 lbf): "
    "Wood Handbook, divided by 6.",
    nail_withdrawal_n(_SPRUCE_PINE_FIR, _SIX_PENNY_MM, _DEPTH_MM) / WITHDRAWAL_FACTOR,
)
MASONRY_PLUG = FixingClass(
    "screw in a masonry plug",
    20.0,
    "Drill into the brick, not the joint; clear the dust; plug and screw of matching size.",
)
CONCRETE_PIN_HOOK = FixingClass(
    "hard-wall hook with steel pins", 2.0, "Tap the pins in squarely; not in crumbling plaster."
)
WOOD_SCREW = FixingClass(
    "wood screw", 10.0, "Into the solid panel or its batten, with a pilot hole."
)
STRIPS = FixingClass(
    "adhesive strip pair",
    0.4,
    "Clean with alcohol; press about 30 s; wait as its maker says before hanging. Not on "
    "wallpaper, fresh paint, brick, rough or dusty plaster, or over a bed.",
)

_CLASSES: dict[WallKind, tuple[FixingClass, ...]] = {
    "plasterboard": (NAIL_HOOK, CURVED_WIRE_HOOK, HOLLOW_ANCHOR, STUD),
    "lath and plaster": (NAIL_HOOK, HOLLOW_ANCHOR, STUD),
    "brick": (CONCRETE_PIN_HOOK, MASONRY_PLUG),
    "concrete": (CONCRETE_PIN_HOOK, MASONRY_PLUG),
    "timber": (NAIL_HOOK, WOOD_SCREW, STUD),
    "unknown": (),
}


@dataclass(frozen=True, slots=True)
class Fixing:
    """What one hook of a piece is fixed with.

    Parameters
    ----------
    piece_id
        The piece.
    fixing
        The class; None where only a licensed person should choose.
    count
        Hooks, or pairs of strips.
    load_kg
        What each has to carry, the upper end of the weight's ±.
    allowed_kg
        What each may carry; 0 without a class.
    rated_kg
        The maker's rating behind it, when the person gave one.
    """

    piece_id: str
    fixing: FixingClass | None
    count: int
    load_kg: float
    allowed_kg: float
    rated_kg: float | None = None

    @property
    def basis(self) -> str:
        """Say where the allowed load comes from."""
        if self.fixing is None:
            return "a licensed person chooses it"
        if self.rated_kg is None:
            return "common practice, no source: the maker's rating governs"
        factor = self.rated_kg / self.allowed_kg
        return f"maker's rating {self.rated_kg:g} kg, divided by {factor:g}"


def wall_kind(name: str) -> WallKind:
    """Kind of wall by its name, hyphens allowed.

    Raises
    ------
    HangingError
        If the kind is not known.
    """
    plain = name.strip().lower().replace("-", " ")
    if plain not in get_args(WallKind):
        raise HangingError(
            f"“{name}” is not a kind of wall known here.",
            hint=f"Use one of {', '.join(get_args(WallKind))}.",
        )
    return cast("WallKind", plain)


def fixing_classes(wall: WallKind) -> tuple[FixingClass, ...]:
    """Classes of fixing for a wall, lightest first."""
    return _CLASSES[wall]


def choose_fixing(
    load: HookLoad, wall: WallKind, safety_factor: float, ratings_kg: Mapping[str, float]
) -> Fixing:
    """Lightest class of fixing that may carry a piece's load on each hook.

    Parameters
    ----------
    load
        What the piece asks of its hooks.
    wall
        What the wall is built of.
    safety_factor
        What a maker's rating is divided by.
    ratings_kg
        Maker's rating of one fixing (or one pair of strips), by the class's name.

    Raises
    ------
    HangingError
        If a rating is not above 0, the factor below 1, or a class is not known.
    """
    check_ratings(safety_factor, ratings_kg)
    if load.hooks == 0:
        return _strips(load, wall, safety_factor, ratings_kg)
    need = load.design_kg
    out_n = load.pull_out_n * load.weight.heavy_kg / load.weight.kg
    if load.weight.heavy_kg <= HEAVY_KG:
        for fixing in fixing_classes(wall):
            rated = ratings_kg.get(fixing.name)
            allowed = fixing.allowance_kg if rated is None else rated / safety_factor
            if need <= allowed and out_n <= fixing.pull_out_n:
                return Fixing(load.piece_id, fixing, load.hooks, need, allowed, rated)
    return Fixing(load.piece_id, None, load.hooks, need, 0.0)


def _strips(
    load: HookLoad, wall: WallKind, safety_factor: float, ratings_kg: Mapping[str, float]
) -> Fixing:
    """Pairs enough for the weight, four at least so that each corner holds."""
    rated = ratings_kg.get(STRIPS.name)
    allowed = STRIPS.allowance_kg if rated is None else rated / safety_factor
    need = load.weight.heavy_kg
    pairs = max(4, math.ceil(need / allowed))
    if wall in ("brick", "unknown") or pairs > 12:
        return Fixing(load.piece_id, None, 0, need, 0.0)
    return Fixing(load.piece_id, STRIPS, pairs, need / pairs, allowed, rated)


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
    known = {fixing.name for classes in _CLASSES.values() for fixing in classes} | {STRIPS.name}
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
