"""Rank candidates: which artwork suits the set, a slot in it, and the room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import palette_distance, palette_distances
from visualiser.colour.harmony import HARMONY_RANGE, mutual_harmony
from visualiser.colour.judgement import Judgement
from visualiser.colour.palette import Palette
from visualiser.colour.scales import HARMONY, ROOM_FIT, WALL_CONTRAST


@dataclass(frozen=True, slots=True)
class RankingWeights:
    """What counts how much. Taste, to be changed; the parts are each scaled 0 to 1.

    Parameters
    ----------
    kinship
        Closeness to the other pieces' colours.
    room
        Closeness to the room's colours.
    harmony
        Ou and Luo's harmony with the other pieces.
    contrast
        Standing out from the wall.
    reach
        Palette distance that counts as no kinship at all, CIEDE2000.
    enough
        Difference from the wall beyond which more brings nothing, CIEDE2000.
    """

    kinship: float = 0.45
    room: float = 0.25
    harmony: float = 0.2
    contrast: float = 0.1
    reach: float = 40.0
    enough: float = 20.0


@dataclass(frozen=True, slots=True)
class Ranked:
    """One candidate's place.

    Parameters
    ----------
    index
        Its place in the list that was ranked.
    score
        0 to 100.
    parts
        Name and value 0 to 1 of what the score is made of.
    judgements
        What stands behind it.
    sentence
        For the client.
    """

    index: int
    score: float
    parts: tuple[tuple[str, float], ...]
    judgements: tuple[Judgement, ...]
    sentence: str


def judge_contrast(palette: Palette, wall_lab: ArrayLike) -> Judgement:
    """Judge a piece against the wall's paint behind it."""
    return WALL_CONTRAST.judge(_from_wall(palette, wall_lab), trusted=True)


def judge_room(palette: Palette, room: Palette) -> Judgement:
    """Judge a piece against the room's colours."""
    return ROOM_FIT.judge(
        palette_distance(palette, room),
        trusted=palette.trusted and room.trusted,
        doubt="the picture or the room gives little to go by.",
    )


def _from_wall(palette: Palette, wall_lab: ArrayLike) -> float:
    return float(palette.shares @ delta_e_2000(palette.lab, wall_lab))


def rank_candidates(
    candidates: Sequence[Palette],
    pieces: Sequence[Palette] = (),
    room: Palette | None = None,
    wall_lab: ArrayLike | None = None,
    weights: RankingWeights | None = None,
) -> list[Ranked]:
    """Candidates from best to worst.

    Parameters
    ----------
    candidates
        Their palettes.
    pieces
        Palettes of the pieces they are to join; for a slot, of those that stay.
    room
        Palette of the room.
    wall_lab
        CIELAB of the wall's paint.
    weights
        What counts how much; parts about which nothing is given drop out.

    Raises
    ------
    ValueError
        If neither pieces, room nor wall are given.
    """
    if not pieces and room is None and wall_lab is None:
        raise ValueError("ranking needs pieces, a room or a wall to rank against")
    rule = weights or RankingWeights()
    if not candidates:
        return []
    parts: dict[str, tuple[float, NDArray[np.float64]]] = {}
    if pieces:
        apart = palette_distances(candidates, pieces).mean(1)
        parts["kinship"] = (rule.kinship, np.clip(1 - apart / rule.reach, 0, 1))
        harmony = np.array([np.mean([mutual_harmony(c, p) for p in pieces]) for c in candidates])
        low, high = HARMONY_RANGE
        parts["harmony"] = (rule.harmony, np.clip((harmony - low) / (high - low), 0, 1))
    if room is not None:
        to_room = palette_distances(candidates, [room])[:, 0]
        parts["room"] = (rule.room, np.clip(1 - to_room / rule.reach, 0, 1))
    if wall_lab is not None:
        contrast = np.array([_from_wall(c, wall_lab) for c in candidates])
        parts["contrast"] = (rule.contrast, np.clip(contrast / rule.enough, 0, 1))
    total = sum(weight for weight, _ in parts.values())
    summed = np.sum([weight * value for weight, value in parts.values()], axis=0)
    score = 100 * summed / max(total, 1e-9)
    ranked = []
    for i in np.argsort(-score, kind="stable"):
        trusted = candidates[i].trusted
        judgements = []
        if pieces:
            judgements.append(HARMONY.judge(float(harmony[i]), trusted=trusted))
        if room is not None:
            judgements.append(ROOM_FIT.judge(float(to_room[i]), trusted=trusted))
        if wall_lab is not None:
            judgements.append(WALL_CONTRAST.judge(float(contrast[i])))
        values = tuple((name, float(value[i])) for name, (_, value) in parts.items())
        ranked.append(
            Ranked(int(i), float(score[i]), values, tuple(judgements), _why(values, trusted))
        )
    return ranked


_STRENGTHS = {
    "kinship": ("shares the set's colours", "brings colours the set lacks"),
    "harmony": ("goes easily with the others", "pulls against the others"),
    "room": ("takes up the room's colours", "has little of the room's colours"),
    "contrast": ("stands out from the wall", "melts into the wall"),
}


def _why(parts: tuple[tuple[str, float], ...], trusted: bool) -> str:
    """Strongest and, where it is low, weakest part in a sentence."""
    best = max(parts, key=lambda p: p[1])
    worst = min(parts, key=lambda p: p[1])
    text = f"It {_STRENGTHS[best[0]][0]}" if best[1] >= 0.5 else f"It {_STRENGTHS[worst[0]][1]}"
    if best[1] >= 0.5 and worst[1] < 0.4:
        text += f", but {_STRENGTHS[worst[0]][1]}"
    return text + "." if trusted else text + "; its colours give little to go by."
