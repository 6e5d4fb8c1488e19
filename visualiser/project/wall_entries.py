"""What a saved job holds of its wall: how it is built, and what a person marked on its photo."""

from __future__ import annotations

from typing import Annotated, Any, Self

import numpy as np
from pydantic import Field, model_validator

from visualiser.project.entries import Entry, Number, Point, Size, Text
from visualiser.project.joined_entry import JoinedEntry
from visualiser.project.lens_entry import LensEntry
from visualiser.rectification.camera.lens_profile import LensProfile
from visualiser.rectification.marks import DrawnLine, Marks, TapedLength
from visualiser.rendering.foreground import Foreground
from visualiser.rendering.wall_mask import WallTap
from visualiser.survey.light_choice import LightChoice
from visualiser.survey.studs import CLOSEST_MM, Studs
from visualiser.survey.survey import FurnitureKind, ZoneKind

Rating = Annotated[float, Field(gt=0, le=1000)]
"""Kilograms that a fixing's packet states for one of it."""


class WallEntry(Entry):
    """What the wall is built of, its typed size, whether it may shake, and what holds in it."""

    kind: Annotated[str, Field(pattern=r"^[a-z][a-z0-9 -]{0,39}$")] = "unknown"
    width_mm: Size | None = None
    height_mm: Size | None = None
    earthquakes: bool = False
    ratings_kg: Annotated[dict[Text, Rating], Field(max_length=30)] = Field(default={})


class ReferenceEntry(Entry):
    """What of known size is taped to the wall."""

    kind: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")] = "a4"
    width_mm: Size | None = None
    height_mm: Size | None = None
    size_sigma_mm: Annotated[float, Field(ge=0, le=50)] | None = None
    corners_px: tuple[Point, Point, Point, Point] | None = None
    as_set: bool = False
    bar_mm: Annotated[float, Field(ge=80, le=120)] | None = None

    @model_validator(mode="after")
    def _sized(self) -> Self:
        if self.kind == "custom" and not (self.width_mm and self.height_mm):
            raise ValueError("a reference of kind custom needs its width_mm and height_mm")
        if self.kind == "marker" and not self.width_mm:
            raise ValueError("a reference of kind marker needs its width_mm")
        return self


class _Outlined(Entry):
    name: Text = ""
    points_px: (
        Annotated[tuple[Point, ...], Field(min_length=3, max_length=100, fail_fast=True)] | None
    ) = None
    points_mm: (
        Annotated[tuple[Point, ...], Field(min_length=3, max_length=100, fail_fast=True)] | None
    ) = None

    @model_validator(mode="after")
    def _outlined_once(self) -> Self:
        if (self.points_px is None) == (self.points_mm is None):
            raise ValueError("exactly one of points_px and points_mm must be given")
        return self


class ZoneEntry(_Outlined):
    """Part of the wall to keep clear."""

    kind: ZoneKind = "other"


class FurnitureEntry(_Outlined):
    """Something standing before the wall."""

    kind: FurnitureKind = "other"

    @classmethod
    def called(cls, kind: str, **where: Any) -> FurnitureEntry:
        """Make an entry of a kind; what is of none that is listed gets a name that people read.

        Raises
        ------
        ValueError
            If the kind is not one of furniture, or the outline not one.
        """
        name = "furniture" if kind == "other" else ""
        return cls.model_validate({"kind": kind, "name": name, **where})


Outline = Annotated[tuple[Point, ...], Field(min_length=3, max_length=500, fail_fast=True)]
Stroke = Annotated[tuple[Point, ...], Field(min_length=1, max_length=500, fail_fast=True)]
Strokes = Annotated[tuple[Stroke, ...], Field(max_length=100, fail_fast=True)]


