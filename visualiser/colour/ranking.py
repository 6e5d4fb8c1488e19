"""Rank candidates: which artwork suits the set, a slot in it, and the room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.coherence import as_a_whole
from visualiser.colour.distance import palette_distances
from visualiser.colour.judgement import Judgement
from visualiser.colour.palette import Palette
from visualiser.colour.room_fit import contrast_with_wall, judge_room, room_colours_only
from visualiser.colour.scales import WALL_CONTRAST
from visualiser.colour.set_model import measures
from visualiser.colour.wording import listed, own_words, shared_words


@dataclass(frozen=True, slots=True)
class RankingWeights:
    """What counts how much. Taste, to be changed; the parts are each scaled 0 to 1.

    Parameters
    ----------
    kinship
        Closeness to the other pieces' colours.
    room
        Closeness to the room's colours.
    contrast
        Standing out from the wall.
    reach
        Palette distance that counts as no kinship at all, CIEDE2000.
    enough
        Difference from the wall beyond which more brings nothing, CIEDE2000.
    doubtful
        What is left of the score of a picture whose colours give little to go by: grey lies near
        the middle of all colours, so it is close to everything and kin to nothing. It costs
        nothing beside pieces most of which are such themselves: an etching among etchings.
    """

    kinship: float = 0.6
    room: float = 0.3
    contrast: float = 0.1
    reach: float = 40.0
    enough: float = 20.0
    doubtful: float = 0.5


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
    coloured = None if room is None else room_colours_only(room)
    if coloured is not None:
        to_room = palette_distances(candidates, [coloured])[:, 0]
        parts["room"] = (rule.room, np.clip(1 - to_room / rule.reach, 0, 1))
    if wall_lab is not None:
        contrast = np.array([contrast_with_wall(c, wall_lab) for c in candidates])
        parts["contrast"] = (rule.contrast, np.clip(contrast / rule.enough, 0, 1))
    total = sum(weight for weight, _ in parts.values())
    summed = np.sum([weight * value for weight, value in parts.values()], axis=0)
    score = np.broadcast_to(100 * summed / max(total, 1e-9), (len(candidates),)).copy()
    told = 2 * sum(p.trusted for p in pieces) >= len(pieces)
    if told:
        score[[not c.trusted for c in candidates]] *= rule.doubtful
    if not parts:
        # White takes any picture: nothing was given by which one suits less than another.
        score[:] = 100.0
    ranked = []
    for i in np.argsort(-score, kind="stable"):
        candidate = candidates[i]
        judgements = []
        if room is not None:
            judgements.append(judge_room(candidate, room))
        if wall_lab is not None:
            judgements.append(WALL_CONTRAST.judge(float(contrast[i])))
        values = tuple((name, float(value[i])) for name, (_, value) in parts.items())
        ranked.append(
            Ranked(
                int(i),
                float(score[i]),
                values,
                tuple(judgements),
                _why(
                    candidate,
                    dict(values),
                    pieces,
                    doubtful=told and not candidate.trusted,
                    free=room is not None and coloured is None,
                    melts=wall_lab is not None and judgements[-1].band == _MELTS_IN,
                ),
            )
        )
    return ranked


def _why(
    candidate: Palette,
    parts: dict[str, float],
    pieces: Sequence[Palette],
    *,
    doubtful: bool,
    free: bool,
    melts: bool,
) -> str:
    """Say why in a sentence: the set first, then the room; the wall only where it swallows it."""
    said: list[str] = []
    if "kinship" in parts:
        said += _beside_the_set(candidate, pieces, near=parts["kinship"] >= _RELATED)
    if "room" in parts:
        if parts["room"] >= _RELATED:
            said.append("takes up the room's colours")
        elif parts["room"] < 0.4:
            said.append("has little of the room's colours")
    if melts:
        said.append("nearly melts into the wall")
    if not said and "contrast" in parts:
        said.append("stands out from the wall")
    elif not said:
        said.append(
            "suits a white room, as any picture does" if free else "is neither near nor far"
        )
    text = f"It {listed(said)}"
    return f"{text}; its colours give little to go by." if doubtful else f"{text}."


def _beside_the_set(candidate: Palette, pieces: Sequence[Palette], *, near: bool) -> list[str]:
    """Say what a candidate shares with a set, and what it brings or how it differs."""
    shared = shared_words(candidate, pieces)
    common = f"shares the set's {listed(shared)}" if shared else ""
    if near:
        return [common or "is close to the set"]
    if brought := own_words(candidate, pieces):
        return [*([common] if common else []), f"brings {listed(brought)} to the set"]
    otherwise = as_a_whole(measures([*pieces, candidate]), len(pieces))
    if common:
        return [f"{common} but is {otherwise}" if otherwise else f"{common} in other amounts"]
    return [f"is {otherwise} than the set" if otherwise else "is some way from the set"]


_MELTS_IN = WALL_CONTRAST.judge(0.0).band
_RELATED = 0.5
"""Part from which colours are called close: half the reach, 20 CIEDE2000. Ours."""
