"""Pieces with their places on the wall."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from visualiser.errors import ArrangementError
from visualiser.findings import Finding
from visualiser.geometry import Rect, bounding_rect
from visualiser.inventory.piece import Piece


@dataclass(frozen=True, slots=True)
class Placement:
    """Where one piece's centre hangs, in the survey's wall mm (y up from the datum)."""

    piece_id: str
    x_mm: float
    y_mm: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.x_mm) and math.isfinite(self.y_mm)):
            raise ArrangementError(
                f"The place of piece {self.piece_id} is not a number.",
                hint="Give its centre's distance from the side and height above the floor.",
            )


@dataclass(frozen=True, slots=True)
class ScoreTerm:
    """One reason why an arrangement scores as it does."""

    name: str
    value: float
    weight: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A complete proposal: the pieces, where each hangs, and how good it is held to be.

    ``placements`` may leave out pieces that were not used; every placement names a piece.
    """

    pieces: tuple[Piece, ...]
    placements: tuple[Placement, ...]
    family: str = "by hand"
    score: float = 0.0
    terms: tuple[ScoreTerm, ...] = ()
    findings: tuple[Finding, ...] = field(default=())
    name: str = ""

    def __post_init__(self) -> None:
        ids = [piece.id for piece in self.pieces]
        if doubled := {i for i in ids if ids.count(i) > 1}:
            raise ArrangementError(
                f"Two pieces share the id {sorted(doubled)[0]}.",
                hint="Give each piece an id of its own.",
            )
        placed = [placement.piece_id for placement in self.placements]
        if unknown := [i for i in placed if i not in ids]:
            raise ArrangementError(
                f"A place is given for {unknown[0]}, which is not among the pieces.",
                hint="Add the piece or take the place away.",
            )
        if twice := {i for i in placed if placed.count(i) > 1}:
            raise ArrangementError(
                f"Piece {sorted(twice)[0]} is placed twice.", hint="Keep one of its places."
            )

    def piece(self, piece_id: str) -> Piece:
        """Look up the piece of an id."""
        return next(piece for piece in self.pieces if piece.id == piece_id)

    def called(self, piece_id: str) -> str:
        """Tell what people call the piece of an id."""
        return self.piece(piece_id).called

    def rect(self, piece_id: str) -> Rect:
        """Outside rectangle of one placed piece, wall mm."""
        piece = self.piece(piece_id)
        place = next(p for p in self.placements if p.piece_id == piece_id)
        return Rect.from_centre(place.x_mm, place.y_mm, piece.width_mm, piece.height_mm)

    def rects(self) -> dict[str, Rect]:
        """Outside rectangle of every placed piece, by id, in placement order."""
        return {p.piece_id: self.rect(p.piece_id) for p in self.placements}

    @property
    def bounds(self) -> Rect:
        """Smallest rectangle around the whole group."""
        return bounding_rect(self.rects().values())
