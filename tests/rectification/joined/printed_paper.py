"""Draw wallpaper whose motif comes again and again, as rolls of paper have it."""

from __future__ import annotations

import cv2
import numpy as np

from tests.rectification.joined.drawn_walls import TILE

WIDE = 6000
"""Columns, 2 mm each: 12 m of wall."""


def printed_paper(
    seed: int,
    across_mm: float,
    up_mm: float,
    *,
    drop: bool = False,
    own: float = 0.001,
    askew_mm: float = 0.5,
    notes_mm: tuple[tuple[float, float], ...] = (),
) -> np.ndarray:
    """Draw a wall of paper, `TILE` rows of 2 mm, that repeats after so many mm across and up.

    ``drop``: every other strip hangs lower by half a repeat. ``own``: grain that each place of the
    wall has by itself; ``askew_mm``: how far strips are hung off each other. ``notes_mm``: notes of
    100 mm, each unlike the others, that far from the lower left of the wall.
    """
    rng = np.random.default_rng(seed)
    base = np.array([214, 208, 196.0])
    wide, high = round(across_mm / 2), round(up_mm / 2)
    motif = np.full((high, wide, 3), base, np.float32)
    tones = [base * rng.uniform(0.6, 0.97) for _ in range(4)]
    for _ in range(max(wide * high // 900, 12)):  # what crosses the rim goes on beyond it
        at, size = rng.integers(0, [wide, high]), rng.integers(3, 22, 2)
        turn, tone = float(rng.uniform(0, 180)), tones[int(rng.integers(4))].tolist()
        for dx in (-wide, 0, wide):
            for dy in (-high, 0, high):
                middle = (int(at[0] + dx), int(at[1] + dy))
                cv2.ellipse(motif, middle, size.tolist(), turn, 0, 360, tone, -1, cv2.LINE_AA)
    strips = []
    for k in range(WIDE // wide + 2):
        down = (high / 2 if drop and k % 2 else 0) + rng.normal(0, askew_mm) / 2
        move = np.array([[1, 0, 0], [0, 1, -high + down]])
        strip = np.tile(motif, (TILE // high + 3, 1, 1))
        strips.append(cv2.warpAffine(strip, move, (wide, TILE), flags=cv2.INTER_LINEAR))
    paper = np.concatenate(strips, axis=1)[:, :WIDE]
    grain = rng.normal(0, 1, paper.shape[:2]).astype(np.float32)
    paper *= (1 + own * 3 * cv2.GaussianBlur(grain, (0, 0), 1.0))[..., None]
    for x, y in notes_mm:
        note = rng.uniform(30, 230, (10, 10, 3)).astype(np.float32)
        column, row = round(x / 2), round(y / 2)
        paper[row : row + 50, column : column + 50] = np.kron(note, np.ones((5, 5, 1), np.float32))
    return np.clip(paper, 0, 255).astype(np.uint8)
