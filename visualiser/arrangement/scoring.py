"""A score that explains itself: terms from 0 to 1, their weights, and a sentence for each.

The terms say how a layout keeps the conventions of the trade; they are no proof of beauty.
Hübner and Fillinger (2016) found that the deviation of the centre of mass predicts how balanced a
picture is *judged* (r = -0.82) but not how well it is liked; McManus, Stöver and Kim (2011) found
that it hardly explains where photographers crop. The weights are ours and are meant to be changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from visualiser.arrangement.arrangement import Arrangement, ScoreTerm
from visualiser.arrangement.balance import assessment_of_balance, weight_field
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.measures import PLAIN, Measured, MeasuringContext, measure_in
from visualiser.arrangement.neighbours import Floats
from visualiser.arrangement.rules import check_arrangement
from visualiser.arrangement.setting import (
    Centres,
    Setting,
    describe_hung,
    host_of,
    objects,
    stair_rise,
)
from visualiser.arrangement.space import floor_rise
from visualiser.survey.survey import Survey

WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "even gaps": 0.20,
        "shared lines": 0.12,
        "compact outline": 0.18,
        "closed outline": 0.14,
        "outline shape": 0.12,
        "balance": 0.14,
        "focal piece": 0.08,
        "proportion": 0.12,
        "height": 0.08,
        "centred": 0.10,
        "colour spread": 0.10,
    }
)
"""Share of each term; terms that do not apply drop out and the rest are scaled up."""

SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "even gaps": "common practice, no source",
        "shared lines": "regularity of alignment: Ngo, Teo and Byrne, Information Sciences 152, "
        "2003; the form here is ours",
        "compact outline": "unity of space: Ngo, Teo and Byrne 2003; the form here is ours",
        "closed outline": "common practice, no source",
        "outline shape": "common practice, no source",
        "balance": "deviation of the centre of mass: Hübner and Fillinger, Front. Psychol. 7:335, "
        "2016, in half widths as in the code of Redies et al., Behav. Res. Methods 57(4):117, 2025",
        "focal piece": "common practice, no source",
        "proportion": "common practice, no source",
        "height": "common practice: 57 to 60 in to the centre",
        "centred": "common practice, no source",
        "colour spread": "common practice, no source",
    }
)

FULL_UNEVEN = 1 / 3
"""Mean departure from the gap, in gaps, at which gaps count as wholly uneven: that of gaps which
are all 75 mm, the most that is common, where 57 are aimed at."""
FULL_LEAN = 0.40
"""Deviation of the centre of mass (0 to 1) at which a group counts as wholly unbalanced."""
SHAPE = (0.75, 2.0)
"""Width over height of an outline that reads as one group: common practice, no source."""
SHAPE_ABOVE = (0.75, 3.5)
"""The same above furniture, where a row may be as long and low as what it hangs above: one row of
common sizes that spans three quarters of a sofa is about so long."""
WALL_SHARE = (0.35, 0.75)
"""Share of a bare wall's width that a group may take: common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    """Terms (K,) by name, from 0 to 1, and the score (K,) from 0 to 100."""

    terms: dict[str, Floats]
    total: Floats


def score_layouts(
    centres: Centres,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    context: MeasuringContext = PLAIN,
) -> Scores:
    """Score layouts (K, N, 2) where they hang."""
    return score_measured(measure_in(centres, setting, context), setting, weights, context)


def score_measured(
    m: Measured,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    context: MeasuringContext = PLAIN,
) -> Scores:
    """Turn measures into terms and a score."""
    terms = group_terms(m, setting) | wall_terms(m, setting, context)
    if context.rise:
        del terms["outline shape"]
    if setting.count == 1:
        terms = {name: terms[name] for name in ("proportion", "height", "centred")}
    return Scores(terms, weighted(terms, weights))


def weighted(terms: Mapping[str, Floats], weights: Mapping[str, float]) -> Floats:
    """Weighted mean of terms, from 0 to 100."""
    used = {name: weights.get(name, 0.0) for name in terms}
    whole = sum(used.values()) or 1.0
    return np.asarray(100 * sum(used[name] * value for name, value in terms.items()) / whole)


def group_terms(m: Measured, setting: Setting) -> dict[str, Floats]:
    """Terms that stay the same wherever the group hangs."""
    terms = {
        "even gaps": np.clip(1 - m.gap_error / FULL_UNEVEN, 0, 1),
        "shared lines": m.aligned,
        "compact outline": np.clip(m.filled, 0, 1),
        "closed outline": np.clip(1 - m.opening, 0, 1),
        "outline shape": _shape(m.size[:, 0] / m.size[:, 1], setting),
        "balance": np.clip(1 - deviation_of_mass(*m.lean.T) / FULL_LEAN, 0, 1),
        "focal piece": np.clip(1 - m.focal, 0, 1),
    }
    if not np.isnan(m.colour).any():
        terms["colour spread"] = np.clip(m.colour - 0.5, 0, 1)
    return terms


