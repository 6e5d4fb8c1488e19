"""Why no fixing is named: one list, which the choice of a fixing and the cautions both read.

So a fixing and a caution cannot contradict each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from visualiser.hanging.fixing_classes import HEAVY_KG, RAIL_HOOK, STRIPS_MOST_KG

GLASS_TO_WEIGH_M2 = 0.5
"""More glass than this is weighed before anything is chosen: our own limit. At 2.5 kg per m² and mm
(EN 572-1) half a square metre of 6 mm weighs 7.5 kg, of 2 mm 2.5 kg."""
FLATTEST_HELD_DEG = 15.0
"""Legs flatter than this carry about twice the weight each: no fixing is named until it is rewired.
Our own limit; OSHA's sling guidance does not recommend legs below 30°."""

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
