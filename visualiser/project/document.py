"""The saved job: ``project.json``, its meaning and its checks.

One JSON object. Lengths are millimetres, points in the photo are ``[x, y]`` pixels of the upright
photo, places on the wall are ``[x, y]`` mm from the side datum and the floor. It holds only what
cannot be worked out again; what is left out takes the default given here.

::

    {
      "schema_version": 2,             the only key that must be there
      "revision": 12,                  counts saves; a save on top of a newer one is refused
      "name": "Stair hall",
      "units": "mm",                   shown to the person: mm, cm or in
      "wall": {"kind": "unknown",      what it is built of, for the hanging plan: no fixing is
                                       named until somebody says
               "width_mm": null,       typed size: for a job without a photo,
               "height_mm": null,      or to bound the usable wall
               "earthquakes": false,   whether to plan for them
               "ratings_kg": {}},      what the packets of fixings state: {"nail hook": 12}
      "photo": {"path": "photos/hall.jpg", "sha256": "…"},        null for a typed wall
      "as_hung_photo": null,           the same, once the pieces hang
      "marks": {
        "reference": {"kind": "a4",    what of known size is taped up; "custom" with its size,
                                       "marker" with the side of its black square as width_mm
                      "width_mm": null, "height_mm": null, "size_sigma_mm": null,
                      "corners_px": null,                four corners, where a person set them
                      "as_set": false,                   look for no edges between them
                      "bar_mm": null},                   what a target's bar of 100 mm measures
        "lines": [{"start_px": [x, y], "end_px": [x, y], "direction": "plumb"}],
        "rejected_lines": [],          names of room lines found that are not to be used
        "find_lines": true,            whether to look for room lines at all
        "taped": [{"start_px": [x, y], "end_px": [x, y], "length_mm": 838, "name": "door"}],
        "reference_height_mm": null,   height of the reference's lower edge above the floor
        "floor_px": [],                points where the wall meets the floor
        "studs_mm": [],                where studs were found, mm from the side
        "stud_spacing_mm": null,       between their centres, where known
        "side_px": null,               a point on the side that is measured from
        "outline_px": null,            corners of the usable wall
        "zones": [{"kind": "switch", "name": "", "points_px": […]}],      or "points_mm"
        "furniture": [{"kind": "sofa", "name": "", "points_px": […]}],    or "points_mm"
        "nothing_before_wall": false,  whether somebody has said that no furniture stands there
        "in_front": [{"name": "plant",           what stays in front of the pieces:
                      "outline_px": […],         drawn round it, a little too large
                      "inside_px": [[…], …],     strokes over what surely belongs to it
                      "outside_px": [[…], …],    strokes over what surely does not
                      "exact": false}],          take the outline as it is
        "painted_out": [{"name": "nail", "outline_px": […]}],   what is not to be seen
        "wall_taps": [{"at_px": [x, y], "wall": true}],    whose region is wall, or is not
        "light": null,                 or {"side": "left", "height": "level", "edges": "soft"}:
                                       where the light comes from, if the photo does not show
        "lens": null,                  or {"camera": "…", "photos": 8, "focal_px": 2900, …}: what
                                       photos of the target told of the lens; "used": false: not
        "joined": null                 or {"photos": [{"path": …}, …], "focal_px": 3000, …}: the
      },                               photos that ``photo`` was joined from, and what they measured
      "pieces": [{"id": "p1", "name": "", "width_mm": 500, "height_mm": 700,
                  "moulding": {…} or null, "mat": {…} or null, "glazing": "clear",
                  "hanger": {…}, "weight_kg": null, "depth_mm": 20,
                  "kind": "picture",             or "mirror"
                  "glazing_mm": null,            thickness of the glass, where known
                  "artwork_fit": "cut",          or "whole", with blank paper at two sides
                  "artwork": {"path": "artworks/heron.png", "sha256": "…"}}],
      "guidelines": {"gap_mm": 57, …},
      "options": [{"id": "a", "name": "", "family": "by hand", "finish": null,
                   "wall_colour": null, "room_light": "as photographed", "remark": "",
                   "placements": [{"piece_id": "p1", "x_mm": 1200, "y_mm": 1524}],
                   "kept": [],         pieces that stay where they are
                   "answer": null}],   what the person says to its dangers, printed on its papers
      "hooks_up_mm": [],               places of hooks that are in the wall by now
      "chosen": "a",                   the option the client approved or the person works on
      "history": {"back": [10, 11],    revisions to go back to by undoing, the last one first at the
                  "forth": [],         end, and forth to by redoing; see ``revisions/``
                  "applied": {"4f0c…": 7}}       the last command of each page that is in this state
    }

A file's ``sha256`` may be left empty in a hand-written job; once there, it must agree.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, is_dataclass
from string import ascii_lowercase
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, Field, ValidationError, model_validator

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import ProjectError, VisualiserError
from visualiser.inventory.piece_list import MOST_PIECES
from visualiser.project.entries import Entry, FileEntry, Id, Point, Text
from visualiser.project.history import HistoryEntry
from visualiser.project.lens_entry import LensEntry
from visualiser.project.piece_entries import OptionEntry, PieceEntry
from visualiser.project.reading import read_content, unreadable
from visualiser.project.wall_entries import (
    FurnitureEntry,
    InFrontEntry,
    MarksEntry,
    PaintedOutEntry,
    ReferenceEntry,
    WallEntry,
    ZoneEntry,
)

__all__ = [  # all that a program needs that writes jobs
    "Document",
    "FileEntry",
    "FurnitureEntry",
    "HistoryEntry",
    "InFrontEntry",
    "LensEntry",
    "MarksEntry",
    "OptionEntry",
    "PaintedOutEntry",
    "PieceEntry",
    "ReferenceEntry",
    "WallEntry",
    "ZoneEntry",
    "read_document",
    "write_document",
]

Units = Literal["mm", "cm", "in"]
MOST_HOOKS_UP = 500
"""Hooks in the wall that a job can hold."""
MOST_REVISIONS = 999_999_999
"""One save a second for 30 years; the number stands in a file's name."""