def _shape(ratio: Floats, setting: Setting) -> Floats:
    """1 for an outline that reads as one group, 0 for one 2 1/2 times as long or as narrow."""
    narrow, long = SHAPE if setting.space.furniture is None else SHAPE_ABOVE
    off = np.maximum(np.log(narrow / ratio), np.log(ratio / long))
    return np.asarray(np.clip(1 - np.maximum(off, 0) / np.log(2.5), 0, 1))


def proportion(m: Measured, setting: Setting) -> Floats:
    """Width against the furniture's, or the wall's: 1 within the usual shares."""
    rules, space = setting.guidelines, setting.space
    if space.furniture is not None:
        whole = max(space.furniture.rect.width_mm, 1e-9)
        low, high = rules.furniture_share_min, rules.furniture_share_max
    else:
        whole, (low, high) = space.bounds.width_mm, WALL_SHARE
    share = m.size[:, 0] / whole
    outside = np.maximum(low - share, 0) / low + np.maximum(share - high, 0) / high
    return np.clip(1 - outside, 0, 1)


def wall_terms(
    m: Measured, setting: Setting, context: MeasuringContext = PLAIN
) -> dict[str, Floats]:
    """Terms that depend on where the group hangs."""
    rules, space = setting.guidelines, setting.space
    rest = np.array(
        [setting.rest_height(h, x) for h, x in zip(m.size[:, 1], m.centre[:, 0], strict=True)]
    )
    # A group that does not follow the stair hangs too high at one end and too low at the other.
    tilt = abs(floor_rise(setting.survey.outline) - context.rise)
    off = np.abs(m.centre[:, 1] - rest) + tilt * m.size[:, 0] / 4
    terms = {
        "proportion": proportion(m, setting),
        "height": np.clip(1 - off / (0.2 * rules.centre_height_mm), 0, 1),
        "centred": np.clip(
            1 - np.abs(m.centre[:, 0] - _axis(setting, context)) / (0.25 * space.bounds.width_mm),
            0,
            1,
        ),
    }
    if context.host is None and _is_split(setting):
        # Beside what takes the wall's middle, it is the wall that a group leaves one-sided.
        weight = m.centre[:, 0] + m.lean[:, 0] * m.size[:, 0]
        across = (weight - space.bounds.centre_mm[0]) / space.bounds.width_mm
        terms["balance"] = np.clip(1 - deviation_of_mass(across, m.lean[:, 1]) / FULL_LEAN, 0, 1)
    return terms


def _axis(setting: Setting, context: MeasuringContext) -> float:
    """X that a group is centred on: the object's that it surrounds, or the wall's.

    A group beside an object that takes the middle of a bare wall leaves the wall one-sided, so
    there too the middle counts.
    """
    if context.host is not None:
        return context.host[0]
    return setting.space.bounds.centre_mm[0] if _is_split(setting) else setting.space.axis_mm


def _is_split(setting: Setting) -> bool:
    """Whether an object that a group could surround takes the middle of a bare wall."""
    middle = setting.space.bounds.centre_mm[0]
    bare = setting.space.furniture is None and not floor_rise(setting.survey.outline)
    return bare and any(item.left_mm < middle < item.right_mm for item in objects(setting))


def deviation_of_mass(across: Floats, up: Floats) -> Floats:
    """Deviation of the centre of mass, 0 at the centre, 1 at the middle of a side.

    Parameters
    ----------
    across, up
        Centre of mass from the outline's centre, in outline widths and heights.

    References
    ----------
    Hübner and Fillinger (2016); distance over 0.5 as in the code of Redies et al. (2025). A
    secondary text leaves the division out, which halves the figure.
    """
    return np.asarray(np.hypot(across, up) / 0.5)


def explain(
    centres: Centres,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    context: MeasuringContext = PLAIN,
) -> tuple[float, tuple[ScoreTerm, ...]]:
    """Score one layout (N, 2) and say why."""
    m = measure_in(centres[None], setting, context)
    scores = score_measured(m, setting, weights, context)
    used = {name: weights.get(name, 0.0) for name in scores.terms}
    whole = sum(used.values()) or 1.0
    terms = tuple(
        ScoreTerm(name, float(value[0]), used[name] / whole, _sentence(name, m, setting, context))
        for name, value in scores.terms.items()
    )
    if setting.count > 1:
        terms += (_assessed(centres, setting),)
    return float(scores.total[0]), terms


