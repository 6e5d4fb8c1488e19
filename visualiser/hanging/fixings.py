"""Which class of fixing holds a piece at its place, or why none is named."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, assert_never

from visualiser.hanging.fixing_classes import (
    HEAVY_KG,
    RAIL_HOOK,
    STRIPS,
    STRIPS_MOST_KG,
    FixingClass,
    WallKind,
    check_ratings,
    fixing_classes,
)
from visualiser.hanging.loads import GRAVITY, HookLoad
from visualiser.hanging.places import Held
from visualiser.hanging.withheld import FLATTEST_HELD_DEG, GLASS_TO_WEIGH_M2, WITHHELD, Reason

MOST_PAIRS = 12
_NO_STRIPS_ON: tuple[WallKind, ...] = ("brick", "unknown")
BearsOn = Literal["hooks", "open hooks", "screws", "strips", "rail"]
StudFit = Literal["unknown", "under", "between", "none"]
"""Whether studs are known, lie under every hook, can carry a batten between two, or neither."""


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
