"""A score that explains itself: terms from 0 to 1, their weights, and a sentence for each.

The terms say how a layout keeps the conventions of the trade; they are no proof of beauty.
Hübner and Fillinger (2016) found that the deviation of the centre of mass predicts how balanced a
picture is *judged* (r = -0.82) but not how well it is liked; McManus, Stöver and Kim (2011) found
that it hardly explains where photographers crop. The weights are ours and are meant to be changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from visualiser.arrangement.appearance import (
    FULL_VOID,
    appearance_terms,
    in_one_line,
    void_scale,
)
from visualiser.arrangement.arrangement import ScoreTerm
from visualiser.arrangement.balance import assessment_of_balance, weight_field
from visualiser.arrangement.furnishings import rail_height
from visualiser.arrangement.heights import eye_height
from visualiser.arrangement.measures import PLAIN, Kind, Measured, MeasuringContext, measure_in
from visualiser.arrangement.neighbours import Floats, scale_of
from visualiser.arrangement.setting import (
    Centres,
    Setting,
    near_eye,
    small_in_the_middle,
    stair_rise,
    takes_all,
)
from visualiser.arrangement.slopes import floor_rise
from visualiser.arrangement.ways import fullness, usual_way, way_in_words
from visualiser.wording import Length, Lengths, joined, sentence

WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "even gaps": 0.10,
        "shared lines": 0.02,
        "compact outline": 0.05,
        "closed outline": 0.10,
        "outline shape": 0.02,
        "balance": 0.04,
        "focal piece": 0.05,
        "proportion": 0.05,
        "height": 0.05,
        "centred": 0.05,
        "colour spread": 0.05,
        "weight below": 0.03,
        "usual way": 0.16,
        "straight sides": 0.09,
        "no holes": 0.10,
        "small ones held": 0.08,
        "symmetry": 0.05,
        "like sizes": 0.06,
        "room about it": 0.04,
        "weight beside": 0.01,
        "ledge or rail": 0.08,
    }
)
"""Share of each term, fitted to verdicts of readers who saw the drawings alone; terms that do not
apply drop out and the rest are scaled up."""

SEARCH_WEIGHTS: Mapping[str, float] = MappingProxyType(
    {
        "even gaps": 0.20,
        "shared lines": 0.10,
        "compact outline": 0.16,
        "closed outline": 0.18,
        "straight sides": 0.16,
        "outline shape": 0.10,
        "balance": 0.12,
        "focal piece": 0.06,
        "proportion": 0.16,
        "colour spread": 0.10,
    }
)
"""Share of each term while a group is built, before it is hung and scored with all terms. They are
ours: verdicts on drawings that all kept even gaps say little of what those are worth."""

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
        "weight below": "common practice, no source",
        "usual way": "common practice, no source",
        "straight sides": "common practice, no source",
        "no holes": "common practice, no source",
        "small ones held": "common practice, no source",
        "symmetry": "common practice, no source",
        "like sizes": "common practice, no source",
        "room about it": "common practice, no source",
        "weight beside": "common practice, no source",
        "ledge or rail": "common practice, no source",
    }
)

DROPPED: Mapping[Kind, frozenset[str]] = MappingProxyType(
    {
        "": frozenset(),
        "around": frozenset(),
        "standing": frozenset(
            ("height", "closed outline", "outline shape", "compact outline", "shared lines",
             "focal piece", "weight below", "even gaps", "no holes", "straight sides",
             "small ones held")
        ),
        "flank": frozenset(
            ("compact outline", "closed outline", "outline shape", "proportion", "focal piece",
             "no holes", "small ones held")
        ),
        "door": frozenset(("height", "proportion", "outline shape", "closed outline")),
        "slope": frozenset(("outline shape",)),
        "staggered": frozenset(),
        "rail": frozenset(),
        "column": frozenset(),
        "salon": frozenset(),
        "rows": frozenset(),
        "stacked row": frozenset(),
    }
)  # fmt: skip
"""Terms that do not apply to a group which something other than the wall places."""

LOOKS: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "straight sides": (
            "Frames lie flush along all four sides of the group.",
            "Frames lie flush along {:.0f} % of the group's four sides.",
            1.0,
        ),
        "small ones held": (
            "Small frames have neighbours along their sides.",
            "A small frame hangs loose, with few neighbours along its sides.",
            1.0,
        ),
        "symmetry": (
            "Left and right of the group match.",
            "Left and right of the group match over {:.0f} % of the frames.",
            1.0,
        ),
        "like sizes": (
            "No line of frames lacks order: sizes are alike, or the same from both ends.",
            "Sizes in its line are unlike or out of order: {:.0f} % of an orderly line.",
            1.0,
        ),
        "room about it": (
            "It keeps well clear of the ceiling and of the wall's ends.",
            "It hangs near the ceiling or a wall's end, with {:.0f} % of the room it wants there.",
            1.0,
        ),
        "weight beside": (
            "Either side is at least half as wide as what is between.",
            "Either side is {:.0f} % as wide as what is between.",
            0.5,
        ),
    }
)
"""Sentences of terms that are held, and of those that are not, with what the whole term is of."""
DECISIVE = ("height", "centred", "proportion")
"""Terms of which a failed one spoils the whole."""
WORST_SHARE = 0.25
"""Share of the score that the worst of the decisive terms takes, the mean of all the rest."""
TOP_HEAVY = 0.06
"""Lean upwards, in outline heights, at which a group counts as wholly top-heavy."""

SEEN = 0.005
"""Share by which a term may fall short and still count as wholly held."""
SEEN_MM = 0.5
"""Length below which what is measured counts as none."""
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
AS_WIDE = 0.3
"""What the proportion of a group counts that is as wide as the furniture below it."""
TOO_WIDE = 4 / 3
"""The same share of the furniture over the greatest that is usual, where another is typed."""
LEDGE_SHARE = (0.4, 0.95)
"""Share of a ledge that may be taken by what stands on it: common practice, no source."""
WALL_SHARE = (0.2, 0.75)
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
    return score_measured(centres, measure_in(centres, setting, context), setting, weights, context)


def score_measured(
    centres: Centres,
    m: Measured,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    context: MeasuringContext = PLAIN,
) -> Scores:
    """Turn measures into terms and a score."""
    terms = group_terms(m, setting) | wall_terms(m, setting, context)
    terms |= appearance_terms(centres, m, setting, context)
    dropped = DROPPED[context.kind]
    if context.rise:
        dropped = dropped | {"outline shape"}
    half = setting.sizes / 2
    # What hangs in one line is no mass: it is judged as a row, and there is one that is orderly.
    line = in_one_line(centres - half, centres + half)
    full = np.where(line, 0.0, fullness(terms, context))
    terms["usual way"] = usual_way(terms["symmetry"], full, setting, context)
    if setting.count == 1:
        dropped = frozenset(terms) - {*DECISIVE, "ledge or rail", "room about it"} | (
            dropped & set(DECISIVE)
        )
    terms = {name: value for name, value in terms.items() if name not in dropped}
    return Scores(terms, with_worst(weighted(terms, weights), terms))


def with_worst(mean: Floats, terms: Mapping[str, Floats]) -> Floats:
    """Score (K,) of groups by the mean of their terms and the worst of the decisive ones.

    A way of hanging that hardly anybody signs costs as much as a decisive term that fails.
    """
    decisive = [terms[name] for name in DECISIVE if name in terms]
    total = mean
    if decisive:
        worst = np.min(decisive, axis=0)
        total = (1 - WORST_SHARE) * mean + WORST_SHARE * 100 * worst
    if "usual way" in terms:
        total = np.where(terms["usual way"] > 0, total, (1 - WORST_SHARE) * total)
    return np.asarray(total)


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
        "straight sides": m.straight,
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


def proportion(m: Measured, setting: Setting, context: MeasuringContext = PLAIN) -> Floats:
    """Width against the furniture's, the ledge's or the wall's: 1 within the usual shares."""
    rules, space = setting.guidelines, setting.space
    if context.kind == "standing" and context.host is not None:
        whole, (low, high) = max(context.host[2], 1e-9), LEDGE_SHARE
    elif space.furniture is not None:
        whole = max(space.furniture.rect.width_mm, 1e-9)
        low, high = rules.furniture_share_min, rules.furniture_share_max
    else:
        whole, (low, high) = space.bounds.width_mm, WALL_SHARE
    share = m.size[:, 0] / whole
    kept = 1 - np.maximum(low - share, 0) / low
    if space.furniture is None or context.kind == "standing":
        return np.clip(kept - np.maximum(share - high, 0) / high, 0, 1)
    # What is wider than the furniture is hardly ever signed, however little.
    edge = max(1.0, TOO_WIDE * high)
    falls = [1.0, AS_WIDE, 0.0]
    return np.clip(kept, 0, 1) * np.interp(share, [high, edge, 1.5 * edge], falls)


