"""What would pull a piece in: a mat, a frame finish, or a neighbour that shares a colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from visualiser.colour.colorimetry import from_hex, srgb_to_lab
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import palette_distances
from visualiser.colour.finishes import FINISHES, MATS
from visualiser.colour.palette import Palette, Swatch, blend, palette_from_lab


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that would bring a piece closer to the rest.

    Parameters
    ----------
    kind
        ``mat``, ``frame`` or ``neighbour``.
    what
        The mat's or finish's name, or the neighbour's.
    before, after
        Mean palette distance to the others without and with it; for a neighbour the distance of
        the shared colours, twice. CIEDE2000.
    sentence
        For the client.
    """

    kind: Literal["mat", "frame", "neighbour"]
    what: str
    before: float
    after: float
    sentence: str


def remedies(
    palettes: Sequence[Palette],
    index: int,
    names: Sequence[str] | None = None,
    *,
    mats: Mapping[str, str] = MATS,
    finishes: Mapping[str, str] = FINISHES,
    mat_share: float = 0.4,
    frame_share: float = 0.12,
    least_gain: float = 0.5,
) -> tuple[Remedy, ...]:
    """Find what would pull one piece of a set in, most helpful first.

    Parameters
    ----------
    palettes
        One a piece, two or more.
    index
        Which piece.
    names
        What to call the pieces.
    mats, finishes
        What is in stock: name to ``#rrggbb``.
    mat_share, frame_share
        Part of the visible area that mat or frame would take.
    least_gain
        A mat or finish must bring the piece at least this much closer, CIEDE2000. It must suit the
        picture itself besides: see `mat_suits`.
    """
    called = list(names) if names is not None else [f"Piece {i + 1}" for i in range(len(palettes))]
    piece = palettes[index]
    others = [j for j in range(len(palettes)) if j != index]
    rest = [palettes[j] for j in others]
    before = float(palette_distances([piece], rest).mean())
    found: list[Remedy] = []
    for kind, stock, share in (("mat", mats, mat_share), ("frame", finishes, frame_share)):
        surrounds = {
            name: palette_from_lab(srgb_to_lab(from_hex(code)), [1.0])
            for name, code in stock.items()
        }
        if kind == "mat":
            surrounds = {n: s for n, s in surrounds.items() if mat_suits(piece, s.lab[0])}
        if not surrounds:
            continue
        dressed = [blend([piece, s], [1 - share, share]) for s in surrounds.values()]
        after = palette_distances(dressed, rest).mean(1)
        best = int(after.argmin())
        if before - after[best] >= least_gain:
            name = list(surrounds)[best]
            found.append(
                Remedy(
                    "mat" if kind == "mat" else "frame",
                    name,
                    before,
                    float(after[best]),
                    f"{_article(name)} {name} {kind} would bring {called[index]} "
                    f"{_how_much(before, float(after[best]))}closer to the rest.",
                )
            )
    found.sort(key=lambda r: r.after - r.before)
    neighbour = _neighbour(piece, [(called[j], palettes[j]) for j in others], called[index])
    return (*found, neighbour) if neighbour else tuple(found)


def _how_much(before: float, after: float) -> str:
    """Say how much closer something brings a piece, as a share of the way to the others."""
    share = (before - after) / before
    return "much " if share >= _MUCH_CLOSER else "" if share >= _CLOSER else "a little "


_MUCH_CLOSER, _CLOSER = 0.3, 0.1
"""Shares of the way: from the first it is called much closer, below the second a little. Ours."""


def mat_suits(piece: Palette, mat_lab: ArrayLike) -> bool:
    """Whether a framer would lay a mat of this colour round a picture.

    A pale mat of little colour suits any picture. Another takes up a colour that the picture has,
    and is not far from the picture in lightness: no black round a pale orchard. Common practice,
    no source.

    Parameters
    ----------
    piece
        Palette of the picture.
    mat_lab
        CIELAB of the mat.
    """
    mat = np.asarray(mat_lab, float)
    if mat[0] >= _PALE_LIGHTNESS and np.hypot(*mat[1:]) <= _PALE_CHROMA:
        return True
    taken_up = delta_e_2000(piece.lab, mat) <= _TAKEN_UP
    near = abs(mat[0] - float(piece.shares @ piece.lab[:, 0])) <= _LIGHTNESS_STEP
    return bool(near and piece.shares[taken_up].sum() >= _TAKEN_UP_SHARE)


_PALE_LIGHTNESS, _PALE_CHROMA = 80.0, 16.0
_TAKEN_UP, _TAKEN_UP_SHARE, _LIGHTNESS_STEP = 12.0, 0.05, 30.0


def shared_colour(
    palette_1: Palette, palette_2: Palette, least_chroma: float = 15.0, most: float = 12.0
) -> tuple[Swatch, Swatch, float] | None:
    """Find the coloured swatches that two palettes have in common; None where they have none.

    Both must be called by the same word.

    Parameters
    ----------
    palette_1, palette_2
        Of two pictures.
    least_chroma
        Of both swatches.
    most
        Greatest difference, CIEDE2000, of what is called in common.

    Returns
    -------
    A swatch of each and their difference: of all pairs that are near enough the one that is seen
    most, by share, strength and nearness.
    """
    pairs = [
        (a, b)
        for a in palette_1.swatches
        for b in palette_2.swatches
        if a.word == b.word
        and min(np.hypot(*a.lab[1:]), np.hypot(*b.lab[1:])) >= least_chroma
        and all(s.accent or s.share >= _SEEN_SHARE for s in (a, b))
    ]
    if not pairs:
        return None
    apart = delta_e_2000([a.lab for a, _ in pairs], [b.lab for _, b in pairs])
    seen = [min(s.share * np.hypot(*s.lab[1:]) for s in pair) for pair in pairs]
    weight = np.where(apart <= most, np.array(seen) * (1 - apart / (2 * most)), 0)
    best = int(weight.argmax())
    return (*pairs[best], float(apart[best])) if weight[best] > 0 else None


_SEEN_SHARE = 0.05
"""A colour that is no accent is told of a picture from this share. Ours."""


def _article(noun: str) -> str:
    return "An" if noun[0].lower() in "aeiou" else "A"


def _neighbour(piece: Palette, others: Sequence[tuple[str, Palette]], name: str) -> Remedy | None:
    """Find the other piece that shares a colour with this one, if any comes close enough."""
    shared = [
        (other, found)
        for other, palette in others
        if (found := shared_colour(piece, palette)) is not None
    ]
    if not shared:
        return None
    other, (mine, _, apart) = min(shared, key=lambda item: item[1][2])
    sentence = f"Hang {name} beside {other}: both have {mine.word}."
    return Remedy("neighbour", other, apart, apart, sentence)
