"""Paper rectangles cut from a roll, one per piece, with the least waste.

The pieces of paper are packed onto a strip as wide as the roll, as short as can be found: each is
laid as low, then as far left, as the skyline of those before it allows. The order and the turning
of the pieces decide the length; several sensible orders are tried and the best is improved by
exchanging and turning, always in the same sequence so that the same job gives the same cuts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from visualiser.errors import HangingError
from visualiser.geometry import Rect
from visualiser.wording import Length, sentence

_TRIES = 3000  # placements of one rectangle each, shared out among the orders tried
_LEAST_ORDERS = 60


@dataclass(frozen=True, slots=True)
class Cut:
    """One paper rectangle on the roll: x across it, y along it, mm; turned or upright."""

    piece_id: str
    rect: Rect
    turned: bool


@dataclass(frozen=True, slots=True)
class Cuts:
    """All paper rectangles of a job on one roll."""

    roll_width_mm: float
    length_mm: float
    cuts: tuple[Cut, ...]

    @property
    def waste(self) -> float:
        """Share of the paper unrolled that is thrown away."""
        used = sum(cut.rect.area_mm2 for cut in self.cuts)
        return 1 - used / (self.roll_width_mm * self.length_mm) if self.cuts else 0.0


def nest(
    sizes_mm: Mapping[str, tuple[float, float]],
    roll_width_mm: float,
    names: Mapping[str, str] | None = None,
) -> Cuts:
    """Lay paper rectangles on a roll.

    Parameters
    ----------
    sizes_mm
        Width and height of each piece, by its id.
    roll_width_mm
        Width of the roll.
    names
        What people call the pieces, by id.

    Raises
    ------
    HangingError
        If the roll is too narrow for a piece either way round.
    """
    ids = list(sizes_mm)
    if not 0 < roll_width_mm < math.inf:
        raise HangingError(
            sentence("The paper roll is ", Length(roll_width_mm, None), " wide."),
            hint="Give its width above 0.",
        )
    for piece_id, size in sizes_mm.items():
        if min(size) > roll_width_mm:
            raise HangingError(
                sentence(
                    f"Piece {(names or {}).get(piece_id, piece_id)} needs paper at least ",
                    Length(min(size)),
                    " wide, the roll has ",
                    Length(roll_width_mm),
                    ".",
                ),
                hint="Take a wider roll, or tape two widths together and say so as the width.",
            )
    if not ids:
        return Cuts(roll_width_mm, 0.0, ())
    sizes = [sizes_mm[i] for i in ids]
    order, turned = _best(sizes, roll_width_mm)
    spots, length = _lay(sizes, order, turned, roll_width_mm)
    cuts = []
    for index, piece_id in enumerate(ids):
        width, height = _turned(sizes[index], turned[index])
        cuts.append(Cut(piece_id, Rect(*spots[index], width, height), turned[index]))
    return Cuts(
        roll_width_mm, length, tuple(sorted(cuts, key=lambda c: (c.rect.y_mm, c.rect.x_mm)))
    )


def _turned(size: tuple[float, float], turn: bool) -> tuple[float, float]:
    return (size[1], size[0]) if turn else size


def _best(sizes: list[tuple[float, float]], roll: float) -> tuple[list[int], list[bool]]:
    """Best order and turning found."""
    count = len(sizes)
    least = max(
        math.fsum(w * h for w, h in sizes) / roll,
        max(min(s) if max(s) <= roll else max(s) for s in sizes),
    )
    keys = (
        lambda i: -max(sizes[i]),
        lambda i: -sizes[i][0] * sizes[i][1],
        lambda i: -min(sizes[i]),
        lambda i: -sum(sizes[i]),
    )
    lying = [s[0] > roll or s[0] < s[1] <= roll for s in sizes]  # longest side across the roll
    standing = [s[0] > s[1] or s[0] > roll for s in sizes]  # longest side along it
    best_length, best_order, best_turned = math.inf, list(range(count)), standing
    for key in keys:
        for turned in (lying, standing):
            order = sorted(range(count), key=key)
            length = _lay(sizes, order, turned, roll)[1]
            if length < best_length:
                best_length, best_order, best_turned = length, order, list(turned)
    rng = np.random.default_rng(0)
    for _ in range(max(_TRIES // count, _LEAST_ORDERS)):
        if best_length <= least * (1 + 1e-9):
            break
        order, turned = list(best_order), list(best_turned)
        for _ in range(1 + int(rng.integers(3))):
            i, j = (int(k) for k in rng.integers(count, size=2))
            order[i], order[j] = order[j], order[i]
            flipped = _turned(sizes[i], not turned[i])
            if rng.random() < 0.5 and flipped[0] <= roll:
                turned[i] = not turned[i]
        length = _lay(sizes, order, turned, roll)[1]
        if length <= best_length:  # a sideways step may open a better one
            best_length, best_order, best_turned = length, order, turned
    return best_order, best_turned


def _lay(
    sizes: list[tuple[float, float]], order: list[int], turned: list[bool], roll: float
) -> tuple[dict[int, tuple[float, float]], float]:
    """Lay rectangles one by one on the skyline: lowest, then leftmost."""
    skyline = [(0.0, 0.0, roll)]  # (x, y, width) of each step, left to right
    spots: dict[int, tuple[float, float]] = {}
    length = 0.0
    for index in order:
        width, height = _turned(sizes[index], turned[index])
        best: tuple[float, float] | None = None
        for start, (x, _, _) in enumerate(skyline):
            if x + width > roll + 1e-9:
                break
            y = 0.0
            for step_x, step_y, _ in skyline[start:]:
                if step_x >= x + width - 1e-9:
                    break
                y = max(y, step_y)
            if best is None or y < best[1] - 1e-9:
                best = (x, y)
        assert best is not None  # the roll is as wide as any rectangle, checked above
        spots[index] = best
        length = max(length, best[1] + height)
        skyline = _raised(skyline, best[0], width, best[1] + height)
    return spots, length


def _raised(
    skyline: list[tuple[float, float, float]], x: float, width: float, top: float
) -> list[tuple[float, float, float]]:
    end = x + width
    out: list[tuple[float, float, float]] = []
    done = False
    for step_x, step_y, step_width in skyline:
        step_end = step_x + step_width
        if step_end <= x + 1e-9 or step_x >= end - 1e-9:
            if step_x >= end - 1e-9 and not done:
                out.append((x, top, width))
                done = True
            out.append((step_x, step_y, step_width))
            continue
        if step_x < x - 1e-9:
            out.append((step_x, step_y, x - step_x))
        if not done:
            out.append((x, top, width))
            done = True
        if step_end > end + 1e-9:
            out.append((end, step_y, step_end - end))
    return out
