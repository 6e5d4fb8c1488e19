"""What is measured on the wall: every place from the same two datums, so that rounding never adds.

Each place is rounded once, from the floor and from the side. Two places are then off from each
other by one rounding step at most, however many pieces lie between; chained dimensions would add
up. Distances between neighbours are given to check by, not to measure from.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from visualiser.geometry import Rect
from visualiser.statistics import COVERAGE_95
from visualiser.survey.survey import Survey
from visualiser.units import Unit, format_both, format_length

Side = Literal["left", "right"]
_NO_SIDE = "side-from-reference"  # of the survey: no side was seen or clicked


@dataclass(frozen=True, slots=True)
class Measures:
    """The two datums of a job and how well the photo knows them.

    Parameters
    ----------
    side
        Side of the wall that is measured from.
    side_x_mm
        Where it lies, survey mm.
    across_half_width_mm, up_half_width_mm
        Largest 95 % half-width of the survey over the group, from the side and from the floor.
    floor_known
        Whether heights count from the finished floor.
    side_known
        Whether distances count from a real side of the wall, not from the sheet or the end of what
        the photo shows.
    """

    side: Side
    side_x_mm: float
    across_half_width_mm: float
    up_half_width_mm: float
    floor_known: bool
    side_known: bool = True

    @property
    def across_from(self) -> str:
        """What distances across are measured from, for people."""
        if self.side_known:
            return f"the {self.side} side"
        if self.side == "left":
            return "the middle of the sheet"
        return "the right end of the usable wall"

    def across(self, x_mm: float, unit: Unit) -> str:
        """Print how far a place is from the chosen side, and which way where that is not plain."""
        distance = self.from_side_mm(x_mm)
        text = format_length(abs(distance), unit)
        if text.startswith("0 "):
            return text
        if distance < 0:
            return f"{text} to its {'left' if self.side == 'left' else 'right'}"
        in_the_middle = not self.side_known and self.side == "left"  # of the reference
        return f"{text} to its right" if in_the_middle else text

    def across_in_words(self, x_mm: float) -> str:
        """Print a distance in both units with what it is measured from."""
        distance = self.from_side_mm(x_mm)
        away = "from"
        if distance < 0:
            away = "left of" if self.side == "left" else "right of"
        elif not self.side_known:
            away = "right of" if self.side == "left" else "left of"
        return f"{format_both(abs(distance))} {away} {self.across_from}"

    def from_side_mm(self, x_mm: float) -> float:
        """Distance of a place from the chosen side."""
        return x_mm - self.side_x_mm if self.side == "left" else self.side_x_mm - x_mm


def measures_of(survey: Survey, bounds: Rect, side: Side) -> Measures:
    """Choose the datums, and take the survey's ± over the group's corners and middle."""
    outline = survey.outline.bounds
    places = np.vstack([bounds.corners(), [bounds.centre_mm]])
    variance = np.diagonal(survey.covariance(places), axis1=1, axis2=2).max(axis=0)
    across, up = (COVERAGE_95 * math.sqrt(max(float(v), 0.0)) for v in variance)
    return Measures(
        side=side,
        # The survey counts x from its own datum, the left; the right is the end of what is usable.
        side_x_mm=0.0 if side == "left" else outline.right_mm,
        across_half_width_mm=across,
        up_half_width_mm=up,
        floor_known=survey.floor_known,
        # A photo that shows no corner of the wall counts from its reference; its right end is
        # where the photo ends.
        side_known=not any(f.code == _NO_SIDE for f in survey.findings)
        and (side == "left" or survey.plane is None),
    )


@dataclass(frozen=True, slots=True)
class TapeBorder:
    """Rectangle of tape round the whole group: its inside edges are the group's outside.

    Parameters
    ----------
    rect
        Inside of the tape, survey mm.
    """

    rect: Rect

    @property
    def diagonal_mm(self) -> float:
        """Both diagonals, when the border is square."""
        return math.hypot(self.rect.width_mm, self.rect.height_mm)

    @property
    def tape_mm(self) -> float:
        """Tape for its four sides, with a tenth to spare."""
        return 1.1 * 2 * (self.rect.width_mm + self.rect.height_mm)


def nearest_neighbour(piece_id: str, rects: dict[str, Rect]) -> tuple[str, str, float] | None:
    """Piece beside or above another that it is checked against.

    Returns
    -------
    The neighbour's id, where it lies (``left of``, ``right of``, ``above`` or ``below`` is this
    piece's place relative to it) and the clear gap in mm; None for a piece on its own.
    """
    own = rects[piece_id]
    found: list[tuple[float, str, str]] = []
    for other_id, other in rects.items():
        if other_id == piece_id:
            continue
        dx, dy = own.gap_to(other)
        if dx >= 0 > dy:
            found.append((dx, "right of" if own.x_mm > other.x_mm else "left of", other_id))
        elif dy >= 0 > dx:
            found.append((dy, "above" if own.y_mm > other.y_mm else "below", other_id))
    if not found:
        return None
    gap, place, other_id = min(found)
    return other_id, place, gap
