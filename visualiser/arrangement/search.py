"""Proposals: every family that suits is laid out, brought into free wall, checked and scored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.families import FAMILIES, Family, Layout
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import Floats
from visualiser.arrangement.mirroring import mirrored_survey, prefers_mirror
from visualiser.arrangement.rules import broken_rules, check_arrangement
from visualiser.arrangement.scoring import WEIGHTS, explain, score_layouts
from visualiser.arrangement.setting import Centres, Setting, describe
from visualiser.errors import ArrangementError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey

ALIKE_MM_SHARE = 0.25
"""Layouts whose pieces all lie within this share of a gap of each other count as the same."""


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    family: str
    variant: str
    centres: Centres
    score: float


def propose(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines | None = None,
    families: Iterable[str] | None = None,
    count: int = 3,
    seed: int = 0,
    *,
    colours: Mapping[str, ArrayLike] | None = None,
    weights: Mapping[str, float] = WEIGHTS,
) -> list[Arrangement]:
    """Propose arrangements of a set of pieces on a wall.

    Parameters
    ----------
    pieces
        What to hang; the order does not matter.
    survey
        The wall.
    guidelines
        The rules; hard ones are never broken.
    families
        Trade names of the families to try; None tries all that suit.
    count
        How many proposals at most. Different families come before variants of one.
    seed
        Same input and seed, same output.
    colours
        CIELAB mean colour by piece id; without it colours are not judged.
    weights
        Weight of each score term.

    Returns
    -------
    Proposals, best first; fewer than ``count`` when there are no more.

    Raises
    ------
    ArrangementError
        If nothing can be proposed, saying why and what to leave out.
    """
    rules = guidelines or Guidelines()
    if count < 1:
        raise ArrangementError(f"{count} proposals were asked for.", hint="Ask for one or more.")
    chosen = _choose(families)
    flip = prefers_mirror(survey)
    home = describe(pieces, survey, rules, colours)
    setting = describe(pieces, mirrored_survey(survey), rules, colours) if flip else home
    suited = [f for f in chosen if f.fits(setting)]
    if not suited:
        raise ArrangementError(
            f"{_names(chosen)} does not suit {setting.count} such pieces.",
            hint="; ".join(f"{f.name}: {f.suits}" for f in chosen) + ".",
        )
    best: list[_Candidate] = []
    for family in suited:
        rng = np.random.default_rng([seed, *family.name.encode()])
        best += _best_of(family, setting, rng, count, weights)
    bounds = survey.outline.bounds
    mirror = np.array([bounds.left_mm + bounds.right_mm, 0.0])
    proposals = []
    for item in _varied(best, count, setting):
        at = mirror + item.centres * (-1.0, 1.0) if flip else item.centres
        proposals.append(_arrangement(replace(item, centres=at), home, weights))
    if not proposals:
        raise ArrangementError(
            f"No arrangement of all {setting.count} pieces keeps the hard rules on this wall.",
            hint=f"Leave out {setting.pieces[0].id}, choose smaller sizes, or ask for fewer "
            "clearances.",
        )
    listed = tuple(pieces)
    return [replace(p, pieces=listed) for p in proposals]


def _choose(families: Iterable[str] | None) -> list[Family]:
    if families is None:
        return list(FAMILIES.values())
    names = list(families)
    if unknown := [name for name in names if name not in FAMILIES]:
        raise ArrangementError(
            f"There is no family of arrangements called {unknown[0]}.",
            hint=f"Choose among {', '.join(FAMILIES)}.",
        )
    return [FAMILIES[name] for name in names]


def _names(families: Sequence[Family]) -> str:
    return " or ".join(f.name for f in families).capitalize() or "No family"


def _best_of(
    family: Family,
    setting: Setting,
    rng: np.random.Generator,
    count: int,
    weights: Mapping[str, float],
) -> list[_Candidate]:
    """Give the best layouts of one family that keep the rules, best first."""
    settled: list[tuple[Layout, Centres]] = []
    for layout in family.lay_out(setting, rng):
        if (centres := settle(layout, setting)) is not None:
            settled.append((layout, centres))
    if not settled:
        return []
    stack = np.stack([centres for _, centres in settled])
    totals: Floats = score_layouts(stack, setting, weights).total
    order = np.argsort(-totals, kind="stable")
    ranked = [
        _Candidate(family.name, settled[i][0].variant, settled[i][1], float(totals[i]))
        for i in order
    ]
    kept: list[_Candidate] = []
    for item in ranked:
        if len(kept) == count:
            break
        if any(_alike(item, other, setting) for other in kept):
            continue
        if not broken_rules(_arrangement(item, setting, weights).findings):
            kept.append(item)
    return kept


def settle(layout: Layout, setting: Setting) -> Centres | None:
    """Move a layout as a whole to where it rests, or to the free place nearest to that."""
    boxes = setting.boxes(layout.centres)
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    if layout.fixed:
        want = np.zeros(2)
    else:
        rest = setting.rest_height(float(high[1] - low[1]))
        want = np.array([setting.space.axis_mm, rest]) - (low + high) / 2
    shift = setting.space.settle(boxes, float(want[0]), float(want[1]))
    return None if shift is None else layout.centres + np.array(shift)


def _alike(a: _Candidate, b: _Candidate, setting: Setting) -> bool:
    """Whether two layouts look the same: equal sizes in nearly equal places."""
    key = [np.column_stack([np.round(setting.sizes, 3), item.centres]) for item in (a, b)]
    first, second = (rows[np.lexsort(rows.T[::-1])] for rows in key)
    return bool(np.abs(first - second).max() < ALIKE_MM_SHARE * max(setting.gap_mm, 1e-9))


def _varied(items: list[_Candidate], count: int, setting: Setting) -> list[_Candidate]:
    """Give the best, one of each family first, then further variants; ordered by score."""
    items = sorted(items, key=lambda c: -c.score)
    picked: list[_Candidate] = []
    for fresh in (True, False):
        for item in items:
            if len(picked) == count:
                break
            if item in picked or (fresh and item.family in {p.family for p in picked}):
                continue
            if not any(_alike(item, other, setting) for other in picked):
                picked.append(item)
    return sorted(picked, key=lambda c: -c.score)


def _arrangement(item: _Candidate, setting: Setting, weights: Mapping[str, float]) -> Arrangement:
    score, terms = explain(item.centres, setting, weights)
    made = Arrangement(
        pieces=setting.pieces,
        placements=tuple(
            Placement(piece.id, float(x), float(y))
            for piece, (x, y) in zip(setting.pieces, item.centres, strict=True)
        ),
        family=item.family,
        score=score,
        terms=terms,
        name=f"{item.family}, {item.variant}" if item.variant else item.family,
    )
    return replace(made, findings=check_arrangement(made, setting.survey, setting.guidelines))
