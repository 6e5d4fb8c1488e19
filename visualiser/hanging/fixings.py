"""Classes of fixing for each kind of wall, what may be hung from them, and when none is named.

No neutral public table gives what anchors hold in gypsum board, so a capacity comes from the
fixing's own packet: the person types the maker's rating and it is divided by the visible safety
factor. Without it a cautious allowance of our own stands in, called common practice without a
source, and the maker's rating governs. Only withdrawal from wood has a public formula.

Why no fixing is named is a reason of one list, `WITHHELD`; the cautions are printed from the same
list, so that a fixing and a caution cannot contradict each other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, assert_never, cast, get_args

from visualiser.errors import HangingError
from visualiser.hanging.loads import GRAVITY, HookLoad
from visualiser.hanging.places import Held
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
GLASS_TO_WEIGH_M2 = 0.5
"""More glass than this is weighed before anything is chosen: our own limit. At 2.5 kg per m² and mm
(EN 572-1) half a square metre of 6 mm weighs 7.5 kg, of 2 mm 2.5 kg."""
FLATTEST_HELD_DEG = 15.0
"""Legs flatter than this carry about twice the weight each: no fixing is named until it is rewired.
Our own limit; OSHA's sling guidance does not recommend legs below 30°."""
STRIPS_MOST_KG = 4.0
"""What no number and no rating of strips lifts: our own limit, common practice, no source."""
MOST_PAIRS = 12


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
_NO_STRIPS_ON: tuple[WallKind, ...] = ("brick", "unknown")
BearsOn = Literal["hooks", "open hooks", "screws", "strips", "rail"]
StudFit = Literal["unknown", "under", "between", "none"]
"""Whether studs are known, lie under every hook, can carry a batten between two, or neither."""