def wall_terms(
    m: Measured, setting: Setting, context: MeasuringContext = PLAIN
) -> dict[str, Floats]:
    """Terms that depend on where the group hangs."""
    rules, space = setting.guidelines, setting.space
    rest = setting.rest_heights(m.size[:, 1], m.centre[:, 0])
    # A group that does not follow the stair hangs too high at one end and too low at the other.
    rise = 0.0 if context.kind == "slope" else context.rise
    tilt = abs((stair_rise(setting) or 0.0) - rise)
    off = np.abs(m.centre[:, 1] - rest) + tilt * m.size[:, 0] / 4
    if context.kind == "flank" and context.host is not None:
        # Beside what hangs on the wall itself its own middle is the line.
        eye = eye_height(rules, 0.0, space.ceiling_mm)
        off = np.abs(m.centre[:, 1] - (context.level_mm or eye))
    terms = {
        "proportion": proportion(m, setting, context),
        "height": np.clip(1 - off / (0.2 * rules.centre_height_mm), 0, 1),
        "centred": np.clip(
            1 - np.abs(m.centre[:, 0] - _axis(setting, context)) / (0.25 * space.bounds.width_mm),
            0,
            1,
        ),
    }
    rail = rail_height(setting.survey, rules) is not None
    if context.kind not in ("standing", "rail") and (rail or takes_all(setting)):
        terms["ledge or rail"] = np.zeros_like(terms["height"])
    if context.kind == "standing":
        terms["balance"] = np.clip(1 - np.abs(m.lean[:, 0]) / 0.5 / FULL_LEAN, 0, 1)
    terms["weight below"] = np.clip(1 - np.maximum(m.lean[:, 1], 0) / TOP_HEAVY, 0, 1)
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


