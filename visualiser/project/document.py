"""The saved job: ``project.json``, its meaning and its checks.

One JSON object. Lengths are millimetres, points in the photo are ``[x, y]`` pixels of the upright
photo, places on the wall are ``[x, y]`` mm from the side datum and the floor. It holds only what
cannot be worked out again; what is left out takes the default given here.

::

    {
      "schema_version": 1,             the only key that must be there
      "revision": 12,                  counts saves; a save on top of a newer one is refused
      "name": "Stair hall",
      "units": "mm",                   shown to the person: mm, cm or in
      "wall": {"kind": "plasterboard", what it is built of, for the hanging plan
               "width_mm": null,       typed size: for a job without a photo,
               "height_mm": null},     or to bound the usable wall
      "photo": {"path": "photos/hall.jpg", "sha256": "…"},        null for a typed wall
      "as_hung_photo": null,           the same, once the pieces hang
      "marks": {
        "reference": {"kind": "a4",    what of known size is taped up; "custom" with its size
                      "width_mm": null, "height_mm": null, "size_sigma_mm": null,
                      "corners_px": null,                four corners, where a person set them
                      "as_set": false},                  look for no edges between them
        "lines": [{"start_px": [x, y], "end_px": [x, y], "direction": "plumb"}],
        "rejected_lines": [],          names of room lines found that are not to be used
        "find_lines": true,            whether to look for room lines at all
        "taped": [{"start_px": [x, y], "end_px": [x, y], "length_mm": 838, "name": "door"}],
        "reference_height_mm": null,   height of the reference's lower edge above the floor
        "floor_px": [],                points where the wall meets the floor
        "side_px": null,               a point on the side that is measured from
        "outline_px": null,            corners of the usable wall
        "zones": [{"kind": "switch", "name": "", "points_px": […]}],      or "points_mm"
        "furniture": [{"kind": "sofa", "name": "", "points_px": […]}],    or "points_mm"
        "in_front": [{"name": "plant",           what stays in front of the pieces:
                      "outline_px": […],         drawn round it, a little too large
                      "inside_px": [[…], …],     strokes over what surely belongs to it
                      "outside_px": [[…], …],    strokes over what surely does not
                      "exact": false}],          take the outline as it is
        "painted_out": [{"name": "nail", "outline_px": […]}],   what is not to be seen
        "light": null,                 or {"side": "left", "height": "level", "edges": "soft"}:
                                       where the light comes from, if the photo does not tell
        "lens": null                   or {"camera": "…", "photos": 8, "focal_px": 2900, …}: what
      },                               photos of the target told of the lens; "used": false: not
      "pieces": [{"id": "p1", "name": "", "width_mm": 500, "height_mm": 700,
                  "moulding": {…} or null, "mat": {…} or null, "glazing": "clear",
                  "hanger": {…}, "weight_kg": null, "depth_mm": 20,
                  "artwork_fit": "cut",          or "whole", with blank paper at two sides
                  "artwork": {"path": "artworks/heron.png", "sha256": "…"}}],
      "guidelines": {"gap_mm": 57, …},
      "options": [{"id": "a", "name": "", "family": "by hand", "finish": null,
                   "wall_colour": null, "room_light": "as photographed",
                   "placements": [{"piece_id": "p1", "x_mm": 1200, "y_mm": 1524}]}],
      "chosen": "a"                    the option the client approved or the person works on
    }

A file's ``sha256`` may be left empty in a hand-written job; once there, it must agree.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import asdict, is_dataclass
from string import ascii_lowercase
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import ProjectError, VisualiserError
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
from visualiser.project.paths import checked_path
from visualiser.rectification.lens import Lens
from visualiser.rectification.lens_profile import LensProfile
from visualiser.rectification.marks import DrawnLine, Marks, TapedLength
from visualiser.rendering.foreground import Foreground
from visualiser.rendering.wall_colour import RoomLight
from visualiser.survey.light_choice import LightChoice
from visualiser.survey.survey import FurnitureKind, ZoneKind

SCHEMA_VERSION = 1
Upgrade = Callable[[dict[str, Any]], dict[str, Any]]
_UPGRADES: dict[int, Upgrade] = {}
"""From each earlier format to the next. There is none yet: new keys take their defaults."""
MOST_BYTES = 20_000_000
MOST_PIECES = 1000
_FARTHEST = 1e6  # 1 km in mm, and more pixels than a photo is wide
_HIDDEN = re.compile("[\u202a-\u202e\u2066-\u2069\ufeff]")  # they turn text around or hide in it

Units = Literal["mm", "cm", "in"]


def _checked_text(text: str) -> str:
    if _HIDDEN.search(text) or any(unicodedata.category(c) in ("Cc", "Cs") for c in text):
        raise ValueError("the text holds characters that cannot be shown")
    return text


Text = Annotated[str, Field(max_length=200), AfterValidator(_checked_text)]
Id = Annotated[str, Field(min_length=1, max_length=40), AfterValidator(_checked_text)]
Number = Annotated[float, Field(ge=-_FARTHEST, le=_FARTHEST)]
Size = Annotated[float, Field(gt=0, le=_FARTHEST)]
Point = tuple[Number, Number]
Colour = Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]


class _Entry(BaseModel):
    """Frozen, finite, and without keys that nothing reads."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, revalidate_instances="always"
    )


