"""One framed work: its sizes, what it is made of, and how it hangs."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from visualiser.errors import PieceError
from visualiser.inventory.hanger import Hanger as Hanger
from visualiser.wording import Length, Lengths, sentence

Finish = Literal["oak", "walnut", "black", "white", "brass", "silver", "natural", "custom"]
FINISHES: tuple[Finish, ...] = ("oak", "walnut", "black", "white", "brass", "silver", "natural")
"""Finishes to choose from; a custom one has a colour of its own."""
Profile = Literal["flat", "bevelled", "rounded"]
Glazing = Literal["none", "clear", "matt"]
ArtworkFit = Literal["cut", "whole"]
PieceKind = Literal["picture", "mirror"]
THICKEST_GLASS_MM = 25.0
"""More than this is no picture's or mirror's pane: common practice, no source."""
_LONGEST_NAME = 40  # characters of a title in a sentence or a cell


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Artwork:
    """The picture itself, squared up: what is seen of it, edge to edge.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB; set read-only.
    name
        What it is called.
    digest
        SHA-256 of its file; empty when it never was one.
    """

    pixels: NDArray[np.uint8]
    name: str = ""
    digest: str = ""

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or self.pixels.dtype != np.uint8:
            raise ValueError(
                f"expected (H, W, 3) uint8 pixels, got {self.pixels.shape} {self.pixels.dtype}"
            )
        self.pixels.flags.writeable = False

    @property
    def aspect(self) -> float:
        """Width over height."""
        return float(self.pixels.shape[1] / self.pixels.shape[0])


@dataclass(frozen=True, slots=True)
class Mat:
    """Window mat: its visible border on each side, and how far it overlaps the print."""

    top_mm: float
    sides_mm: float
    bottom_mm: float
    overlap_mm: float = 3.0
    colour: str = "#f4f1ea"

    def __post_init__(self) -> None:
        for name in ("top_mm", "sides_mm", "bottom_mm", "overlap_mm"):
            if not 0 <= (value := getattr(self, name)) < math.inf:
                raise PieceError(
                    sentence(f"The mat's {name.removesuffix('_mm')} is ", Length(value, None), "."),
                    hint="Give a width of 0 or more.",
                )


@dataclass(frozen=True, slots=True)
class Moulding:
    """The frame's rail: face width, depth from the wall, finish and profile."""

    width_mm: float = 20.0
    depth_mm: float = 25.0
    finish: Finish = "oak"
    profile: Profile = "flat"
    colour: str = ""
    rebate_mm: float = 6.0

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, float | int) and not 0 <= value < math.inf:
                raise PieceError(
                    sentence(
                        f"The moulding's {item.name.removesuffix('_mm')} is ",
                        Length(value, None),
                        ".",
                    ),
                    hint="Give a width of 0 or more.",
                )


@dataclass(frozen=True, slots=True)
class Piece:
    """One framed work. ``width_mm`` and ``height_mm`` are outside sizes of what hangs.

    Parameters
    ----------
    id
        Short unique name within a job, as written on the paper template.
    width_mm, height_mm
        Outside size.
    name
        Title for people; the id when empty.
    moulding
        The frame; None for a canvas without one.
    mat
        Window mat; None without.
    glazing
        None, clear or matt.
    hanger
        How it hangs.
    weight_kg, weight_sigma_kg
        Weighed, when known; estimated from sizes and materials otherwise.
    artwork
        The picture; None is drawn as a plain print with the piece's name.
    depth_mm
        How far an unframed canvas stands off the wall.
    artwork_fit
        Where the picture has not its window's shape: cut at two sides to fill it, or shown whole
        with blank paper at two sides.
    kind
        A picture, or a mirror: its glass is thicker, and it has no picture.
    glazing_mm
        Thickness of the glass; where None, the upper usual case counts for what may be carried.
    """

    id: str
    width_mm: float
    height_mm: float
    name: str = ""
    moulding: Moulding | None = field(default_factory=Moulding)
    mat: Mat | None = None
    glazing: Glazing = "clear"
    hanger: Hanger = field(default_factory=Hanger)
    weight_kg: float | None = None
    weight_sigma_kg: float | None = None
    artwork: Artwork | None = None
    depth_mm: float = 20.0
    artwork_fit: ArtworkFit = "cut"
    kind: PieceKind = "picture"
    glazing_mm: float | None = None

    def __post_init__(self) -> None:
        if not self.id.strip():
            raise PieceError("A piece has no id.", hint="Give each piece a short name of its own.")
        if not (0 < self.width_mm < math.inf and 0 < self.height_mm < math.inf):
            raise PieceError(
                sentence(
                    f"Piece {self.called} is ",
                    Lengths((self.width_mm, self.height_mm), " x ", None),
                    ".",
                ),
                hint="Give its outside width and height, both above 0.",
            )
        if self.glazing_mm is not None and not 0 < self.glazing_mm <= THICKEST_GLASS_MM:
            raise PieceError(
                sentence(
                    f"The glass of {self.called} is ", Length(self.glazing_mm, None), " thick."
                ),
                hint="Give the thickness of the pane itself, usually 2 to 6 mm.",
            )
        window_w, window_h = self.window_mm
        if window_w <= 0 or window_h <= 0:
            raise PieceError(
                sentence(
                    f"Piece {self.called}: moulding and mat leave no window in ",
                    Lengths((self.width_mm, self.height_mm), " x ", None),
                    ".",
                ),
                hint="Make the mat or the moulding narrower, or the frame larger.",
            )

    @property
    def called(self) -> str:
        """What a sentence or a drawing calls it: its title, cut to be read at a glance, or its id.

        Examples
        --------
        >>> Piece("p1", 400, 500, name="Heron at dusk").called, Piece("p2", 400, 500).called
        ('Heron at dusk', 'p2')
        """
        name = self.name.strip()
        if len(name) > _LONGEST_NAME:
            name = f"{name[: _LONGEST_NAME - 1].rstrip()}…"
        return name or self.id

    @property
    def window_mm(self) -> tuple[float, float]:
        """Width and height of the picture that is seen, inside moulding and mat."""
        rail = self.moulding.width_mm if self.moulding else 0.0
        width, height = self.width_mm - 2 * rail, self.height_mm - 2 * rail
        if self.mat:
            width -= 2 * self.mat.sides_mm
            height -= self.mat.top_mm + self.mat.bottom_mm
        return width, height

    @property
    def has_glass(self) -> bool:
        """Whether a pane of glass (or what counts as it) hangs with it."""
        return self.kind == "mirror" or (self.glazing != "none" and self.moulding is not None)

    @property
    def stand_off_mm(self) -> float:
        """How far its front stands off the wall."""
        return self.moulding.depth_mm if self.moulding else self.depth_mm