def _axis_in_words(axis_mm: float, setting: Setting, context: MeasuringContext) -> str:
    """Say whose middle a group is centred on."""
    below = setting.space.furniture
    if context.host is not None:
        own: dict[Kind, str] = {"standing": "the ledge", "door": "the door"}
        return own.get(context.kind, "the object")
    if axis_mm != setting.space.axis_mm:
        return "the wall"
    if below is not None:
        return f"the {below.name or below.kind}"
    return "the stair" if floor_rise(setting.survey.outline) else "its stretch of wall"


def _is_split(setting: Setting) -> bool:
    """Whether an object that a group could surround takes the middle of a bare wall."""
    middle = setting.space.bounds.centre_mm[0]
    bare = setting.space.furniture is None and not floor_rise(setting.survey.outline)
    if bare and small_in_the_middle(setting):
        return True
    return bare and any(item.left_mm < middle < item.right_mm for item in near_eye(setting))


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
    scores = score_measured(centres[None], m, setting, weights, context)
    used = _effective_weights(scores, weights)
    terms = tuple(
        ScoreTerm(
            name, float(value[0]), used[name], _sentence(name, float(value[0]), m, setting, context)
        )
        for name, value in scores.terms.items()
    )
    if setting.count > 1:
        terms += (_assessed(centres, setting),)
    return float(scores.total[0]), terms


def _effective_weights(scores: Scores, weights: Mapping[str, float]) -> dict[str, float]:
    """Weights that give one layout's score, with the shares of what spoils the whole."""
    used = {name: weights.get(name, 0.0) for name in scores.terms}
    whole = sum(used.values()) or 1.0
    decisive = {name: float(scores.terms[name][0]) for name in DECISIVE if name in scores.terms}
    share = WORST_SHARE if decisive else 0.0
    used = {name: (1 - share) * weight / whole for name, weight in used.items()}
    if decisive:
        used[min(decisive, key=lambda name: decisive[name])] += share
    if "usual way" in used and not scores.terms["usual way"][0]:
        used = {name: (1 - WORST_SHARE) * weight for name, weight in used.items()}
        used["usual way"] += WORST_SHARE
    return used


def _assessed(centres: Centres, setting: Setting) -> ScoreTerm:
    """Give the assessment of preference for balance, which is not counted."""
    share = assessment_of_balance(weight_field(setting.boxes(centres), setting.masses)) / 100
    return ScoreTerm(
        "assessed balance",
        1 - share,
        0.0,
        f"A published measure gives {100 * share:.0f} % (0 is balanced); it is shown and not "
        "counted, as it also wants as much weight at the edges as in the middle.",
    )