class FileEntry(_Entry):
    """A picture in the job's folder."""

    path: Annotated[str, AfterValidator(checked_path)]
    sha256: Annotated[str, Field(pattern=r"^([0-9a-f]{64})?$")] = ""


class WallEntry(_Entry):
    """What the wall is built of, and its size where that was typed."""

    kind: Annotated[str, Field(pattern=r"^[a-z][a-z0-9 -]{0,39}$")] = "plasterboard"
    width_mm: Size | None = None
    height_mm: Size | None = None


class ReferenceEntry(_Entry):
    """What of known size is taped to the wall."""

    kind: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,39}$")] = "a4"
    width_mm: Size | None = None
    height_mm: Size | None = None
    size_sigma_mm: Annotated[float, Field(ge=0, le=50)] | None = None
    corners_px: tuple[Point, Point, Point, Point] | None = None
    as_set: bool = False

    @model_validator(mode="after")
    def _sized(self) -> Self:
        if self.kind == "custom" and not (self.width_mm and self.height_mm):
            raise ValueError("a reference of kind custom needs its width_mm and height_mm")
        return self


class _Outlined(_Entry):
    name: Text = ""
    points_px: Annotated[tuple[Point, ...], Field(min_length=3, max_length=100)] | None = None
    points_mm: Annotated[tuple[Point, ...], Field(min_length=3, max_length=100)] | None = None

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


Outline = Annotated[tuple[Point, ...], Field(min_length=3, max_length=500)]
Stroke = Annotated[tuple[Point, ...], Field(min_length=1, max_length=500)]
Strokes = Annotated[tuple[Stroke, ...], Field(max_length=100)]


class InFrontEntry(_Entry):
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


class PaintedOutEntry(_Entry):
    """Something on the wall that is painted out: an old picture, a nail."""

    name: Text = ""
    outline_px: Outline


Ratio = Annotated[float, Field(ge=-10, le=10)]
_Row = tuple[float, float, float, float, float]


class LensEntry(_Entry):
    """A phone's lens as photos of the printed target told it; the fields of ``LensProfile``."""

    camera: Annotated[Text, Field(min_length=1)]
    photos: Annotated[int, Field(ge=3, le=1000)]
    stated_focal_px: Size | None = None
    width_px: Annotated[int, Field(ge=1, le=_FARTHEST)]
    height_px: Annotated[int, Field(ge=1, le=_FARTHEST)]
    focal_px: Size
    centre_px: Point
    k1: Ratio
    k2: Ratio
    covariance: tuple[_Row, _Row, _Row, _Row, _Row]
    rms_px: Annotated[float, Field(ge=0, le=1000)]
    used: bool = True

    @model_validator(mode="after")
    def _possible(self) -> Self:
        covariance = np.array(self.covariance)
        scale = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
        if not np.allclose(covariance, covariance.T, rtol=1e-6, atol=1e-12 * scale.max() ** 2) or (
            np.linalg.eigvalsh(covariance / np.outer(scale, scale)).min() <= 0
        ):
            raise ValueError("the covariance of a lens must be symmetric and positive")
        return self

    @classmethod
    def from_profile(cls, profile: LensProfile, photos: int) -> Self:
        """Entry of a profile made from so many photos."""
        lens = profile.lens
        return cls.model_validate(
            {
                "camera": profile.camera,
                "photos": photos,
                "stated_focal_px": profile.stated_focal_px,
                "width_px": profile.width_px,
                "height_px": profile.height_px,
                "focal_px": lens.focal_px,
                "centre_px": (lens.centre_x_px, lens.centre_y_px),
                "k1": lens.k1,
                "k2": lens.k2,
                "covariance": profile.covariance.tolist(),
                "rms_px": profile.rms_px,
            }
        )

    def profile(self) -> LensProfile:
        """Profile to measure with."""
        return LensProfile(
            self.camera,
            self.stated_focal_px,
            self.width_px,
            self.height_px,
            Lens(self.focal_px, *self.centre_px, self.k1, self.k2),
            np.array(self.covariance),
            self.rms_px,
        )


