"""Pieces of one size exchanged, so that colours and visual weight spread over the group."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.measures import PLAIN, Frame
from visualiser.arrangement.scoring import WEIGHTS, score_layouts
from visualiser.arrangement.setting import Centres, Setting
from visualiser.inventory.piece import Piece

SAME_MM = 1.0
MOST_ROUNDS = 40


def spread(
    centres: Centres,
    setting: Setting,
    weights: Mapping[str, float] = WEIGHTS,
    frame: Frame = PLAIN,
) -> Centres:
    """Make the best exchange of two equal sizes again and again, until none improves the score.

    Parameters
    ----------
    centres
        (N, 2) a layout; the places stay, only who hangs in them changes.
    setting, weights, frame
        What it is scored by.
    """
    pairs = [
        (i, j)
        for i, j in combinations(range(setting.count), 2)
        if np.abs(setting.sizes[i] - setting.sizes[j]).max() <= SAME_MM
    ]
    if not pairs:
        return centres
    now = float(score_layouts(centres[None], setting, weights, frame).total[0])
    for _ in range(MOST_ROUNDS):
        tries = np.repeat(centres[None], len(pairs), axis=0)
        for row, (i, j) in zip(tries, pairs, strict=True):
            row[[i, j]] = row[[j, i]]
        totals = score_layouts(tries, setting, weights, frame).total
        best = int(np.argmax(totals))
        if totals[best] <= now + 1e-9:
            break
        centres, now = tries[best], float(totals[best])
    return centres


def piece_colours(pieces: Sequence[Piece]) -> dict[str, NDArray[np.float64]]:
    """Mean CIELAB colour of each piece's artwork, by id; pieces without one are left out."""
    from visualiser.colour.colorimetry import srgb_to_lab

    out = {}
    for piece in pieces:
        if piece.artwork is None:
            continue
        pixels = piece.artwork.pixels
        step = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / 4000)))
        lab = np.asarray(srgb_to_lab(pixels[::step, ::step])).reshape(-1, 3)
        out[piece.id] = lab.mean(axis=0)
    return out
