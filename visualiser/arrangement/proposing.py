"""Proposals: every family that suits is laid out, brought into free wall, checked and scored.

The search always works on the one of a wall and its mirror image that comes first in a fixed
order, so a mirrored wall gets mirrored proposals exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.choosing import (
    SAME,
    Candidate,
    likenesses,
    varied,
    without_empty_ledge,
)
from visualiser.arrangement.contexts import kind_of
from visualiser.arrangement.families import FAMILIES, LAST_RESORT, Family
from visualiser.arrangement.families.family import Layout, settle_all
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import PLAIN, MeasuringContext
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.polishing import polished
from visualiser.arrangement.refusing import refusal
from visualiser.arrangement.rules import broken_rules, check_arrangement
from visualiser.arrangement.scoring import WEIGHTS, explain, score_layouts
from visualiser.arrangement.setting import Centres, Setting, describe
from visualiser.errors import ArrangementError
from visualiser.geometry import Polygon, Rect
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey

Thoroughness = Literal["full", "quick"]
KEPT = 2
"""Times as many layouts kept of each family as are asked for, so that there is a choice."""
POLISHED_COUNTS = range(4, 25)
"""Numbers of pieces with which groups are bettered piece by piece; more take too long."""
POLISHED = 3
"""Groups of a family that are."""
SAME_MM = 1.0
MOST_ROUNDS = 40
MOST_EXCHANGES = 1000
"""Exchanges scored at once."""


def propose(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines | None = None,
    families: Iterable[str] | None = None,
    count: int = 3,
    seed: int = 0,
    *,
    kept: Mapping[str, tuple[float, float]] | None = None,
    effort: Thoroughness = "full",
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
    kept
        Centre of each piece that stays where it is, by its id: the others are arranged round it.
    effort
        ``full``, or ``quick`` for a smaller search.
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
    flip = prefers_mirror(survey, rules)
    home = _keeping(describe(pieces, survey, rules, colours), kept, effort)
    setting = home
    if flip:
        total = _axis_sum(survey)
        across = {i: (total - x, y) for i, (x, y) in (kept or {}).items()}
        setting = describe(pieces, mirrored_survey(survey), mirrored_rules(rules), colours)
        setting = _keeping(setting, across, effort)
    suited = [f for f in chosen if f.fits(setting)]
    if not suited:
        several = "such pieces" if setting.count > 1 else "such piece"
        raise ArrangementError(
            f"{_names(chosen)} does not suit {setting.count} {several}.",
            hint="; ".join(f"{f.name}: {f.suits}" for f in chosen) + ".",
        )
    best: list[Candidate] = []
    tried: list[Layout] = []
    resort = [LAST_RESORT] if families is None and LAST_RESORT.fits(setting) and not kept else []
    for family in (*suited, *resort):
        if family is LAST_RESORT and best:
            continue
        rng = np.random.default_rng([seed, *family.name.encode()])
        layouts = [_of_kind(layout, family) for layout in family.lay_out(setting, rng)]
        best += _best_of(family, layouts, setting, count, weights)
        tried += layouts
    if not best:
        if kept:
            raise _no_room_around(home)
        named = [] if families is None else [f.name for f in suited]
        raise refusal(home, survey, rules, named, tried)
    if families is None:
        best = without_empty_ledge(best, setting)
    bounds = survey.outline.bounds
    proposals = []
    for item in varied(best, count, setting, one_of_a_kind=families is None):
        turned = _mirrored(item, bounds.left_mm + bounds.right_mm) if flip else item
        proposals.append(_arrangement(turned, home, tuple(pieces), weights))
    return proposals


def _choose(families: Iterable[str] | None) -> list[Family]:
    if families is None:
        return list(FAMILIES.values())
    names = list(families)
    if not names:
        raise ArrangementError(
            "No family of arrangements was chosen.",
            hint="Choose one, or leave the choice open to try all that suit.",
        )
    if unknown := [name for name in names if name not in FAMILIES]:
        raise ArrangementError(
            f"There is no family of arrangements called {unknown[0]}.",
            hint=f"Choose among {', '.join(FAMILIES)}.",
        )
    return [FAMILIES[name] for name in names]


def _keeping(
    setting: Setting, kept: Mapping[str, tuple[float, float]] | None, effort: Thoroughness
) -> Setting:
    """Add the pieces that stay to a setting, by their numbers.

    Raises
    ------
    ArrangementError
        If one is not among the pieces, or its place is not a number.
    """
    number = {piece.id: k for k, piece in enumerate(setting.pieces)}
    for piece_id, (x, y) in (kept or {}).items():
        if piece_id not in number:
            raise ArrangementError(
                f"{piece_id} is to stay but is not among the pieces.",
                hint="Add the piece, or let it go.",
            )
        Placement(piece_id, x, y)
    stay = sorted((number[i], float(x), float(y)) for i, (x, y) in (kept or {}).items())
    return replace(setting, kept=tuple(stay), quick=effort == "quick")


def _no_room_around(setting: Setting) -> ArrangementError:
    names = ", ".join(setting.pieces[index].called for index, _, _ in setting.kept)
    return ArrangementError(
        f"With {names} where they hang, the others find no room that keeps the hard rules.",
        hint="Let one of them move, or leave a piece out.",
    )


def _names(families: Sequence[Family]) -> str:
    return " or ".join(f.name for f in families).capitalize()


def _best_of(
    family: Family,
    layouts: Sequence[Layout],
    setting: Setting,
    count: int,
    weights: Mapping[str, float],
) -> list[Candidate]:
    """Give the best layouts of one family that keep the rules, best first."""
    turned = (other for layout in layouts for other in _heavier_below(layout, setting))
    layouts = [*layouts, *turned]
    settled = [
        (layout, centres)
        for layout, centres in zip(layouts, settle_all(layouts, setting), strict=True)
        if centres is not None
    ]
    if not settled:
        return []
    ranked: list[Candidate] = []
    for context in dict.fromkeys(layout.context for layout, _ in settled):
        items = [item for item in settled if item[0].context == context]
        stack = np.stack([centres for _, centres in items])
        totals: Floats = score_layouts(stack, setting, weights, context).total
        ranked += [
            Candidate(
                family.name,
                layout.variant,
                centres,
                round(float(total), 6),
                context,
                family.line,
            )
            for (layout, centres), total in zip(items, totals, strict=True)
        ]
    ranked.sort(key=lambda item: -item.score)
    if family.loose and not setting.kept and setting.count in POLISHED_COUNTS:
        ranked += [_polished(item, setting, weights) for item in ranked[:POLISHED]]
    if setting.labs is not None:
        ranked.sort(key=lambda item: -item.score)
        ranked = _recoloured(ranked[: 4 * count], setting, weights)
    ranked.sort(key=lambda item: -item.score)
    kept: list[Candidate] = []
    stay = {setting.pieces[index].id for index, _, _ in setting.kept}
    while ranked and len(kept) < KEPT * count:
        item, ranked = ranked[0], ranked[1:]
        found = check_arrangement(_hung(item, setting), setting.survey, setting.guidelines)
        if all(stay and set(finding.piece_ids) <= stay for finding in broken_rules(found)):
            kept.append(item)
            there = np.array([other.centres for other in ranked]).reshape(-1, setting.count, 2)
            like = likenesses(item.centres, there, setting) >= SAME
            ranked = [other for other, same in zip(ranked, like, strict=True) if not same]
    return kept


def _polished(item: Candidate, setting: Setting, weights: Mapping[str, float]) -> Candidate:
    """Move single pieces of a group wherever that betters the whole score."""
    centres, total = polished(item.centres, setting, weights, item.context)
    return replace(item, centres=centres, score=round(total, 6))


def _of_kind(layout: Layout, family: Family) -> Layout:
    """Measure a layout as what its family is."""
    kind = kind_of(family.name, layout.variant)
    if not kind:
        return layout
    return replace(layout, context=replace(layout.context, kind=kind))


def _heavier_below(layout: Layout, setting: Setting) -> Iterator[Layout]:
    """Turn a layout of mixed sizes upside down where that brings what is heavy below."""
    if layout.fixed or layout.context.host is not None or layout.context.rise:
        return
    boxes = setting.boxes(layout.centres)
    middle = (boxes[:, 1].min() + boxes[:, 3].max()) / 2
    weight = (layout.centres[:, 1] * setting.masses).sum() / setting.masses.sum()
    if weight > middle + 1e-6:
        yield replace(layout, centres=layout.centres * (1.0, -1.0))


def _recoloured(
    items: Sequence[Candidate], setting: Setting, weights: Mapping[str, float]
) -> list[Candidate]:
    """Exchange pieces of one size where that spreads colours and weight better."""
    better: dict[int, Candidate] = {}
    for context in dict.fromkeys(item.context for item in items):
        some = [k for k, item in enumerate(items) if item.context == context]
        stack = np.stack([items[k].centres for k in some])
        groups, totals = spread(stack, setting, weights, context)
        for k, centres, total in zip(some, groups, totals, strict=True):
            better[k] = replace(items[k], centres=centres, score=round(float(total), 6))
    return [better[k] for k in range(len(items))]


def _mirrored(item: Candidate, axis_sum_mm: float) -> Candidate:
    context = item.context
    host = None if context.host is None else (axis_sum_mm - context.host[0], *context.host[1:])
    return replace(
        item,
        centres=item.centres * (-1.0, 1.0) + (axis_sum_mm, 0.0),
        context=replace(context, host=host, rise=-context.rise),
    )


def _arrangement(
    item: Candidate, setting: Setting, listed: tuple[Piece, ...], weights: Mapping[str, float]
) -> Arrangement:
    """Give a proposal of pieces in the order in which they were listed."""
    score, terms = explain(item.centres, setting, weights, item.context)
    made = replace(_hung(item, setting), pieces=listed, score=score, terms=terms)
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


Signature = list[tuple[float | str, ...]]


def _axis_sum(survey: Survey) -> float:
    bounds = survey.outline.bounds
    return bounds.left_mm + bounds.right_mm


def mirrored_polygon(polygon: Polygon, axis_sum_mm: float) -> Polygon:
    """Mirror a polygon about a plumb line, keeping the sense of its corners."""
    return Polygon(tuple((axis_sum_mm - x, y) for x, y in reversed(polygon.points_mm)))


def mirrored_survey(survey: Survey) -> Survey:
    """Mirror a wall about the middle of its outline. It has no photo any more."""
    total = _axis_sum(survey)
    return replace(
        survey,
        plane=None,
        outline=mirrored_polygon(survey.outline, total),
        zones=tuple(replace(z, polygon=mirrored_polygon(z.polygon, total)) for z in survey.zones),
        furniture=tuple(
            replace(
                f,
                rect=Rect(total - f.rect.right_mm, f.rect.y_mm, f.rect.width_mm, f.rect.height_mm),
            )
            for f in survey.furniture
        ),
    )


def mirrored_rules(guidelines: Guidelines) -> Guidelines:
    """Mirror the rules with the wall: a stair that rose to the right rises to the left."""
    slope = guidelines.stair_slope_deg
    return replace(guidelines, stair_slope_deg=None if slope is None else -slope)


def prefers_mirror(survey: Survey, guidelines: Guidelines | None = None) -> bool:
    """Whether the solver should work on the mirror image of this wall.

    Of a wall that is its own mirror image, a typed stair decides.
    """
    slope = 0.0 if guidelines is None else guidelines.stair_slope_deg or 0.0
    return (_signature(mirrored_survey(survey)), -slope) < (_signature(survey), slope)


def _signature(survey: Survey) -> Signature:
    """Shapes of a wall in an order that does not depend on how they are listed."""
    left = survey.outline.bounds.left_mm
    scale = max(survey.outline.bounds.width_mm, 1e-9)

    def corners(kind: str, polygon: Polygon) -> tuple[float | str, ...]:
        points = sorted(
            (round((x - left) / scale, 9), round(y / scale, 9)) for x, y in polygon.points_mm
        )
        return (kind, *(v for point in points for v in point))

    shapes = [corners("0 outline", survey.outline)]
    shapes += [corners(f"1 {z.kind}", z.polygon) for z in survey.zones]
    shapes += [corners(f"2 {f.kind}", Polygon.from_rect(f.rect)) for f in survey.furniture]
    return sorted(shapes)


def spread(
    groups: Centres,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    context: MeasuringContext = PLAIN,
) -> tuple[Centres, Floats]:
    """Make the best exchange of two equal sizes again and again, until none improves the score.

    Pieces that stay where they are take no part.

    Parameters
    ----------
    groups
        (K, N, 2) layouts; the places stay, only who hangs in them changes.
    setting, weights, context
        What they are scored by.

    Returns
    -------
    The layouts (K, N, 2), and their scores (K,).
    """
    stay = {index for index, _, _ in setting.kept}
    pairs = [
        [i, j]
        for i, j in combinations([k for k in range(setting.count) if k not in stay], 2)
        if np.abs(setting.sizes[i] - setting.sizes[j]).max() <= SAME_MM
    ]
    groups = groups.copy()
    now = score_layouts(groups, setting, weights, context).total
    if not pairs:
        return groups, now
    at_once = max(1, MOST_EXCHANGES // len(pairs))
    for start in range(0, len(groups), at_once):
        left = np.arange(start, min(start + at_once, len(groups)))
        for _ in range(MOST_ROUNDS):
            tries = np.repeat(groups[left, None], len(pairs), axis=1)
            for k, pair in enumerate(pairs):
                tries[:, k, pair] = tries[:, k, pair[::-1]]
            flat = tries.reshape(-1, *groups.shape[1:])
            totals = score_layouts(flat, setting, weights, context).total.reshape(len(left), -1)
            best = totals.argmax(axis=1)
            most = totals[np.arange(len(left)), best]
            rose = np.flatnonzero(most > now[left] + 1e-9)
            if not len(rose):
                break
            left, best, most = left[rose], best[rose], most[rose]
            groups[left], now[left] = tries[rose, best], most
    return groups, now