class MarksEntry(_Entry):
    """What a person pointed out or measured."""

    reference: ReferenceEntry = ReferenceEntry()
    lines: Annotated[tuple[DrawnLine, ...], Field(max_length=100)] = ()
    rejected_lines: Annotated[tuple[Text, ...], Field(max_length=500)] = ()
    find_lines: bool = True
    taped: Annotated[tuple[TapedLength, ...], Field(max_length=100)] = ()
    reference_height_mm: Annotated[float, Field(ge=-10_000, le=10_000)] | None = None
    floor_px: Annotated[tuple[Point, ...], Field(max_length=10)] = ()
    side_px: Point | None = None
    outline_px: Annotated[tuple[Point, ...], Field(min_length=3, max_length=100)] | None = None
    zones: Annotated[tuple[ZoneEntry, ...], Field(max_length=100)] = ()
    furniture: Annotated[tuple[FurnitureEntry, ...], Field(max_length=100)] = ()
    in_front: Annotated[tuple[InFrontEntry, ...], Field(max_length=50)] = ()
    painted_out: Annotated[tuple[PaintedOutEntry, ...], Field(max_length=100)] = ()
    light: LightChoice | None = None
    lens: LensEntry | None = None

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

    def lens_profile(self) -> LensProfile | None:
        """Profile that the wall is measured with, where the photo matches it."""
        return self.lens.profile() if self.lens is not None and self.lens.used else None


class PieceEntry(_Entry):
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


class OptionEntry(_Entry):
    """One variant: where the pieces hang, and what is tried out with it."""

    id: Id
    name: Text = ""
    family: Text = "by hand"
    placements: tuple[Placement, ...] = ()
    finish: Finish | None = None
    wall_colour: Colour | None = None
    room_light: RoomLight = "as photographed"


class Document(_Entry):
    """The whole saved job."""

    schema_version: Literal[1] = 1
    revision: Annotated[int, Field(ge=0)] = 0
    name: Text = ""
    units: Units = "mm"
    wall: WallEntry = WallEntry()
    photo: FileEntry | None = None
    as_hung_photo: FileEntry | None = None
    marks: MarksEntry = MarksEntry()
    pieces: Annotated[tuple[PieceEntry, ...], Field(max_length=MOST_PIECES)] = ()
    guidelines: Guidelines = Guidelines()
    options: Annotated[tuple[OptionEntry, ...], Field(max_length=100)] = ()
    chosen: Id | None = None

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
        return _validated({**dict(self), **values})

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
        used = {option.id for option in self.options}
        free = next((letter for letter in ascii_lowercase if letter not in used), None)
        if free is None:
            raise ProjectError(
                f"This job holds {len(ascii_lowercase)} options already.",
                hint="Remove one that is no longer needed.",
            )
        option = OptionEntry(
            id=free,
            name=arrangement.name,
            family=arrangement.family,
            placements=arrangement.placements,
        )
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
    if len(data) > MOST_BYTES:
        raise _broken(f"it is {len(data) / 1e6:.0f} MB large, far beyond any job")
    try:
        content = json.loads(
            data.decode("utf-8-sig"), parse_constant=_refuse, object_pairs_hook=_without_doubles
        )
    except UnicodeDecodeError as error:
        raise _broken("it is not text in UTF-8") from error
    except RecursionError as error:
        raise _broken("it is nested too deeply") from error
    except json.JSONDecodeError as error:
        raise _broken(f"line {error.lineno} is not proper JSON ({error.msg.lower()})") from error
    except ValueError as error:
        raise _broken(str(error)) from error
    if not isinstance(content, dict):
        raise _broken("it does not hold a job")
    version = content.get("schema_version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise _broken("schema_version is missing or not a number")
    if version > SCHEMA_VERSION:
        raise ProjectError(
            f"This job was saved by a newer release (format {version}; this one reads "
            f"format {SCHEMA_VERSION}).",
            hint="Update the program; nothing in the job has been changed.",
        )
    return _validated(upgraded(content, SCHEMA_VERSION, _UPGRADES))


def upgraded(content: dict[str, Any], newest: int, steps: Mapping[int, Upgrade]) -> dict[str, Any]:
    """Bring a job of an earlier format up to the newest, one format at a time.

    Parameters
    ----------
    content
        The job as read; not changed.
    newest
        The format wanted.
    steps
        For each format but the newest, what turns a job of it into the next one.
    """
    version = content["schema_version"]
    while version < newest:
        content = {**steps[version](content), "schema_version": version + 1}
        version += 1
    return content


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
        raise _broken("a number is not finite, or a text cannot be written") from error
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


def _validated(content: dict[str, Any]) -> Document:
    try:
        return Document.model_validate(content)
    except ProjectError:
        raise
    except VisualiserError as error:
        raise _broken(error.message.rstrip(".")) from error
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = " ".join(
            f"number {step + 1}" if isinstance(step, int) else step for step in first["loc"]
        )
        what = first["msg"].removeprefix("Value error, ")
        raise _broken(f"{where}: {what[:1].lower()}{what[1:]}" if where else what) from error


def _broken(what: str) -> ProjectError:
    return ProjectError(
        f"project.json cannot be used: {what}.",
        hint="Correct it, or put back an earlier state from the folder revisions.",
    )


def _unique(what: str, ids: list[str]) -> set[str]:
    seen: set[str] = set()
    for item in ids:
        if item in seen:
            raise ValueError(f"two {what} share the id {item}")
        seen.add(item)
    return seen


def _refuse(constant: str) -> float:
    raise ValueError(f"{constant} is not a number")


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise ValueError("a key is given twice")
    return result
