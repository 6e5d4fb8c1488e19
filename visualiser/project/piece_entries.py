"""A saved job's pieces, and the options of where they hang."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, model_validator

from visualiser.arrangement.arrangement import Placement
from visualiser.inventory.piece import (
    Artwork,
    ArtworkFit,
    Finish,
    Glazing,
    Hanger,
    Mat,
    Moulding,
    Piece,
)
from visualiser.project.entries import Colour, Entry, FileEntry, Id, Size, Text
from visualiser.rendering.wall_colour import RoomLight


class PieceEntry(Entry):
    """One framed work; the fields of ``Piece`` with the artwork as a file."""

    id: Id
    width_mm: Size
    height_mm: Size
    name: Text = ""
    moulding: Moulding | None = Moulding()
    mat: Mat | None = None
    glazing: Glazing = "clear"
    hanger: Hanger = Hanger()
    weight_kg: Annotated[float, Field(gt=0, le=1000)] | None = None
    weight_sigma_kg: Annotated[float, Field(ge=0, le=1000)] | None = None
    artwork: FileEntry | None = None
    depth_mm: Annotated[float, Field(ge=0, le=1000)] = 20.0
    artwork_fit: ArtworkFit = "cut"

    @model_validator(mode="after")
    def _possible(self) -> Self:
        self.piece()
        return self

    @classmethod
    def from_piece(cls, piece: Piece, artwork: FileEntry | None = None) -> Self:
        """Entry of a piece whose artwork is a file of the job."""
        values = {name: getattr(piece, name) for name in cls.model_fields if name != "artwork"}
        return cls(**values, artwork=artwork)

    def piece(self, artwork: Artwork | None = None) -> Piece:
        """Piece of this entry, with its artwork decoded already.

        Raises
        ------
        PieceError
            If its sizes contradict each other.
        """
        values = {name: value for name, value in self if name != "artwork"}
        return Piece(**values, artwork=artwork)


class OptionEntry(Entry):
    """One variant: where the pieces hang, and what is tried out with it."""

    id: Id
    name: Text = ""
    family: Text = "by hand"
    placements: tuple[Placement, ...] = ()
    finish: Finish | None = None
    wall_colour: Colour | None = None
    room_light: RoomLight = "as photographed"
