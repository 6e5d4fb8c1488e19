"""Do these pieces sit together: the set's coherence, and the piece that fights the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.colorimetry import lab_to_lch
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import pairwise_distances
from visualiser.colour.judgement import Judgement, Scale
from visualiser.colour.palette import Palette, Swatch
from visualiser.colour.scales import COHERENCE
from visualiser.colour.set_model import measures, set_model
from visualiser.errors import ColourError

_HUE_CHROMA = 8.0
"""Below this chroma a colour has no hue worth the name. Ours."""
_NO_MATCH = 8.0
"""A colour further than this from every colour of the others has no match there, CIEDE2000."""
_MUCH = 2.0
"""Steps, in standard deviations of pieces within a set, from which a difference is much. Ours."""
_WARMEST = np.radians(50)
"""Hue that looks warmest: see `theme.warmth`."""
_HUE_TURN_DEG = 40.0
"""Hues further apart than this are called different: a little over an eighth of the wheel. Ours."""


@dataclass(frozen=True, slots=True)
class OutlierRule:
    """When a piece is called out of the set.

    Parameters
    ----------
    least_evidence
        Evidence against it (see `set_model`) from which it is named. At 4.2, with the model
        fitted to other sets than those judged, 188 of 370 planted strangers are named; in 30 of
        740 sets, with and without a stranger, a piece is accused that is none.
    least_step
        Mean palette distance to the rest, CIEDE2000, below which nobody would see a difference:
        in a set of near-equal pieces nothing fights.
    """

    least_evidence: float = 4.2
    least_step: float = 8.0


@dataclass(frozen=True, slots=True)
class Outlier:
    """The piece that sits least with the rest, and why.

    Parameters
    ----------
    index
        Its place in the list that was judged.
    strangeness, usual
        Mean distance of its colours from the set's nearest, and the others' usual one, CIEDE2000.
    evidence
        How strongly its colours and their amounts speak against it, natural logarithm.
    swatch
        Its swatch that is strangest for its share.
    swatch_distance
        How far that is from the nearest colour of the others, CIEDE2000.
    nearest, nearest_index
        That nearest colour, and whose it is.
    because
        ``lighter``, ``darker``, ``stronger``, ``greyer`` or ``another hue``.
    sentence
        For the client.
    """

    index: int
    strangeness: float
    usual: float
    evidence: float
    swatch: Swatch
    swatch_distance: float
    nearest: Swatch
    nearest_index: int
    because: str
    sentence: str


@dataclass(frozen=True, slots=True, eq=False)
class SetReading:
    """How a set hangs together.

    Parameters
    ----------
    distances
        (N, N) palette distances.
    coherence
        Judgement on their mean.
    strangeness, usual
        (N,) of each piece, and of the others without it, CIEDE2000.
    evidence
        (N,) against each piece, natural logarithm.
    outlier
        The piece that fights the others; None where none does.
    """

    distances: NDArray[np.float64]
    coherence: Judgement
    strangeness: NDArray[np.float64]
    usual: NDArray[np.float64]
    evidence: NDArray[np.float64]
    outlier: Outlier | None


def read_set(
    palettes: Sequence[Palette],
    names: Sequence[str] | None = None,
    rule: OutlierRule | None = None,
    scale: Scale = COHERENCE,
) -> SetReading:
    """Judge a set of two pieces or more.

    Parameters
    ----------
    palettes
        One a piece.
    names
        What to call the pieces; numbered by default.
    rule
        When a piece is an outlier. With fewer than four pieces none is named: of three, any
        two may be the odd ones.
    scale
        Bands of coherence.

    Raises
    ------
    ColourError
        If there is only one piece.
    """
    count = len(palettes)
    if count < 2:
        raise ColourError("A set needs at least two pieces.", hint="Add another piece.")
    called = list(names) if names is not None else [f"Piece {i + 1}" for i in range(count)]
    distances = pairwise_distances(palettes)
    doubtful = [n for n, p in zip(called, palettes, strict=True) if not p.trusted]
    coherence = scale.judge(
        float(distances[np.triu_indices(count, 1)].mean()),
        trusted=not doubtful,
        doubt=f"{' and '.join(doubtful)} give{'s' if len(doubtful) == 1 else ''} little to go by.",
    )
    nearest = _nearest_colours(palettes)
    strangeness = _strangeness(palettes, nearest, list(range(count)))
    usual = np.full(count, strangeness.mean())
    if count >= 3:
        rests = [[j for j in range(count) if j != i] for i in range(count)]
        usual = np.array([_strangeness(palettes, nearest, rest).mean() for rest in rests])
    rule = rule or OutlierRule()
    described = measures(palettes)
    evidence = set_model().evidence(described)
    index = int(np.argmax(evidence))
    outlier = None
    if (
        count >= 4
        and evidence[index] >= rule.least_evidence
        and distances[index].sum() / (count - 1) >= rule.least_step
    ):
        outlier = _explain(
            palettes, called, index, nearest, (strangeness, usual, evidence), described
        )
    return SetReading(distances, coherence, strangeness, usual, evidence, outlier)


def as_a_whole(described: NDArray[np.float64], index: int) -> str:
    """Say in what a piece differs most from the rest on the whole.

    Parameters
    ----------
    described
        (N, 7) measures of all of them, itself among them: see `set_model.measures`.
    index
        Which it is.

    Returns
    -------
    A comparative such as ``much darker``; empty for nothing worth a word.
    """
    own = np.sqrt(np.diag(set_model().within))
    step = (described[index] - np.delete(described, index, axis=0).mean(0)) / own
    warm = np.array([np.cos(_WARMEST), np.sin(_WARMEST)])
    sides = {
        ("lighter", "darker"): step[0],
        ("more colourful", "more muted"): step[6],
        ("warmer", "cooler"): float(warm @ step[1:3]),
    }
    (more, less), most = max(sides.items(), key=lambda item: abs(item[1]))
    if abs(most) < 1:
        return ""
    return f"{'much ' if abs(most) >= _MUCH else ''}{more if most > 0 else less}"


def _nearest_colours(palettes: Sequence[Palette]) -> list[list[NDArray[np.float64]]]:
    """Distance of each swatch of piece i to the nearest of piece j: [i][j] is (swatches of i,)."""
    return [[delta_e_2000(p.lab[:, None], q.lab).min(1) for q in palettes] for p in palettes]


def _strangeness(
    palettes: Sequence[Palette], nearest: list[list[NDArray[np.float64]]], among: list[int]
) -> NDArray[np.float64]:
    """Strangeness of each of some pieces among themselves."""
    return np.array(
        [
            palettes[i].shares @ np.min([nearest[i][j] for j in among if j != i], axis=0)
            for i in among
        ]
    )


def _explain(
    palettes: Sequence[Palette],
    names: Sequence[str],
    index: int,
    nearest: list[list[NDArray[np.float64]]],
    found: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    described: NDArray[np.float64],
) -> Outlier:
    """Say what sets the piece apart as a whole, and which of its colours is strangest."""
    strangeness, usual, evidence = found
    piece = palettes[index]
    others = [j for j in range(len(palettes)) if j != index]
    apart = np.min([nearest[index][j] for j in others], axis=0)
    worst = int((piece.shares * apart).argmax())
    swatch = piece.swatches[worst]
    owner = min(others, key=lambda j: float(nearest[index][j][worst]))
    closest = palettes[owner].swatches[int(delta_e_2000(swatch.lab, palettes[owner].lab).argmin())]
    others_lab = np.concatenate([palettes[j].lab for j in others])
    because = _what_differs(np.array(swatch.lab), np.array(closest.lab), others_lab)
    whole = as_a_whole(described, index)
    whole = f"it is {whole} than they are, and " if whole else ""
    part = f"its {swatch.word} ({100 * swatch.share:.0f} % of it)"
    # A name they have too is no news to anybody, however far its shade is from theirs.
    unheard = all(swatch.word != s.word for j in others for s in palettes[j].swatches)
    if unheard and because == "another hue":
        told = f"{part} is a hue that they lack"
    elif unheard and apart[worst] >= _NO_MATCH:
        told = f"{part} is in none of them"
    else:
        told = _more_of(piece, [palettes[j] for j in others])
    return Outlier(
        index,
        float(strangeness[index]),
        float(usual[index]),
        float(evidence[index]),
        swatch,
        float(apart[worst]),
        closest,
        owner,
        because,
        f"{names[index]} sits least with the rest: {whole}{told}.",
    )


def _more_of(piece: Palette, others: Sequence[Palette]) -> str:
    """Say of which of its colours a piece has most more than the others do."""
    own, theirs = (
        np.mean([_near_share(piece, palette) for palette in some], axis=0)
        for some in ([piece], others)
    )
    most = int((own - theirs).argmax())
    word, here, there = piece.swatches[most].word, 100 * own[most], 100 * theirs[most]
    rest = f"{there:.0f} % of them" if there >= 1 else "almost none of them"
    return f"{word} takes {here:.0f} % of it and {rest}"


def _near_share(piece: Palette, palette: Palette) -> NDArray[np.float64]:
    """Share of a palette that lies near each colour of a piece."""
    apart = np.array([delta_e_2000(lab, palette.lab) for lab in piece.lab])
    return np.asarray((apart < _NO_MATCH) @ palette.shares)


def _what_differs(
    lab: NDArray[np.float64], nearest: NDArray[np.float64], others: NDArray[np.float64]
) -> str:
    """Say what sets a colour apart from the nearest; a hue all its own before all else."""
    here, there, all_lch = lab_to_lch(lab), lab_to_lch(nearest), lab_to_lch(others)
    turn = np.abs((all_lch[:, 2] - here[2] + 180) % 360 - 180)
    shares_hue = (all_lch[:, 1] >= _HUE_CHROMA) & (turn < _HUE_TURN_DEG)
    if here[1] >= 1.5 * _HUE_CHROMA and not shares_hue.any():
        return "another hue"
    lighter, stronger = here[0] - there[0], here[1] - there[1]
    if abs(stronger) > abs(lighter):
        return "stronger" if stronger > 0 else "greyer"
    return "lighter" if lighter > 0 else "darker"