class InFrontEntry(Entry):
    """Something before the wall that stays in front of the pieces, as outlined in the photo."""

    name: Text = ""
    outline_px: Outline
    inside_px: Strokes = ()
    outside_px: Strokes = ()
    exact: bool = False

    def foreground(self) -> Foreground:
        """Mark to draw with."""
        inside, outside = (
            tuple(np.array(stroke, float) for stroke in strokes)
            for strokes in (self.inside_px, self.outside_px)
        )
        return Foreground(np.array(self.outline_px, float), inside, outside, self.exact)


class PaintedOutEntry(Entry):
    """Something on the wall that is painted out: an old picture, a nail."""

    name: Text = ""
    outline_px: Outline


class WallTapEntry(Entry):
    """Spot of the photo whose region is wall, or is not."""

    at_px: Point
    wall: bool = True

    def tap(self) -> WallTap:
        """Mark to draw with."""
        return WallTap(*self.at_px, self.wall)


DRAWN_WITH = frozenset({"in_front", "painted_out", "wall_taps", "light"})
"""Marks that change how the wall is drawn, and nothing that is measured of it."""
KEPT_CLEAR = frozenset({"zones", "furniture", "nothing_before_wall"})
"""Marks of what stands or is fixed on the wall: added to a survey, which needs no measuring."""
STUDDED = frozenset({"studs_mm", "stud_spacing_mm"})
NOT_MEASURED_WITH = DRAWN_WITH | KEPT_CLEAR | STUDDED
"""Marks that may change without the wall being measured anew."""


class MarksEntry(Entry):
    """What a person pointed out or measured."""

    reference: ReferenceEntry = ReferenceEntry()
    lines: Annotated[tuple[DrawnLine, ...], Field(max_length=100, fail_fast=True)] = ()
    rejected_lines: Annotated[tuple[Text, ...], Field(max_length=500, fail_fast=True)] = ()
    find_lines: bool = True
    taped: Annotated[tuple[TapedLength, ...], Field(max_length=100, fail_fast=True)] = ()
    reference_height_mm: Annotated[float, Field(ge=-10_000, le=10_000)] | None = None
    floor_px: Annotated[tuple[Point, ...], Field(max_length=10, fail_fast=True)] = ()
    side_px: Point | None = None
    outline_px: (
        Annotated[tuple[Point, ...], Field(min_length=3, max_length=100, fail_fast=True)] | None
    ) = None
    studs_mm: Annotated[tuple[Number, ...], Field(max_length=50, fail_fast=True)] = ()
    stud_spacing_mm: Annotated[float, Field(ge=CLOSEST_MM, lt=2000)] | None = None
    zones: Annotated[tuple[ZoneEntry, ...], Field(max_length=100, fail_fast=True)] = ()
    furniture: Annotated[tuple[FurnitureEntry, ...], Field(max_length=100, fail_fast=True)] = ()
    nothing_before_wall: bool = False
    """Whether somebody has said that no furniture stands before the wall."""
    in_front: Annotated[tuple[InFrontEntry, ...], Field(max_length=50, fail_fast=True)] = ()
    painted_out: Annotated[tuple[PaintedOutEntry, ...], Field(max_length=100, fail_fast=True)] = ()
    wall_taps: Annotated[tuple[WallTapEntry, ...], Field(max_length=100, fail_fast=True)] = ()
    light: LightChoice | None = None
    lens: LensEntry | None = None
    joined: JoinedEntry | None = None

    def marks(self) -> Marks:
        """Gather the marks that the wall is measured with."""
        return Marks(
            lines=self.lines,
            taped=self.taped,
            floor_px=self.floor_px,
            reference_height_mm=self.reference_height_mm,
            rejected_lines=self.rejected_lines,
            find_lines=self.find_lines,
        )

    def studs(self) -> Studs:
        """Gather the studs that were found behind the wall's board."""
        return Studs(self.studs_mm, self.stud_spacing_mm)

    def lens_profile(self) -> LensProfile | None:
        """Profile that the wall is measured with, where the photo matches it."""
        return self.lens.profile() if self.lens is not None and self.lens.used else None
