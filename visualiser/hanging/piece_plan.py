"""One piece of a plan: where its hooks go, what they carry, what holds them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from visualiser.geometry import Rect
from visualiser.hanging.fixings import Fixing, WallKind, choose_fixing
from visualiser.hanging.loads import HookLoad, hook_load
from visualiser.hanging.measures import nearest_neighbour
from visualiser.inventory.bearing import Bearing, PointMm, bearing
from visualiser.inventory.piece import Piece


@dataclass(frozen=True, slots=True, eq=False)
class PiecePlan:
    """Everything needed to hang one piece.

    Parameters
    ----------
    number
        Place in the order of hanging, from 1.
    piece, rect
        The piece and its outside rectangle, survey mm.
    bearing
        Where it bears, seen from its own top edge.
    hooks_mm
        Bearing points on the wall, survey mm, left first; none for strips.
    load, fixing
        What its hooks carry and what fixes them.
    neighbour
        Nearest of the pieces hung before: its id, where this piece lies to it, the clear gap, mm.
    """

    number: int
    piece: Piece
    rect: Rect
    bearing: Bearing
    hooks_mm: tuple[PointMm, ...]
    load: HookLoad
    fixing: Fixing
    neighbour: tuple[str, str, float] | None = None

    @property
    def name(self) -> str:
        """What people call it: its number in the order, and its title or id."""
        return f"{self.number} · {self.piece.called}"

    @property
    def name_and_mark(self) -> str:
        """The same with the id behind a title, so that paper and lists are found by either."""
        mark = "" if self.piece.called == self.piece.id else f" ({self.piece.id})"
        return f"{self.name}{mark}"

    def hook_names(self) -> tuple[str, ...]:
        """Name each hook by the piece's number, with L and R for two."""
        if len(self.hooks_mm) == 2:
            return (f"{self.number}L", f"{self.number}R")
        return (str(self.number),) * len(self.hooks_mm)


def plan_pieces(
    pieces: Mapping[str, Piece],
    rects: dict[str, Rect],
    centre_mm: PointMm,
    wall: WallKind,
    safety_factor: float,
    ratings_kg: Mapping[str, float],
) -> tuple[PiecePlan, ...]:
    """Plan each piece, in the order they are hung: from the group's middle outwards.

    Raises
    ------
    HangingError
        If a hanger does not fit its frame, or a rating means nothing.
    """

    def outwards(piece_id: str) -> tuple[float, float, float]:
        x, y = rects[piece_id].centre_mm
        return (x - centre_mm[0]) ** 2 + (y - centre_mm[1]) ** 2, -y, x

    planned: list[PiecePlan] = []
    hung: dict[str, Rect] = {}
    for number, piece_id in enumerate(sorted(rects, key=outwards), start=1):
        piece, rect = pieces[piece_id], rects[piece_id]
        hung[piece_id] = rect
        bears = bearing(piece)
        load = hook_load(piece, bears)
        planned.append(
            PiecePlan(
                number=number,
                piece=piece,
                rect=rect,
                bearing=bears,
                hooks_mm=bears.on_wall(rect),
                load=load,
                fixing=choose_fixing(load, wall, safety_factor, ratings_kg),
                neighbour=nearest_neighbour(piece_id, hung),
            )
        )
    return tuple(planned)


def ids_of(pieces: Iterable[PiecePlan]) -> tuple[str, ...]:
    """Return the ids of pieces, for a finding about them."""
    return tuple(plan.piece.id for plan in pieces)


def named(pieces: Sequence[PiecePlan]) -> str:
    """Begin a sentence on pieces with their names."""
    names = [plan.name for plan in pieces]
    return ("Piece " if len(names) == 1 else "Pieces ") + ", ".join(names)
