"""A palette in the words of somebody who dresses rooms: which colours to name, and how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import lab_to_lch
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.names import iscc_nbs
from visualiser.colour.palette import Palette

_MOST_NAMED = 3
_LEAST_GAIN = 1.0
"""A further colour is named when its share times its difference from those named already is at
least this: 2 % of red among browns, 10 % of a brown among other browns. Ours."""
_KIN = 10.0
"""Colours within this difference, lightness counting less, are shades of one. Ours."""
_LIGHTNESS_PART = 0.4
"""What a step of lightness counts beside one of hue or strength when colours are chosen to be
named: a picture of browns with some grey blue is called brown and blue, not three browns. Ours."""
_MAIN_SHARE = 0.28
_STRONG_CHROMA = 22.0
_STRONG_SHARE = 0.03
_OWN_SHARE, _OWN_CHROMA, _OWN_TURN_DEG = 0.04, 8.0, 75.0
"""A colour has a hue of its own when it has this share and chroma and lies this far on the
painters' wheel from every named colour that has a hue: more than one of its six steps. Ours."""
_OPPOSITE_TURN_DEG = 135.0
"""Least turn on the painters' wheel of what is called opposite. Ours."""
_WHEEL = tuple(f"strong {hue}" for hue in ("red", "orange", "yellow", "green", "blue", "violet"))
"""The painters' wheel in six equal steps, by the ISCC-NBS colours of those names. On the CIELAB
circle red and green lie nearer each other than blue and green do."""
_OPPOSITE_CHROMA, _OPPOSITE_STRONG = 16.0, 28.0
"""Least chroma of both opposites, and of the stronger: paper against ink, or brown against a grey
green, face each other on the wheel, but nobody sees two colours set each other off. Ours."""
_OPPOSITE_SHARE = 0.05
ROOM_NEUTRALS = frozenset((
    "white", "off-white", "ivory", "cream", "stone", "pale grey", "dove grey", "grey", "charcoal",
    "black", "slate", "blue-grey", "grey-green", "dark grey-green", "olive grey", "taupe", "beige",
    "sand", "straw", "khaki", "tan", "brown", "umber", "chocolate brown", "chestnut", "bronze",
    "olive", "dark olive", "pale olive", "sage", "pale sage", "blush", "dusty pink", "dark plum",
))  # fmt: skip
"""Words for what a room may hold any amount of: not only greys, but earths and greyed greens and
pinks. None of them is the opposite of anything. Common practice, no source."""
_SHARED_DIFFERENCE = 10.0
_TOUCH_DIFFERENCE = 14.0
"""An accent, or what one picture brings to others, is told only when it is this far, CIEDE2000,
from what is there. Ours."""


@dataclass(frozen=True, slots=True)
class NamedColour:
    """All swatches of a palette that have one word in common.

    Parameters
    ----------
    word
        What a stylist calls them.
    lab
        Their mean by share, CIELAB.
    share
        Their area together.
    accent
        Whether all of it is an accent.
    """

    word: str
    lab: tuple[float, float, float]
    share: float
    accent: bool

    @property
    def chroma(self) -> float:
        """C*ab."""
        return float(np.hypot(*self.lab[1:]))


def named_colours(palette: Palette) -> tuple[NamedColour, ...]:
    """Join a palette's swatches by their words, largest share first."""
    words: dict[str, list[int]] = {}
    for k, swatch in enumerate(palette.swatches):
        words.setdefault(swatch.word, []).append(k)
    found = []
    for word, rows in words.items():
        shares, lab = palette.shares[rows], palette.lab[rows]
        mean = shares @ lab / shares.sum()
        found.append(
            NamedColour(
                word,
                (float(mean[0]), float(mean[1]), float(mean[2])),
                float(shares.sum()),
                all(palette.swatches[k].accent for k in rows),
            )
        )
    return tuple(sorted(found, key=lambda c: -c.share))