def _assessed(centres: Centres, setting: Setting) -> ScoreTerm:
    """Tell the assessment of preference for balance, which is not counted."""
    share = assessment_of_balance(weight_field(setting.boxes(centres), setting.masses)) / 100
    return ScoreTerm(
        "assessed balance",
        1 - share,
        0.0,
        f"A published measure gives {100 * share:.0f} % (0 is balanced); it is told, not counted, "
        "as it also wants as much weight at the edges as in the middle.",
    )


def _sentence(name: str, m: Measured, setting: Setting, context: MeasuringContext) -> str:
    """Say what was measured for one term."""
    width, height = m.size[0]
    if name == "even gaps":
        off = m.gap_error[0] * setting.gap_mm
        return f"Gaps differ from {setting.gap_mm:.0f} mm by {off:.0f} mm on average."
    if name == "shared lines":
        return f"{100 * m.aligned[0]:.0f} % of neighbours share an edge or a centre line."
    if name == "compact outline":
        return f"Frames and gaps fill {100 * min(m.filled[0], 1):.0f} % of the outline."
    if name == "closed outline":
        if m.opening[0] < 0.005:
            return "Its outline has no opening."
        return f"The largest opening along its outline has the area of {m.opening[0]:.2f} pieces."
    if name == "outline shape":
        return f"The outline is {width:.0f} x {height:.0f} mm, {width / height:.2f} to 1."
    if name == "balance":
        where = _where(m.lean[0] * m.size[0])
        if context.host is None and _is_split(setting):
            off = m.centre[0, 0] + m.lean[0, 0] * width - setting.space.bounds.centre_mm[0]
            where = _where(np.array([off, m.lean[0, 1] * height]))
            return f"The visual weight lies {where} the middle of the wall, which an object takes."
        return f"The visual weight lies {where} the group's middle."
    if name == "focal piece":
        off = m.focal[0] * np.hypot(width, height) / 2
        return f"What weighs most hangs {off:.0f} mm from the group's middle."
    if name == "proportion":
        below = setting.space.furniture
        what = f"the {below.name or below.kind}'s" if below else "the free wall's"
        whole = below.rect.width_mm if below else setting.space.bounds.width_mm
        return f"The group takes {100 * width / max(whole, 1e-9):.0f} % of {what} width."
    if name == "height":
        off = m.centre[0, 1] - setting.rest_height(height, m.centre[0, 0])
        return f"Its centre is {m.centre[0, 1]:.0f} mm high, {abs(off):.0f} mm from where it rests."
    if name == "centred":
        axis = _axis(setting, context)
        off = abs(m.centre[0, 0] - axis)
        stretch = "the middle of its stretch of wall"
        middle = stretch if axis == setting.space.axis_mm else "the middle of the wall"
        middle = "the object's middle" if context.host else middle
        return f"It hangs {off:.0f} mm off {middle}."
    return f"Neighbours differ in colour {m.colour[0]:.2f} times as much as any two pieces."


def _where(shift_mm: Floats) -> str:
    """Words for a small shift: ``12 mm right of and 3 mm above``."""
    across, up = float(shift_mm[0]), float(shift_mm[1])
    words = []
    if abs(across) >= 0.5:
        words.append(f"{abs(across):.0f} mm {'right' if across > 0 else 'left'} of")
    if abs(up) >= 0.5:
        words.append(f"{abs(up):.0f} mm {'above' if up > 0 else 'below'}")
    return " and ".join(words) or "in"


def evaluate(
    arrangement: Arrangement,
    survey: Survey,
    guidelines: Guidelines,
    *,
    colours: Mapping[str, ArrayLike] | None = None,
    weights: Mapping[str, float] = WEIGHTS,
) -> Arrangement:
    """Score an arrangement as it hangs and hold the rules against it.

    Returns
    -------
    The same places with ``score``, ``terms`` and ``findings`` anneal.

    Raises
    ------
    ArrangementError
        If the wall's outline or a zone crosses itself.
    """
    findings = check_arrangement(arrangement, survey, guidelines)
    if not arrangement.placements:
        return replace(arrangement, score=0.0, terms=(), findings=findings)
    placed = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    setting = describe_hung(placed, survey, guidelines, colours)
    centres = np.array([[p.x_mm, p.y_mm] for p in arrangement.placements])
    score, terms = explain(centres, setting, weights, _context(arrangement, setting))
    return replace(arrangement, score=score, terms=terms, findings=findings)


def _context(arrangement: Arrangement, setting: Setting) -> MeasuringContext:
    """Give what a group of this family is measured with."""
    if arrangement.family == "stair":
        return MeasuringContext(rise=stair_rise(setting) or 0.0)
    if arrangement.family == "around an object":
        for item in objects(setting):
            if arrangement.bounds.overlaps(item):
                return MeasuringContext(host_of(item, setting))
    return PLAIN
