"""What might be done about a set: leave some out, go up a size, fill a gap that is left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.building import build_groups
from visualiser.arrangement.frame_sizes import next_size
from visualiser.arrangement.furnishings import main_furniture
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.places import normal_places
from visualiser.arrangement.problem import Effort, SearchProblem, group_score
from visualiser.arrangement.proposing import propose
from visualiser.arrangement.rules import broken_rules
from visualiser.arrangement.setting import describe
from visualiser.arrangement.space import wall_space
from visualiser.errors import ArrangementError
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.wording import Length, Lengths, sentence

FRAME_SIZES_MM: tuple[tuple[float, float], ...] = (
    (102, 152), (127, 178), (203, 254), (210, 297), (254, 305), (279, 356), (297, 420),
    (305, 406), (406, 508), (420, 594), (500, 700), (508, 610), (594, 841), (610, 762),
    (700, 1000), (762, 1016),
)  # fmt: skip
"""Portrait sizes to go up to: the inch sizes of photographs rounded to mm, ISO 216 (2007) A
sizes, and 50 x 70 and 70 x 100 cm."""


GLANCE = Effort(chains=12, renewals=8, looked_at=16, exact=False)
"""Effort spent on each choice of pieces."""


@dataclass(frozen=True, slots=True)
class Filler:
    """A free place in or beside a group, and the largest usual size that fits it."""

    rect: Rect
    size_mm: tuple[float, float]
    sentence: str


@dataclass(frozen=True, slots=True)
class SizeUp:
    """How much larger a set would have to be to suit its wall."""

    factor: float
    sizes_mm: dict[str, tuple[float, float]]
    sentence: str


def choose_subset(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines,
    count: int,
    *,
    must: Iterable[str] = (),
    families: Iterable[str] | None = None,
    seed: int = 0,
) -> Arrangement:
    """Choose which pieces to hang when there are more than are wanted.

    One piece after another is left out: each time the one without which the rest make the best
    group. Where families are named, the rest are proposed in these each time.

    Raises
    ------
    ArrangementError
        If ``count`` is not between 1 and the number of pieces, a piece of ``must`` is unknown,
        or no choice can be hung.
    """
    needed = set(must)
    if not max(1, len(needed)) <= count <= len(pieces):
        raise ArrangementError(
            f"{count} of {len(pieces)} pieces were asked for.",
            hint="Ask for one at least, as many as must hang, and no more than there are.",
        )
    if unknown := sorted(needed - {p.id for p in pieces}):
        raise ArrangementError(
            f"{unknown[0]} must hang but is not among the pieces.", hint="Add it first."
        )
    chosen = list(families) if families is not None else None
    left = sorted(pieces, key=lambda p: (-p.width_mm * p.height_mm, p.id))
    while len(left) > count:
        tries = [[p for p in left if p is not piece] for piece in left if piece.id not in needed]
        hopes = [_hope(rest, survey, guidelines, chosen, seed) for rest in tries]
        left = tries[int(np.argmax(np.round(hopes, 6)))]
    return propose(left, survey, guidelines, chosen, 1, seed)[0]


def _hope(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines,
    families: list[str] | None,
    seed: int,
) -> float:
    """Score that pieces can reach; -1 where they cannot hang."""
    try:
        if families is not None or len(pieces) < 3:
            return propose(pieces, survey, guidelines, families, 1, seed)[0].score
        problem = SearchProblem(describe(pieces, survey, guidelines))
    except ArrangementError:
        return -1.0
    units = [(k,) for k in range(len(pieces))]
    groups = build_groups(problem, units, np.random.default_rng(seed), GLANCE, keep=3)
    return float(group_score(problem, groups[0][None])[0]) if groups else -1.0


def size_up(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> SizeUp | None:
    """Suggest larger pieces where a group is too narrow for the furniture below it.

    Returns
    -------
    The factor and the next usual size for each piece; None where the group is wide enough.
    """
    furniture = main_furniture(survey, guidelines)
    if furniture is None or not arrangement.placements:
        return None
    wanted = guidelines.furniture_share_min * furniture.rect.width_mm
    width = arrangement.bounds.width_mm
    if width >= wanted:
        return None
    rects = arrangement.rects()
    middle = arrangement.bounds.centre_mm[1]
    row = [r for r in rects.values() if r.bottom_mm <= middle <= r.top_mm]
    gaps = guidelines.gap_mm * max(len(row) - 1, 0)
    factor = (wanted - gaps) / max(width - gaps, 1.0)
    sizes = {i: next_size((r.width_mm, r.height_mm), factor) for i, r in rects.items()}
    label = furniture.name or furniture.kind
    return SizeUp(
        factor,
        sizes,
        sentence(
            "The group is ",
            Length(wanted - width),
            f" narrower than two thirds of the {label}: pieces {100 * (factor - 1):.0f} % "
            "larger would fill it.",
        ),
    )


def fill_gap(arrangement: Arrangement, survey: Survey, guidelines: Guidelines) -> Filler | None:
    """Find the largest usual size that fits inside the group's outline where none hangs.

    Returns
    -------
    The place and size; None where the group is closed.
    """
    rects = list(arrangement.rects().values())
    if not rects:
        return None
    outline = arrangement.bounds
    space = wall_space(survey, guidelines)
    centres = np.array([r.centre_mm for r in rects])
    half = np.array([[r.width_mm / 2, r.height_mm / 2] for r in rects])
    sizes = sorted(
        {s for w, h in FRAME_SIZES_MM for s in ((w, h), (h, w))}, key=lambda s: (-s[0] * s[1], s)
    )
    for width, height in sizes:
        places = normal_places(
            centres, half, np.array([width, height]) / 2, guidelines.gap_mm, guidelines.gap_min_mm
        )
        for x, y in places:
            rect = Rect.from_centre(float(x), float(y), width, height)
            box = np.array([[rect.left_mm, rect.bottom_mm, rect.right_mm, rect.top_mm]])
            if outline.contains(rect, 1.0) and not space.blocked(box)[0]:
                return Filler(
                    rect,
                    (width, height),
                    sentence(
                        "A piece of ",
                        Lengths((width, height)),
                        " would fill the place ",
                        Length(rect.centre_mm[0]),
                        " along and ",
                        Length(rect.centre_mm[1]),
                        " up.",
                    ),
                )
    return None


def can_hang(arrangement: Arrangement) -> bool:
    """Whether no hard rule is broken by an arrangement that has been judged."""
    return not broken_rules(arrangement.findings)
