"""Why nothing can be proposed, by how much it fails, and which pieces to leave out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np

from visualiser.arrangement.families.family import Layout
from visualiser.arrangement.families.salons import fitted_apart
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.setting import Setting, describe
from visualiser.errors import ArrangementError
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.wording import Length, Lengths, sentence

FEW = 8
"""Sets up to this size are tried without any two of their pieces."""


def refusal(
    setting: Setting,
    survey: Survey,
    guidelines: Guidelines,
    families: Sequence[str],
    layouts: Sequence[Layout],
) -> ArrangementError:
    """Say why a set cannot be hung.

    Parameters
    ----------
    setting
        The set and the wall.
    survey, guidelines
        To try fewer pieces.
    families
        Names of the families that were asked for; empty where any would do.
    layouts
        What those families offered and no free wall was found for.
    """
    if not families:
        drop = to_leave_out(setting.pieces, survey, guidelines)
        leave = f"Leave out {', '.join(drop)}: the others can hang; or " if drop else ""
        hint = f"{leave}choose smaller sizes, or ask for fewer clearances."
        if setting.count == 1:
            refused = f"{setting.pieces[0].called} finds no place that keeps the hard rules"
        else:
            refused = (
                f"No arrangement of all {setting.count} pieces was found that keeps the hard rules "
                "on this wall: they find no room beside each other"
            )
        return ArrangementError(
            sentence(
                f"{refused} in the ",
                Lengths((setting.space.whole.width_mm, setting.space.whole.height_mm)),
                " that are left of it, less what is to stay clear."
                if setting.count > 1
                else " that are left of this wall, less what is to stay clear.",
            ),
            hint=hint[0].upper() + hint[1:],
        )
    return ArrangementError(
        sentence(
            f"No {' or '.join(families)} of all {setting.count} pieces keeps the hard rules on "
            "this wall",
            _lack(setting, layouts),
            ".",
        ),
        hint="Let other families be tried, leave pieces out, or choose smaller sizes.",
    )


def _lack(setting: Setting, layouts: Sequence[Layout]) -> str:
    """Words for how much larger than the wall the layout is that comes nearest to fitting."""
    if not layouts:
        return ""
    boxes = setting.boxes(np.stack([layout.centres for layout in layouts]))
    size = boxes[..., 2:].max(axis=1) - boxes[..., :2].min(axis=1)
    free, above = setting.space.whole, setting.space.bounds
    lack = size - (free.width_mm, free.height_mm)
    if (lack <= 0).all(axis=1).any():
        # The wall would take it, but not above the lowest edge.
        lack = size - (above.width_mm, above.height_mm)
    nearest = int(np.argmin(lack.max(axis=1)))
    axis = int(np.argmax(lack[nearest]))
    if lack[nearest, axis] <= 0:
        return ": what is to stay clear leaves no place for it in one piece"
    word = ("wide", "tall")[axis]
    return sentence(": it is ", Length(lack[nearest, axis]), f" too {word} for the free wall")


def to_leave_out(
    pieces: Sequence[Piece], survey: Survey, guidelines: Guidelines
) -> tuple[str, ...]:
    """Give ids of the fewest pieces found without which the others can hang; empty: none were."""
    for out in _choices(pieces):
        rest = [piece for piece in pieces if piece not in out]
        try:
            setting = describe(rest, survey, guidelines)
        except ArrangementError:
            continue
        if next(fitted_apart(setting, np.random.default_rng(0), lots=0), None) is not None:
            return tuple(piece.id for piece in out)
    return ()


def _choices(pieces: Sequence[Piece]) -> Iterator[tuple[Piece, ...]]:
    """One piece left out, of a small set two, the smallest area first; then the largest so many."""
    by_area = sorted(pieces, key=lambda p: (p.width_mm * p.height_mm, p.id))
    for many in range(1, len(pieces)):
        if many == 1 or (many == 2 and len(pieces) <= FEW):
            yield from combinations(by_area, many)
        else:
            yield tuple(by_area[-many:])