def _sentence(
    name: str, value: float, m: Measured, setting: Setting, context: MeasuringContext
) -> str:
    """Say what was measured for one term."""
    width, height = m.size[0]
    if name == "even gaps":
        aimed = context.gap_mm or setting.gap_mm
        off = m.gap_error[0] * scale_of(aimed)
        return sentence("Gaps differ from ", Length(aimed), " by ", Length(off), " on average.")
    if name == "shared lines":
        return f"{100 * m.aligned[0]:.0f} % of neighbours share an edge or a centre line."
    if name == "compact outline":
        return f"Frames and gaps fill {100 * min(m.filled[0], 1):.0f} % of the outline."
    if name == "closed outline":
        if m.opening[0] < 0.005:
            return "Its outline has no opening."
        return f"The largest opening along its outline is {100 * m.opening[0]:.0f} % of a frame."
    if name == "outline shape":
        return sentence(
            "The outline is ", Lengths((width, height)), f", {width / height:.2f} to 1."
        )
    if name == "balance":
        where = _where(m.lean[0] * m.size[0])
        if context.host is None and _is_split(setting):
            off = m.centre[0, 0] + m.lean[0, 0] * width - setting.space.bounds.centre_mm[0]
            where = _where(np.array([off, m.lean[0, 1] * height]))
            middle = " the middle of the wall, which an object takes."
            return sentence("The visual weight lies ", where, middle)
        return sentence("The visual weight lies ", where, " the group's middle.")
    if name == "focal piece":
        off = m.focal[0] * np.hypot(width, height) / 2
        if off < SEEN_MM:
            return "What weighs most hangs in the group's middle."
        return sentence("What weighs most hangs ", Length(off), " from the group's middle.")
    if name == "proportion":
        if context.kind == "standing" and context.host is not None:
            return f"It takes {100 * width / max(context.host[2], 1e-9):.0f} % of the ledge."
        below = setting.space.furniture
        what = f"the {below.name or below.kind}'s" if below else "the free wall's"
        whole = below.rect.width_mm if below else setting.space.bounds.width_mm
        group = "The group" if setting.count > 1 else "It"
        return f"{group} takes {100 * width / max(whole, 1e-9):.0f} % of {what} width."
    if name == "weight below":
        lean = m.lean[0, 1] * height
        if abs(lean) < SEEN_MM:
            return "The visual weight lies level with the group's middle."
        where = "above" if lean > 0 else "below"
        return sentence(
            "The visual weight lies ", Length(abs(lean)), f" {where} the group's middle."
        )
    if name == "ledge or rail":
        if takes_all(setting):
            return "The picture ledge stays empty, though it could take all the pieces."
        return "It does not hang from the picture rail."
    if name == "usual way":
        return way_in_words(value, setting, context)
    if name == "no holes":
        if value > 1 - SEEN:
            return "No empty place within it is broader than a gap."
        aimed = context.gap_mm or setting.gap_mm
        broad = aimed + void_scale(setting.sizes, aimed) * FULL_VOID * (1 - value)
        more = " or more" if value <= 0 else ""
        return sentence("The broadest empty place within it is ", Length(broad), f"{more} wide.")
    if name in LOOKS:
        held, lacking, whole = LOOKS[name]
        return held if value > 1 - SEEN else lacking.format(100 * whole * value)
    if name == "height" and context.kind == "flank":
        return sentence("Its centre is ", Length(m.centre[0, 1]), " high.")
    if name == "height":
        off = m.centre[0, 1] - setting.rest_height(height, m.centre[0, 0])
        high = ("Its centre is ", Length(m.centre[0, 1]), " high, ")
        if abs(off) < SEEN_MM:
            return sentence(*high, "where a group so tall rests.")
        return sentence(
            *high,
            Length(abs(off)),
            f" {'above' if off > 0 else 'below'} where a group so tall rests.",
        )
    if name == "centred":
        axis = _axis(setting, context)
        off = abs(m.centre[0, 0] - axis)
        middle = _axis_in_words(axis, setting, context)
        if off < SEEN_MM:
            return f"Its middle is that of {middle}."
        return sentence("It hangs ", Length(off), f" off the middle of {middle}.")
    return f"Neighbours differ in colour {m.colour[0]:.2f} times as much as any two pieces."


def _where(shift_mm: Floats) -> str:
    """Words for a small shift: ``12 mm right of and 3 mm above``."""
    across, up = float(shift_mm[0]), float(shift_mm[1])
    words: list[str] = []
    if abs(across) >= 0.5:
        words.append(sentence(Length(abs(across)), f" {('right' if across > 0 else 'left')} of"))
    if abs(up) >= 0.5:
        words.append(sentence(Length(abs(up)), f" {('above' if up > 0 else 'below')}"))
    return joined(words, " and ") or "in"