def telling_colours(palette: Palette, most: int = _MOST_NAMED) -> tuple[NamedColour, ...]:
    """Choose the few colours that describe a palette, largest share first.

    The first is that which has most of the picture near it: five shades of one blue go before
    one grey. Each further one is that whose share times difference from all
    chosen, mostly in hue and strength, is greatest: a small strong colour goes before a third
    brown. The strongest colour is always among them, and one more where its hue is its own.

    Returns
    -------
    The share of each is that of all colours it stands for, itself and those nearer to it than to
    the others.
    """
    colours = [c for c in named_colours(palette) if not c.accent] or list(named_colours(palette))
    kin = [sum(o.share for o in colours if _tells_apart(c, [o]) <= _KIN) for c in colours]
    chosen = [colours[int(np.argmax(kin))]]
    while len(chosen) < most:
        rest = [c for c in colours if c not in chosen]
        if not rest:
            break
        gains = [c.share * _tells_apart(c, chosen) for c in rest]
        best = int(np.argmax(gains))
        if gains[best] < _LEAST_GAIN:
            break
        chosen.append(rest[best])
    strong = [c for c in colours if c.share >= _STRONG_SHARE and c.chroma >= _STRONG_CHROMA]
    if strong:
        strongest = max(strong, key=lambda c: c.chroma)
        rival = max(c.chroma for c in chosen)
        if strongest not in chosen and strongest.chroma >= 1.25 * rival:
            chosen = [*chosen[: max(most - 1, 1)], strongest]
    own = [c for c in colours if c.share >= _OWN_SHARE and _has_own_hue(c, chosen)]
    if own:
        chosen.append(max(own, key=lambda c: c.share * c.chroma))
    stood_for = [0.0] * len(chosen)
    for colour in colours:
        nearest = min(range(len(chosen)), key=lambda k: _tells_apart(colour, [chosen[k]]))
        stood_for[nearest] += colour.share
    found = [replace(c, share=share) for c, share in zip(chosen, stood_for, strict=True)]
    return tuple(sorted(found, key=lambda c: -c.share))


def opposites(palette: Palette) -> tuple[str, str] | None:
    """Find two of a palette's telling colours that set each other off, if any do.

    They face each other on the painters' wheel, both have a hue to a stylist's eye (see
    `ROOM_NEUTRALS`), and one of them is strong.
    """
    coloured = _coloured(palette)
    pairs = [(a, b) for i, a in enumerate(coloured) for b in coloured[i + 1 :]]
    return _strongest_facing(pairs)


def facing_colours(palette: Palette, other: Palette) -> tuple[str, str] | None:
    """Find a colour of one palette and one of another that are opposites, if any are."""
    return _strongest_facing([(a, b) for a in _coloured(palette) for b in _coloured(other)])


def shared_words(palette: Palette, others: Sequence[Palette], most: int = 2) -> tuple[str, ...]:
    """Name the colours that a palette has in common with some others, the most telling first.

    A colour is shared when one of the others has one within 10 CIEDE2000 of it; both must take a
    twentieth of their picture.
    """
    theirs = [s.lab for p in others for s in p.swatches if s.share >= _OPPOSITE_SHARE]
    shared = [
        c
        for c in named_colours(palette)
        if c.share >= _OPPOSITE_SHARE
        and theirs
        and float(delta_e_2000(np.array(c.lab), np.array(theirs)).min()) <= _SHARED_DIFFERENCE
    ]
    shared.sort(key=lambda c: -c.share * (10 + c.chroma))
    return tuple(c.word for c in shared[:most])


def own_words(palette: Palette, others: Sequence[Palette], most: int = 1) -> tuple[str, ...]:
    """Name the telling colours that a palette has and some others lack, the most telling first.

    A colour is its own when none of the others has it within 14 CIEDE2000 or by that word; a
    room's neutral is nobody's own.
    """
    theirs = [s for p in others for s in p.swatches if s.share >= _OPPOSITE_SHARE]
    called = {s.word for s in theirs}
    lab = np.array([s.lab for s in theirs]).reshape(-1, 3)
    own = [
        c
        for c in telling_colours(palette)
        if c.share >= _OPPOSITE_SHARE
        and c.word not in called
        and c.word not in ROOM_NEUTRALS
        and delta_e_2000(np.array(c.lab), lab).min(initial=np.inf) >= _TOUCH_DIFFERENCE
    ]
    own.sort(key=lambda c: -c.share * (10 + c.chroma))
    return tuple(c.word for c in own[:most])


