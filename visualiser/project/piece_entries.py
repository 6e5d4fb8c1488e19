"""A saved job's pieces, and the options of where they hang."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from visualiser.arrangement.arrangement import Placement
from visualiser.findings import Finding
from visualiser.inventory.piece import (
    THICKEST_GLASS_MM,
    Artwork,
    ArtworkFit,
    Finish,
    Glazing,
    Hanger,
    Mat,
    Moulding,
    Piece,
    PieceKind,
)
from visualiser.inventory.piece_list import MOST_PIECES
from visualiser.project.entries import Colour, Entry, FileEntry, Id, Size, Text, checked_text
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
    kind: PieceKind = "picture"
    glazing_mm: Annotated[float, Field(gt=0, le=THICKEST_GLASS_MM)] | None = None

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


class AnswerEntry(Entry):
    """What a person says to the dangers of an option, and to which: to others it says nothing."""

    words: Annotated[Text, Field(min_length=1)]
    dangers: Annotated[tuple[Annotated[str, Field(max_length=1000)], ...], Field(max_length=200)]

    @classmethod
    def to(cls, found: Sequence[Finding], words: str) -> Self:
        """Answer in words for what was found."""
        return cls(words=words.strip(), dangers=tuple(finding.text for finding in found))


class OptionEntry(Entry):
    """One variant: where the pieces hang, and what is tried out with it."""

    id: Id
    name: Text = ""
    family: Text = "by hand"
    placements: Annotated[tuple[Placement, ...], Field(max_length=MOST_PIECES, fail_fast=True)] = ()
    kept: Annotated[tuple[Id, ...], Field(max_length=MOST_PIECES)] = ()
    """Pieces that stay where they are when others are arranged."""
    finish: Finish | None = None
    wall_colour: Colour | None = None
    room_light: RoomLight = "as photographed"
    answer: AnswerEntry | None = None
    remark: Annotated[str, Field(max_length=1000), AfterValidator(checked_text)] = ""

    def words_for(self, found: Sequence[Finding]) -> str:
        """Words that answer for all dangers found now; empty where one is new or has changed."""
        if self.answer is None or not {f.text for f in found} <= set(self.answer.dangers):
            return ""
        return self.answer.words
