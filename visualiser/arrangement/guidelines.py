"""Hanging conventions as data. None is a standard unless it says so; each may be changed."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Literal

from visualiser.errors import ArrangementError
from visualiser.findings import Severity
from visualiser.survey.dangers import (
    MOST_PROTRUSION_MM,
    PROTRUDES_ABOVE_MM,
    PROTRUDES_UP_TO_MM,
)
from visualiser.wording import Length, sentence

Unit = Literal["mm", "share", "degrees", "yes or no"]

COMMON_PRACTICE = "common practice, no source"
TOLERANCE_MM = 0.01
"""Lengths closer than this to a limit count as at the limit."""


@dataclass(frozen=True, slots=True)
class Rule:
    """What one hanging rule says, where it comes from and how strictly it is meant.

    Parameters
    ----------
    code
        Stable short name, also the code of its findings.
    title
        The rule in plain words.
    fields
        Fields of `Guidelines` that hold its values, in order.
    unit
        Unit of those values.
    source
        Published source, or ``common practice, no source``.
    hard
        Whether proposals keep it without exception unless the person says otherwise.
    fixed
        Whether it stays hard whatever the person says: it is geometry, not taste.
    """

    code: str
    title: str
    fields: tuple[str, ...]
    unit: Unit
    source: str
    hard: bool
    fixed: bool = False


RULES: tuple[Rule, ...] = (
    Rule("overlap", "Frames do not overlap.", (), "mm", "geometry", True, fixed=True),
    Rule(
        "gap-min",
        "Frames keep a least distance from each other.",
        ("gap_min_mm",),
        "mm",
        COMMON_PRACTICE,
        True,
    ),
    Rule(
        "outside",
        "Every piece hangs on the usable wall.",
        (),
        "mm",
        "geometry",
        True,
        fixed=True,
    ),
    Rule(
        "edge-clearance",
        "Frames keep clear of the wall's ends and the ceiling.",
        ("edge_clearance_mm",),
        "mm",
        COMMON_PRACTICE,
        True,
    ),
    Rule(
        "zone",
        "Frames and hooks stay out of the zones to keep clear.",
        ("zone_clearance_mm",),
        "mm",
        COMMON_PRACTICE,
        True,
        fixed=True,
    ),
    Rule(
        "furniture",
        "No piece hangs behind furniture.",
        (),
        "mm",
        "geometry",
        True,
        fixed=True,
    ),
    Rule(
        "gap",
        "Gaps within a group are even: 2 to 3 in.",
        ("gap_mm", "gap_min_mm", "gap_max_mm"),
        "mm",
        COMMON_PRACTICE,
        False,
    ),
    Rule(
        "centre-height",
        "The group's centre hangs at eye level: 57 to 60 in above the floor.",
        ("centre_height_mm", "centre_height_tolerance_mm"),
        "mm",
        "common practice: 57-60 in (art-pronet.com, 29 Jan 2018), 56-58 in "
        "(thepracticalartworld.com, 7 Feb 2011); no standard",
        False,
    ),
    Rule(
        "furniture-share",
        "The group is two thirds to three quarters as wide as the furniture below it.",
        ("furniture_share_min", "furniture_share_max"),
        "share",
        COMMON_PRACTICE,
        False,
    ),
    Rule(
        "furniture-clearance",
        "Frames hang 6 to 10 in above the furniture, never nearer.",
        ("furniture_clearance_min_mm", "furniture_clearance_max_mm"),
        "mm",
        COMMON_PRACTICE,
        True,
    ),
    Rule(
        "lowest-edge",
        "No frame hangs nearer to the floor than about 24 in, ledges and stairs aside.",
        ("lowest_edge_mm",),
        "mm",
        COMMON_PRACTICE,
        True,
    ),
    Rule(
        "highest-centre",
        "The group's centre hangs no higher than about 70 in, over a door and on a ledge aside.",
        ("highest_centre_mm",),
        "mm",
        COMMON_PRACTICE,
        True,
    ),
    Rule(
        "cable-run",
        "Hooks avoid the strips straight above, below and beside a switch or socket.",
        (),
        "mm",
        "BS 7671:2018, regulation 522.6.202(i): prescribed zones for concealed cables",
        False,
    ),
    Rule(
        "walkway",
        "Beside a public way, what hangs with its lower edge more than 27 and not more than "
        "80 in above the floor stands off the wall 4 in at most.",
        ("walkway_low_mm", "walkway_high_mm", "walkway_projection_mm"),
        "mm",
        "2010 ADA Standards for Accessible Design, section 307.2",
        False,
    ),
    Rule(
        "smallest-piece",
        "A piece is large enough to be seen from where people stand.",
        ("viewing_distance_mm", "smallest_angle_deg"),
        "degrees",
        COMMON_PRACTICE,
        False,
    ),
    Rule(
        "one-finish",
        "One frame finish ties a set of mixed sizes together.",
        ("one_finish",),
        "yes or no",
        COMMON_PRACTICE,
        False,
    ),
)

LOWEST_EDGE_SHARE = 600 / 1524
"""Lowest edge over the centre height where it is not given: 600 mm below 60 in, common practice."""
HIGHEST_CENTRE_SHARE = 1790 / 1524
"""Highest centre over the centre height where it is not given: 70.5 in over 60 in."""

_LENGTHS = (
    "gap_mm",
    "gap_min_mm",
    "gap_max_mm",
    "centre_height_mm",
    "centre_height_tolerance_mm",
    "furniture_clearance_min_mm",
    "furniture_clearance_max_mm",
    "edge_clearance_mm",
    "zone_clearance_mm",
    "walkway_low_mm",
    "walkway_high_mm",
    "walkway_projection_mm",
    "smallest_angle_deg",
)


@dataclass(frozen=True, slots=True)
class Guidelines:
    """The rules one job is arranged by. `RULES` says where each comes from.

    Raises
    ------
    ArrangementError
        If a value is impossible or two of them contradict each other.
    """

    gap_mm: float = 57.0
    """Between frames: 2¼ in; 2 to 3 in is common practice, no source."""
    gap_min_mm: float = 50.0
    gap_max_mm: float = 75.0
    centre_height_mm: float = 1524.0
    """Height of the group's centre above the floor: 60 in; 57 to 60 in is common practice."""
    furniture_share_min: float = 2 / 3
    furniture_share_max: float = 3 / 4
    furniture_clearance_min_mm: float = 150.0
    furniture_clearance_max_mm: float = 250.0
    edge_clearance_mm: float = 100.0
    """From the wall's ends and the ceiling: common practice, no source."""
    zone_clearance_mm: float = 50.0
    centre_height_tolerance_mm: float = 76.2
    """Band each side of the centre height that passes without remark: 57 to 60 in is 3 in wide."""
    lowest_edge_mm: float | None = None
    """Least height of a hung frame's lower edge; None takes 600 mm at a centre height of 1524 mm,
    and in proportion at another: common practice, no source."""
    highest_centre_mm: float | None = None
    """Greatest height of a group's centre; None takes 1790 mm at a centre height of 1524 mm, and
    in proportion at another: common practice, no source."""
    walkway: bool = False
    """Whether people pass along this wall, so that the projection limit applies."""
    walkway_low_mm: float = PROTRUDES_ABOVE_MM
    walkway_high_mm: float = PROTRUDES_UP_TO_MM
    walkway_projection_mm: float = MOST_PROTRUSION_MM
    """2010 ADA Standards, 307.2: 27 in, 80 in and 4 in."""
    viewing_distance_mm: float | None = None
    """Where people stand to look; None leaves the rule out."""
    smallest_angle_deg: float = 3.5
    """Least angle the shorter side should fill, seen from there: common practice, no source."""
    one_finish: bool = True
    stair_slope_deg: float | None = None
    """Rise of a stair to follow, positive up to the right; None takes it from the outline."""
    ledge_height_mm: float | None = None
    """Top of a picture ledge above the floor; None takes it from furniture named a shelf."""
    picture_rail_mm: float | None = None
    """Height of a picture rail above the floor; None takes it from what is named so."""
    hard_rules: frozenset[str] = frozenset(rule.code for rule in RULES if rule.hard)
    """Codes of the rules that proposals keep without exception."""

    def __post_init__(self) -> None:
        for name in _LENGTHS:
            value = getattr(self, name)
            if not 0 <= value < math.inf:
                what = "an angle" if name.endswith("_deg") else "a length"
                raise ArrangementError(
                    sentence(f"The guideline {plain_name(name)} is ", _value(name, value), "."),
                    hint=f"Give {what} of 0 or more.",
                )
        if not self.centre_height_mm > 0:
            raise ArrangementError(
                "The centre height is 0, which is the floor.",
                hint="Give the height above the floor at which people look, such as 1524 mm.",
            )
        slope = self.stair_slope_deg
        if slope is not None and not -60 <= slope <= 60:
            raise ArrangementError(
                f"The stair's slope is {slope:g} degrees.",
                hint="Give -60 to 60 degrees, positive where it rises to the right.",
            )
        optional = (
            self.viewing_distance_mm,
            self.ledge_height_mm,
            self.picture_rail_mm,
            self.lowest_edge_mm,
            self.highest_centre_mm,
        )
        if any(v is not None and not 0 < v < math.inf for v in optional):
            raise ArrangementError(
                "The viewing distance, the ledge's, the rail's, the lowest edge's or the highest "
                "centre's height is not above 0.",
                hint="Give a length above 0, or leave it out.",
            )
        for low_name, high_name in (
            ("gap_min_mm", "gap_max_mm"),
            ("gap_min_mm", "gap_mm"),
            ("gap_mm", "gap_max_mm"),
            ("furniture_share_min", "furniture_share_max"),
            ("furniture_clearance_min_mm", "furniture_clearance_max_mm"),
            ("walkway_low_mm", "walkway_high_mm"),
        ):
            low, high = getattr(self, low_name), getattr(self, high_name)
            if not low <= high:
                less, more = _value(low_name, low), _value(high_name, high)
                raise ArrangementError(
                    sentence(
                        f"The guidelines contradict each other: {plain_name(low_name)} is ",
                        less,
                        f", above {plain_name(high_name)}, ",
                        more,
                        ".",
                    ),
                    hint="Lower the first or raise the second.",
                )
        if not self.furniture_share_min > 0:
            raise ArrangementError(
                f"The least share of the furniture's width is {self.furniture_share_min:g}.",
                hint="Give a share above 0, such as 0.67.",
            )
        known = {rule.code for rule in RULES}
        if unknown := self.hard_rules - known:
            raise ArrangementError(
                f"There is no rule called {sorted(unknown)[0]}.",
                hint=f"Choose among {', '.join(sorted(known))}.",
            )

    @property
    def lowest_edge(self) -> float:
        """Least height of a hung frame's lower edge above the floor, mm."""
        given = self.lowest_edge_mm
        return LOWEST_EDGE_SHARE * self.centre_height_mm if given is None else given

    @property
    def highest_centre(self) -> float:
        """Greatest height of a group's centre above the floor, mm."""
        given = self.highest_centre_mm
        return HIGHEST_CENTRE_SHARE * self.centre_height_mm if given is None else given

    def is_hard(self, code: str) -> bool:
        """Whether a rule may not be broken by a proposal."""
        return code in self.hard_rules or any(r.code == code and r.fixed for r in RULES)

    def severity(self, code: str, soft: Severity = "advice") -> Severity:
        """How grave it is to break a rule: what it is when soft, unless it was made hard."""
        return "broken" if self.is_hard(code) else soft


def _value(name: str, value: float) -> Length | str:
    """Give a field's value as it is told: a length in the reader's unit, a share in per cent."""
    if not math.isfinite(value):
        return f"{value:g}"
    if name.endswith("_mm"):
        return Length(value, None)
    return f"{value:g}°" if name.endswith("_deg") else f"{100 * value:g} %"


def plain_name(name: str) -> str:
    """Write a field's name in words: ``gap_min_mm`` is ``gap min``."""
    return name.removesuffix("_mm").removesuffix("_deg").replace("_", " ")


def rule(code: str) -> Rule:
    """Look up a rule by its code.

    Raises
    ------
    KeyError
        If there is none.
    """
    for item in RULES:
        if item.code == code:
            return item
    raise KeyError(code)


def values_of(guidelines: Guidelines, code: str) -> dict[str, float | bool | None]:
    """Give the values a rule has in these guidelines, by field name."""
    names = {item.name for item in fields(guidelines)}
    return {name: getattr(guidelines, name) for name in rule(code).fields if name in names}