Reason = Literal[
    "zone", "wall", "place", "weigh", "heavy", "flat wire", "hanger", "rail", "strips", "stud",
    "closed hooks", "class",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Withheld:
    """Why no fixing is named, and what to do: one row for the choice and for the caution."""

    code: str
    says: str
    do: str
    short: str


WITHHELD: dict[Reason, Withheld] = {
    "zone": Withheld(
        "hook-in-zone",
        "a hook may lie in what must stay clear, within the ± of this survey.",
        "Move the piece; make no hole here.",
        "hook in a zone",
    ),
    "wall": Withheld(
        "unknown-wall",
        "nobody has said what the wall is built of.",
        "Find out (knock, drill a trial hole where it is hidden, ask who built it) and say so, or "
        "ask a licensed person; follow the local code.",
        "say what the wall is",
    ),
    "place": Withheld("", "", "", "not here"),
    "weigh": Withheld(
        "weigh-first",
        f"more than {GLASS_TO_WEIGH_M2:g} m² of glass, and not weighed.",
        "Weigh it first, on bathroom scales with somebody's help, and type the weight in: glass of "
        "2 mm and of 6 mm look alike, and weigh three times as different.",
        "weigh it first",
    ),
    "heavy": Withheld(
        "heavy",
        f"may weigh more than {HEAVY_KG:g} kg (our own limit).",
        "Have a licensed person choose and set the fixing, into studs or masonry.",
        "licensed person",
    ),
    "flat wire": Withheld(
        "wire-too-flat",
        f"the wire's legs are flatter than {FLATTEST_HELD_DEG:g}°: each pulls about twice the "
        "piece's weight at its ring, and the frame is bent.",
        "Give it a longer wire, fix the wire lower, or hang it from its rings on two hooks.",
        "rewire it",
    ),
    "hanger": Withheld(
        "hanger-weak",
        "its hanger is not held to carry this weight.",
        "Take a stronger hanger (two D-rings, a cleat), or type what its maker rates it for.",
        "stronger hanger",
    ),
    "rail": Withheld(
        "rail-rating",
        "the rail, its hooks and cords are not known to be rated for this.",
        f"Type the maker's rating of “{RAIL_HOOK.name}”, or take one that is rated for more.",
        "rail's rating",
    ),
    "strips": Withheld(
        "strips-beyond",
        f"adhesive strips are not planned for this: {STRIPS_MOST_KG:g} kg is the most (our own "
        "limit, which no rating lifts), on smooth sound paint, away from people and warmth.",
        "Hang it on hooks.",
        "no strips",
    ),
    "stud": Withheld(
        "no-stud",
        "needs a stud, and none is known where its hooks are.",
        "Find the studs with a detector and mark them: then the plan puts hooks on studs, or a "
        "batten or cleat over two. Where none lies behind the piece, move it or ask a licensed "
        "person.",
        "find the studs",
    ),
    "closed hooks": Withheld(
        "closed-hooks",
        "is to hang from closed hooks here, and this hanger on this wall takes none.",
        "Give it two D-rings on closed hooks, or security hangers that lock, in studs, masonry or "
        "timber; or hang it elsewhere.",
        "closed hooks",
    ),
    "class": Withheld(
        "no-fixing",
        "no ordinary class of fixing is held to be enough on this wall.",
        "Type the maker's rating of the fixing you have, or ask a licensed person.",
        "licensed person",
    ),
}
"""Gravest first, but for the place, whose own row of the table of places is printed."""


@dataclass(frozen=True, slots=True)
class Fixing:
    """What one hook of a piece is fixed with.

    Parameters
    ----------
    piece_id
        The piece.
    fixing
        The class; None where none is named.
    count
        Hooks, or pairs of strips.
    load_kg
        What each has to carry, the upper end of the weight's ±.
    allowed_kg
        What each may carry; 0 without a class.
    rated_kg
        The maker's rating behind it, when the person gave one.
    closed
        Whether a closed hook goes on it.
    screwed
        Whether the hanger goes on, or is held by, the screw itself and no hook.
    reasons
        Why none is named, gravest first; empty where one is.
    """

    piece_id: str
    fixing: FixingClass | None
    count: int
    load_kg: float
    allowed_kg: float
    rated_kg: float | None = None
    closed: bool = False
    reasons: tuple[Reason, ...] = ()
    screwed: bool = False

    @property
    def name(self) -> str:
        """What to ask for in the shop; why nothing, where none is named."""
        if self.fixing is None:
            return f"none named: {WITHHELD[self.reasons[0]].short}"
        if self.screwed:
            return self.fixing.screw_name or self.fixing.name
        return self.fixing.name + (", with a closed hook" if self.closed else "")

    @property
    def basis(self) -> str:
        """Say where the allowed load comes from."""
        if self.fixing is None:
            return "a licensed person chooses it"
        if self.rated_kg is None:
            return "common practice, no source: the maker's rating governs"
        if self.allowed_kg >= self.fixing.ceiling_kg:
            return f"our own limit of {self.fixing.ceiling_kg:g} kg, which no rating lifts"
        factor = self.rated_kg / self.allowed_kg
        return f"maker's rating {self.rated_kg:g} kg, divided by {factor:g}"


@dataclass(frozen=True, slots=True)
class Demand:
    """All that decides what may hold one piece.

    Parameters
    ----------
    load
        What the piece asks of its hooks.
    hanger_kg
        What each part of its hanger may carry; None where its screws decide.
    held
        What may hold it at its place.
    studs
        How its hooks lie to the studs.
    bears
        What its hanger bears on: hooks, closed ones too; open hooks alone, as a sawtooth; screws,
        as a keyhole plate or a cleat; strips; a rail.
    in_zone
        Whether a hook may lie in what must stay clear.
    hanger_closed
        Whether its hanger cannot come off an open hook.
    batten
        Whether two studs behind it can carry a batten, however its hooks lie to them.
    """

    load: HookLoad
    hanger_kg: float | None = None
    held: Held = "any"
    studs: StudFit = "unknown"
    bears: BearsOn = "hooks"
    in_zone: bool = False
    hanger_closed: bool = False
    batten: bool = False


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


def withheld(demand: Demand, wall: WallKind) -> tuple[Reason, ...]:
    """List why no fixing may be named whatever its strength, gravest first."""
    load = demand.load
    weight = load.weight
    carried = load.part_n * weight.heavy_kg / weight.kg
    found: dict[Reason, bool] = {
        "zone": demand.in_zone,
        "place": demand.held == "nothing",
        "wall": wall == "unknown",
        "weigh": weight.estimated and weight.glass_m2 > GLASS_TO_WEIGH_M2,
        "heavy": weight.heavy_kg > HEAVY_KG,
        "flat wire": load.wire_angle_deg is not None and load.wire_angle_deg < FLATTEST_HELD_DEG,
        "hanger": demand.hanger_kg is not None and carried > demand.hanger_kg * GRAVITY,
        "strips": demand.bears == "strips"
        and (demand.held != "any" or weight.heavy_kg > STRIPS_MOST_KG or wall in _NO_STRIPS_ON),
    }
    return tuple(reason for reason, holds in found.items() if holds)


def choose_fixing(
    demand: Demand, wall: WallKind, safety_factor: float, ratings_kg: Mapping[str, float]
) -> Fixing:
    """Choose the lightest class of fixing that may carry a piece's load on each hook, at its place.

    Parameters
    ----------
    demand
        What the piece asks, and what its place allows.
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
    load = demand.load
    need = load.design_kg
    if reasons := withheld(demand, wall):
        return Fixing(load.piece_id, None, load.hooks, need, 0.0, reasons=reasons)
    match demand.bears:
        case "strips":
            return _strips(load, safety_factor, ratings_kg)
        case "rail":
            return _first_enough((RAIL_HOOK,), demand, "rail", safety_factor, ratings_kg)
        case "hooks" | "open hooks" | "screws":
            return _first_enough(fixing_classes(wall), demand, "class", safety_factor, ratings_kg)
        case _:
            assert_never(demand.bears)


def _first_enough(
    classes: tuple[FixingClass, ...],
    demand: Demand,
    otherwise: Reason,
    safety_factor: float,
    ratings_kg: Mapping[str, float],
) -> Fixing:
    load = demand.load
    need = load.design_kg
    out_n = load.pull_out_n * load.weight.heavy_kg / load.weight.kg
    screwed = demand.bears == "screws"
    closed = demand.held in ("closed", "closed in solid") and not screwed
    allowed_here = [fixing for fixing in classes if _may_hold(fixing, demand)]
    missed_stud = False
    for fixing in allowed_here:
        rated = ratings_kg.get(fixing.name)
        allowed = fixing.allowance_kg if rated is None else rated / safety_factor
        allowed = min(allowed, fixing.ceiling_kg)
        strong = need <= allowed and out_n <= fixing.pull_out_n and allowed > 0
        if not strong:
            continue
        if not _has_wood(fixing, demand):
            missed_stud = True
            continue
        return Fixing(
            load.piece_id, fixing, load.hooks, need, allowed, rated, closed, screwed=screwed
        )
    # Closed hooks are the reason only where none can be had, not where one is too weak.
    why: Reason = "stud" if missed_stud else otherwise if allowed_here else "closed hooks"
    return Fixing(load.piece_id, None, load.hooks, need, 0.0, reasons=(why,))


def _may_hold(fixing: FixingClass, demand: Demand) -> bool:
    """Whether a class may be used at the piece's place, and under its hanger, at all."""
    if demand.bears == "screws" and not fixing.closable:
        return False
    stays = demand.hanger_closed or demand.bears in ("hooks", "rail")
    match demand.held:
        case "any" | "no strips":
            return True
        case "closed":
            return fixing.closable and stays
        case "closed in solid":
            solid = fixing.into in ("stud", "studs", "solid")
            return fixing.closable and stays and solid and demand.load.hooks == 2
        case "nothing":
            return False
        case _:
            assert_never(demand.held)


def _has_wood(fixing: FixingClass, demand: Demand) -> bool:
    """Whether the studs that a class needs are known to be there."""
    match fixing.into:
        case "stud":
            return demand.studs == "under"
        case "studs":
            return demand.studs == "between" or demand.batten
        case "surface" | "board" | "solid" | "rail":
            return True
        case _:
            assert_never(fixing.into)


def _strips(load: HookLoad, safety_factor: float, ratings_kg: Mapping[str, float]) -> Fixing:
    """Pairs enough for the weight, four at least so that each corner holds."""
    rated = ratings_kg.get(STRIPS.name)
    allowed = STRIPS.allowance_kg if rated is None else rated / safety_factor
    need = load.weight.heavy_kg
    pairs = max(4, math.ceil(need / allowed))
    if pairs > MOST_PAIRS:
        return Fixing(load.piece_id, None, 0, need, 0.0, reasons=("strips",))
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