class Document(Entry):
    """The whole saved job."""

    schema_version: Literal[2] = 2
    revision: Annotated[int, Field(ge=0, le=MOST_REVISIONS)] = 0
    name: Text = ""
    units: Units = "mm"
    wall: WallEntry = WallEntry()
    photo: FileEntry | None = None
    as_hung_photo: FileEntry | None = None
    marks: MarksEntry = MarksEntry()
    pieces: Annotated[tuple[PieceEntry, ...], Field(max_length=MOST_PIECES, fail_fast=True)] = ()
    guidelines: Guidelines = Guidelines()
    options: Annotated[tuple[OptionEntry, ...], Field(max_length=100, fail_fast=True)] = ()
    hooks_up_mm: Annotated[tuple[Point, ...], Field(max_length=MOST_HOOKS_UP)] = ()
    chosen: Id | None = None
    history: HistoryEntry = HistoryEntry()

    @model_validator(mode="after")
    def _consistent(self) -> Self:
        pieces = _unique("pieces", [piece.id for piece in self.pieces])
        options = _unique("options", [option.id for option in self.options])
        for option in self.options:
            placed = [placement.piece_id for placement in option.placements]
            _unique(f"places of option {option.id}", placed)
            if unknown := [i for i in placed if i not in pieces]:
                raise ValueError(
                    f"option {option.id} places {unknown[0]}, which is not among the pieces"
                )
        if self.chosen is not None and self.chosen not in options:
            raise ValueError(f"the chosen option {self.chosen} is not among the options")
        return self

    def changed(self, **values: Any) -> Document:
        """Copy with some values changed, checked anew.

        Raises
        ------
        ProjectError
            If the result would not be a valid job.
        """
        return _validated({**dict(self), **values}, _does_not_fit)

    @property
    def pictures(self) -> tuple[FileEntry, ...]:
        """Every picture that the job names."""
        joined = self.marks.joined.photos if self.marks.joined is not None else ()
        artworks = (piece.artwork for piece in self.pieces)
        named = (self.photo, *joined, self.as_hung_photo, *artworks)
        return tuple(entry for entry in named if entry is not None)

    def replacing(self, *entries: OptionEntry | PieceEntry) -> Document:
        """Copy with options and pieces in the place of those of the same ids, checked anew.

        Raises
        ------
        ProjectError
            If the result would not be a valid job.
        """
        options = {entry.id: entry for entry in entries if isinstance(entry, OptionEntry)}
        pieces = {entry.id: entry for entry in entries if isinstance(entry, PieceEntry)}
        return self.changed(
            options=tuple(options.get(option.id, option) for option in self.options),
            pieces=tuple(pieces.get(piece.id, piece) for piece in self.pieces),
        )

    def with_option(self, arrangement: Arrangement) -> tuple[Document, str]:
        """Copy with an arrangement as a further option, and that option's letter.

        Raises
        ------
        ProjectError
            If every letter is taken, or a piece of it is not among the job's.
        """
        return self.with_placements(
            arrangement.placements, name=arrangement.name, family=arrangement.family
        )

    def with_placements(
        self, placements: tuple[Placement, ...], *, name: str, family: str
    ) -> tuple[Document, str]:
        """Copy with places of pieces as a further option, and that option's letter.

        Raises
        ------
        ProjectError
            If every letter is taken, or a piece of it is not among the job's.
        """
        used = {option.id for option in self.options}
        free = next((letter for letter in ascii_lowercase if letter not in used), None)
        if free is None:
            raise ProjectError(
                f"This job holds {len(ascii_lowercase)} options already.",
                hint="Remove one that is no longer needed.",
            )
        option = OptionEntry(id=free, name=name, family=family, placements=placements)
        return self.changed(options=(*self.options, option)), free

    def option(self, option_id: str | None = None) -> OptionEntry:
        """Find the option of an id; the chosen one, or the only one, when none is given.

        Raises
        ------
        ProjectError
            If there is no such option.
        """
        wanted = option_id or self.chosen
        if wanted is None and self.options:
            return self.options[0]
        for option in self.options:
            if option.id == wanted:
                return option
        known = ", ".join(option.id for option in self.options)
        raise ProjectError(
            f"This job has no option {wanted}." if wanted else "This job has no arrangement yet.",
            hint=f"Choose one of {known}." if known else "Propose one first, or place the pieces.",
        )


