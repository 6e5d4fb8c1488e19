"""Proposals: every family that suits is laid out, brought into free wall, checked and scored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.choosing import SAME, Candidate, likeness, varied
from visualiser.arrangement.families import FAMILIES, LAST_RESORT, Family
from visualiser.arrangement.families.family import Layout, settle_all
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import Frame
from visualiser.arrangement.mirroring import mirrored_survey, prefers_mirror
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.refusing import refusal
from visualiser.arrangement.rules import broken_rules, check_arrangement
from visualiser.arrangement.scoring import WEIGHTS, explain, score_layouts
from visualiser.arrangement.setting import Setting, describe
from visualiser.arrangement.swapping import spread
from visualiser.errors import ArrangementError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey

KEPT = 2
"""Times as many layouts kept of each family as are asked for, so that there is a choice."""


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
        How many proposals at most: ideas that differ, not one idea turned over.
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
    best: list[Candidate] = []
    tried: list[Layout] = []
    resort = [LAST_RESORT] if families is None and LAST_RESORT.fits(setting) else []
    for family in (*suited, *resort):
        if family is LAST_RESORT and best:
            continue
        rng = np.random.default_rng([seed, *family.name.encode()])
        layouts = list(family.lay_out(setting, rng))
        best += _best_of(family, layouts, setting, count, weights)
        tried += layouts
    if not best:
        named = [] if families is None else [f.name for f in suited]
        raise refusal(home, survey, rules, named, tried)
    bounds = survey.outline.bounds
    proposals = []
    for item in varied(best, count, setting):
        turned = _mirrored(item, bounds.left_mm + bounds.right_mm) if flip else item
        proposals.append(_arrangement(turned, home, weights))
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
    layouts: Sequence[Layout],
    setting: Setting,
    count: int,
    weights: Mapping[str, float],
) -> list[Candidate]:
    """Give the best layouts of one family that keep the rules, best first."""
    settled = [
        (layout, centres)
        for layout, centres in zip(layouts, settle_all(layouts, setting), strict=True)
        if centres is not None
    ]
    if not settled:
        return []
    ranked: list[Candidate] = []
    for frame in dict.fromkeys(layout.frame for layout, _ in settled):
        items = [item for item in settled if item[0].frame == frame]
        stack = np.stack([centres for _, centres in items])
        totals: Floats = score_layouts(stack, setting, weights, frame).total
        ranked += [
            Candidate(
                family.name,
                layout.variant,
                centres,
                round(float(total), 6),
                frame,
                family.line,
            )
            for (layout, centres), total in zip(items, totals, strict=True)
        ]
    if setting.labs is not None:
        ranked.sort(key=lambda item: -item.score)
        ranked = [_recoloured(item, setting, weights) for item in ranked[: 4 * count]]
    ranked.sort(key=lambda item: -item.score)
    kept: list[Candidate] = []
    for item in ranked:
        if len(kept) == KEPT * count:
            break
        if any(likeness(item.centres, other.centres, setting) >= SAME for other in kept):
            continue
        made = _hung(item, setting)
        if not broken_rules(check_arrangement(made, setting.survey, setting.guidelines)):
            kept.append(item)
    return kept


def _recoloured(item: Candidate, setting: Setting, weights: Mapping[str, float]) -> Candidate:
    """Exchange pieces of one size where that spreads colours and weight better."""
    centres = spread(item.centres, setting, weights, item.frame)
    total = float(score_layouts(centres[None], setting, weights, item.frame).total[0])
    return replace(item, centres=centres, score=round(total, 6))


def _mirrored(item: Candidate, axis_sum_mm: float) -> Candidate:
    frame = item.frame
    host = None if frame.host is None else (axis_sum_mm - frame.host[0], *frame.host[1:])
    return replace(
        item,
        centres=item.centres * (-1.0, 1.0) + (axis_sum_mm, 0.0),
        frame=Frame(host, -frame.rise),
    )


def _arrangement(item: Candidate, setting: Setting, weights: Mapping[str, float]) -> Arrangement:
    score, terms = explain(item.centres, setting, weights, item.frame)
    made = replace(_hung(item, setting), score=score, terms=terms)
    return replace(made, findings=check_arrangement(made, setting.survey, setting.guidelines))


def _hung(item: Candidate, setting: Setting) -> Arrangement:
    """Give the places alone."""
    return Arrangement(
        pieces=setting.pieces,
        placements=tuple(
            Placement(piece.id, float(x), float(y))
            for piece, (x, y) in zip(setting.pieces, item.centres, strict=True)
        ),
        family=item.family,
        name=f"{item.family}, {item.variant}" if item.variant else item.family,
    )
