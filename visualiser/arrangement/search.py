"""Proposals: every family that suits is laid out, brought into free wall, checked and scored."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.families import FAMILIES, Family
from visualiser.arrangement.families.family import settle_all
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import Frame
from visualiser.arrangement.mirroring import mirrored_survey, prefers_mirror
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.rules import broken_rules, check_arrangement
from visualiser.arrangement.scoring import WEIGHTS, explain, score_layouts
from visualiser.arrangement.setting import Centres, Setting, describe
from visualiser.arrangement.swapping import spread
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
    frame: Frame


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
    proposals = []
    for item in _varied(best, count, setting):
        turned = _mirrored(item, bounds.left_mm + bounds.right_mm) if flip else item
        proposals.append(_arrangement(turned, home, weights))
    if not proposals:
        raise ArrangementError(
            f"No arrangement of all {setting.count} pieces keeps the hard rules on this wall.",
            hint=f"Leave out {setting.pieces[0].called}, choose smaller sizes, or ask for fewer "
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
    layouts = list(family.lay_out(setting, rng))
    settled = [
        (layout, centres)
        for layout, centres in zip(layouts, settle_all(layouts, setting), strict=True)
        if centres is not None
    ]
    if not settled:
        return []
    ranked: list[_Candidate] = []
    for frame in dict.fromkeys(layout.frame for layout, _ in settled):
        items = [item for item in settled if item[0].frame == frame]
        stack = np.stack([centres for _, centres in items])
        totals: Floats = score_layouts(stack, setting, weights, frame).total
        ranked += [
            _Candidate(family.name, layout.variant, centres, round(float(total), 6), frame)
            for (layout, centres), total in zip(items, totals, strict=True)
        ]
    if setting.labs is not None:
        ranked.sort(key=lambda item: -item.score)
        ranked = [_recoloured(item, setting, weights) for item in ranked[: 4 * count]]
    ranked.sort(key=lambda item: -item.score)
    kept: list[_Candidate] = []
    for item in ranked:
        if len(kept) == count:
            break
        if any(_alike(item, other, setting) for other in kept):
            continue
        if not broken_rules(_arrangement(item, setting, weights).findings):
            kept.append(item)
    return kept


def _recoloured(item: _Candidate, setting: Setting, weights: Mapping[str, float]) -> _Candidate:
    """Exchange pieces of one size where that spreads colours and weight better."""
    centres = spread(item.centres, setting, weights, item.frame)
    total = float(score_layouts(centres[None], setting, weights, item.frame).total[0])
    return replace(item, centres=centres, score=round(total, 6))


def _alike(a: _Candidate, b: _Candidate, setting: Setting) -> bool:
    """Whether two layouts look the same, or one like the other turned over.

    Within one family they must also differ by more than some pieces changing places.
    """
    boxes = [setting.boxes(item.centres) for item in (a, b)]
    middles = [(box[:, :2].min(axis=0) + box[:, 2:].max(axis=0)) / 2 for box in boxes]
    limit = ALIKE_MM_SHARE * max(setting.gap_mm, 1e-9)
    if np.abs(middles[0] - middles[1]).max() > 8 * limit:
        return False
    share = 0.5 if a.family == b.family else 1.0
    for own, other in ((middles[0], middles[1]), (middles[0], middles[0])):
        first = _by_place(a.centres - own, setting)
        for flip in product((1.0, -1.0), repeat=2):
            second = _by_place((b.centres - other) * flip, setting)
            if (np.abs(first - second).max(axis=1) < limit).mean() >= share:
                return True
    return False


def _by_place(centres: Centres, setting: Setting) -> Floats:
    """Sizes and places (N, 4), in an order that does not tell equal sizes apart."""
    rows = np.column_stack([np.round(setting.sizes, 3), np.round(centres, 3)])
    return np.asarray(rows[np.lexsort(rows.T[::-1])])


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


def _mirrored(item: _Candidate, axis_sum_mm: float) -> _Candidate:
    frame = item.frame
    host = None if frame.host is None else (axis_sum_mm - frame.host[0], *frame.host[1:])
    return replace(
        item,
        centres=item.centres * (-1.0, 1.0) + (axis_sum_mm, 0.0),
        frame=Frame(host, -frame.rise),
    )


def _arrangement(item: _Candidate, setting: Setting, weights: Mapping[str, float]) -> Arrangement:
    score, terms = explain(item.centres, setting, weights, item.frame)
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