def read_document(data: bytes) -> Document:
    """Read and check a saved job.

    Parameters
    ----------
    data
        Content of ``project.json``.

    Raises
    ------
    ProjectError
        If it is not JSON, not a job, of a newer version, or contradicts itself.
    """
    return _validated(read_content(data), unreadable)


def write_document(document: Document) -> bytes:
    """Turn a job into the bytes of ``project.json``, having checked that they read back the same.

    Raises
    ------
    ProjectError
        If the job would not be readable again.
    """
    content = _plain(document)
    try:
        data = json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False).encode()
    except ValueError as error:
        raise unreadable("a number is not finite, or a text cannot be written") from error
    read_document(data)
    return data


def _plain(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return {name: _plain(item) for name, item in value}
    if is_dataclass(value) and not isinstance(value, type):
        return _plain(asdict(value))
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, frozenset | set):
        return sorted(value)
    return value


def _does_not_fit(what: str) -> ProjectError:
    return ProjectError(
        f"This change does not fit the job as it is by now: {what}.",
        hint="See what has changed in the job meanwhile, and make it again if it is still wanted.",
    )


def _validated(content: dict[str, Any], refused: Callable[[str], ProjectError]) -> Document:
    try:
        return Document.model_validate(content)
    except ProjectError:
        raise
    except VisualiserError as error:
        raise refused(error.message.rstrip(".")) from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = " ".join(
            f"number {step + 1}" if isinstance(step, int) else step for step in first["loc"]
        )
        what = first["msg"].removeprefix("Value error, ")
        raise refused(f"{where}: {what[:1].lower()}{what[1:]}" if where else what) from error


def _unique(what: str, ids: list[str]) -> set[str]:
    seen: set[str] = set()
    for item in ids:
        if item in seen:
            raise ValueError(f"two {what} share the id {item}")
        seen.add(item)
    return seen