def in_words(palette: Palette, manner: Sequence[str]) -> str:
    """Describe a palette in one sentence.

    Parameters
    ----------
    palette
        Whose colours.
    manner
        What they are like on the whole: ``dark``, ``muted``, ``warm``; may be empty.
    """
    colours = telling_colours(palette)
    main = [c.word for c in colours if c.share >= _MAIN_SHARE] or [colours[0].word]
    rest = [c.word for c in colours if c.word not in main]
    text = listed(main)
    if rest:
        text += f" with {listed(rest)}"
    touches: list[NamedColour] = []
    for accent in sorted(named_colours(palette), key=lambda c: -c.chroma):
        told = [*colours, *touches]
        if (
            accent.accent
            and accent.word not in [c.word for c in told]
            and _apart(accent, told) >= _TOUCH_DIFFERENCE
        ):
            touches.append(accent)
    if touches:
        text += f" and a touch of {listed([c.word for c in touches[:2]])}"
    if manner:
        text = f"{listed(manner)}: {text}"
    facing = opposites(palette)
    if facing is not None:
        text += f"; {facing[0]} and {facing[1]} are opposites"
    return f"{text[0].upper()}{text[1:]}."


def listed(words: Sequence[str]) -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> listed(["sage", "cream", "rust"])
    'sage, cream and rust'
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _tells_apart(colour: NamedColour, others: Sequence[NamedColour]) -> float:
    """Least CIELAB difference from one colour to any of some others, lightness counting less."""
    steps = np.array([o.lab for o in others]) - colour.lab
    return float(np.linalg.norm(steps * (_LIGHTNESS_PART, 1, 1), axis=1).min())


def _apart(colour: NamedColour, others: Sequence[NamedColour]) -> float:
    """Least CIEDE2000 from one colour to any of some others."""
    return float(delta_e_2000(np.array(colour.lab), np.array([o.lab for o in others])).min())


def _has_own_hue(colour: NamedColour, others: Sequence[NamedColour]) -> bool:
    """Whether a colour has a hue that none of some others has."""
    return colour.chroma >= _OWN_CHROMA and all(
        other.chroma < _OWN_CHROMA or _turn_deg(colour, other) >= _OWN_TURN_DEG for other in others
    )


def _coloured(palette: Palette) -> list[NamedColour]:
    """Telling colours with enough hue and area to face another."""
    return [
        c
        for c in telling_colours(palette)
        if c.chroma >= _OPPOSITE_CHROMA
        and c.share >= _OPPOSITE_SHARE
        and c.word not in ROOM_NEUTRALS
    ]


def _strongest_facing(
    pairs: Sequence[tuple[NamedColour, NamedColour]],
) -> tuple[str, str] | None:
    """Words of the pair of opposites whose weaker colour is strongest."""
    facing = [
        p
        for p in pairs
        if max(c.chroma for c in p) >= _OPPOSITE_STRONG and _turn_deg(*p) >= _OPPOSITE_TURN_DEG
    ]
    if not facing:
        return None
    first, second = max(facing, key=lambda p: min(c.share * c.chroma for c in p))
    return first.word, second.word


def _turn_deg(one: NamedColour, other: NamedColour) -> float:
    """Angle between two hues on the painters' wheel, 0 to 180 degrees."""
    hues = lab_to_lch(np.array([one.lab, other.lab]))[:, 2]
    there = np.interp(hues, _wheel_hues_deg(), 60.0 * np.arange(-1, 7))
    return float(abs((there[0] - there[1] + 180) % 360 - 180))


@cache
def _wheel_hues_deg() -> NDArray[np.float64]:
    """CIELAB hues of violet, red, orange, ... violet, red: rising, from below 0 to above 360."""
    names = iscc_nbs()
    lab = np.array([names.lab[names.names.index(name)] for name in _WHEEL])
    hues = lab_to_lch(lab)[:, 2]
    return np.concatenate([[hues[-1] - 360], hues, [hues[0] + 360]])
