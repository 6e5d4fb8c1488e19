"""What the core says of a job, kept as long as what it was asked about stays the same.

Keys are digests of files and the saved entries themselves; arrays are never hashed. Values are
frozen, so that several pages may share them. The counts bound the memory of the server.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from visualiser.app.caches import cached_answer, cached_artwork, cached_wall, kept_photo
from visualiser.app.faces import face_picture
from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import ProjectError, VisualiserError
from visualiser.findings import Finding
from visualiser.inventory.piece import Artwork, Piece
from visualiser.photo.decoding import load_photo
from visualiser.photo.encoding import encode_jpeg
from visualiser.photo.photo import Photo
from visualiser.project.contents import arrangement_from, artwork_from
from visualiser.project.entries import FileEntry
from visualiser.project.measured import find_survey, kept_survey
from visualiser.project.measuring import measure_plane, survey_bare, survey_typed, with_marked
from visualiser.project.piece_entries import PieceEntry
from visualiser.project.store import Project
from visualiser.project.wall_entries import DRAWN_WITH, NOT_MEASURED_WITH, STUDDED
from visualiser.rectification.plane import WallPlane
from visualiser.rendering.compositing import PreparedWall, prepare_wall, render_mockup
from visualiser.rendering.mockup import MockupOptions
from visualiser.rendering.straight_on import render_straight_on
from visualiser.rendering.wall_doubts import DoubtfulPlace, doubtful_places
from visualiser.survey.survey import Survey

T = TypeVar("T")

SHOWN_PX = 2048
"""Longest side of the photo as sent to the browser."""
_SURVEY_MARKS = frozenset({"side_px", "outline_px"})  # of the survey, but not of the wall's plane
ARTWORK_PX = 2000
"""Longest side of an artwork as kept for drawing: more than a piece covers in most photos."""
PREVIEW_PX = 1600
"""Longest side of the mock-up that follows an edit."""


def reduced_jpeg(pixels: NDArray[np.uint8]) -> bytes:
    """Encode a picture at the size the browser needs."""
    from PIL import Image

    image = Image.fromarray(pixels)
    image.thumbnail((SHOWN_PX, SHOWN_PX), Image.Resampling.BOX)
    return encode_jpeg(np.asarray(image), quality=85)


def _reduced_artwork(artwork: Artwork) -> Artwork:
    rows, columns = artwork.pixels.shape[:2]
    if max(rows, columns) <= ARTWORK_PX:
        return artwork
    from PIL import Image

    image = Image.fromarray(artwork.pixels)
    image.thumbnail((ARTWORK_PX, ARTWORK_PX), Image.Resampling.BOX)
    return replace(artwork, pixels=np.asarray(image))


_Drawing = tuple[Photo, Survey, Arrangement, MockupOptions]


def _whole_mockup(drawing: _Drawing, title: str) -> bytes:
    return encode_jpeg(render_mockup(*drawing).pixels, quality=92, title=title)


def _group_close_up(drawing: _Drawing) -> tuple[bytes, int, int]:
    from visualiser.rendering.cropping import cropped_to_group

    pixels = cropped_to_group(render_mockup(*drawing), margin=0.1).pixels
    height_px, width_px = pixels.shape[:2]
    return encode_jpeg(pixels, quality=92), width_px, height_px


class Results:
    """Everything the steps may ask of one job; each raises the core's errors."""

    def __init__(self, project: Project) -> None:
        self.project = project
        self.document = project.document
        self.withheld: VisualiserError | None = None
        """Why nothing is to be measured just now; raised in place of measuring."""

    @property
    def wall_known(self) -> bool:
        """Whether there is a photo of the wall, or its size is typed."""
        wall = self.document.wall
        typed = wall.width_mm is not None and wall.height_mm is not None
        return self.document.photo is not None or typed

    @property
    def survey_key(self) -> str:
        """All that the survey depends on."""
        source = self._photo_key if self.document.photo else self.document.wall.model_dump_json()
        return f"{source}|{self._marks_but(DRAWN_WITH | STUDDED)}"

    @property
    def bare_survey_key(self) -> str:
        """All that the survey depends on but for what is to be kept clear."""
        return f"{self._photo_key}|{self._marks_but(NOT_MEASURED_WITH)}"

    @property
    def plane_key(self) -> str:
        """All that the wall's plane depends on."""
        return f"{self._photo_key}|{self._marks_but(NOT_MEASURED_WITH | _SURVEY_MARKS)}"

    def _marks_but(self, names: frozenset[str]) -> str:
        return self.document.marks.model_dump_json(exclude=set(names))

    @property
    def wall_key(self) -> str:
        """All that a picture of the wall depends on."""
        drawing = self.document.marks.model_dump_json(include=set(DRAWN_WITH))
        return f"{self.survey_key}|{drawing}"

    @property
    def _photo_key(self) -> str:
        entry = self.document.photo
        if entry is None:
            return ""
        return self.file_key(entry)

    def option_key(self, option_id: str | None) -> str:
        """All that a picture of an option depends on."""
        option = self.document.option(option_id)
        pieces = "|".join(map(self._piece_key, self.document.pieces))
        return f"{self.wall_key}|{option.model_dump_json()}|{pieces}"

    def file_key(self, entry: FileEntry) -> str:
        """Name a picture by its content, or by where it lies: another job's may be called alike."""
        return entry.sha256 or f"{self.project.folder}/{entry.path}"

    def _piece_key(self, entry: PieceEntry) -> str:
        picture = "" if entry.artwork is None else self.file_key(entry.artwork)
        return f"{entry.model_dump_json()}|{picture}"

    def photo(self) -> Photo:
        """Decode the photo of the wall."""
        entry = self.document.photo
        if entry is None:
            raise ProjectError(
                "This job has no photo of the wall.", hint="Add one in the step Photo."
            )
        return kept_photo(self._photo_key, self.project.photo)

    def shown_photo(self) -> bytes:
        """Encode the photo at the size the browser needs."""
        photo = self.photo()
        return self.kept(f"shown|{photo.digest}", lambda: reduced_jpeg(photo.pixels))

    def plane(self) -> WallPlane:
        """Measure the wall's plane."""
        self._may_measure()
        photo, marks = self.photo(), self.document.marks

        def measure() -> WallPlane:
            found = find_survey(self.project.folder, photo.digest, marks)
            if found is not None and found.plane is not None:
                return found.plane
            return measure_plane(photo, marks)

        return self.kept(f"plane|{self.plane_key}", measure)

    def survey(self) -> Survey:
        """Survey the wall, photographed or typed."""
        marks = self.document.marks
        if self.document.photo is None:
            return survey_typed(self.document.wall, marks)
        bare = self.bare_survey()
        return self.kept(
            f"survey|{self.survey_key}|{marks.studs()!r}", lambda: with_marked(bare, marks)
        )

    def bare_survey(self) -> Survey:
        """Survey the photographed wall without its marks: to add them needs no measuring."""
        self._may_measure()
        photo, marks = self.photo(), self.document.marks
        return self.kept(
            f"bare-survey|{self.bare_survey_key}",
            lambda: kept_survey(
                self.project.folder,
                photo.digest,
                marks,
                lambda: survey_bare(photo, self.plane(), marks),
            ),
        )

    def _may_measure(self) -> None:
        if self.withheld is not None:
            raise self.withheld

    def measured_before(self) -> bool:
        """Tell whether what was measured lies in the job's folder, from an earlier time."""
        digest, marks = self.photo().digest, self.document.marks
        return find_survey(self.project.folder, digest, marks) is not None

    def pieces(self) -> tuple[Piece, ...]:
        """Pieces with their artworks."""
        return tuple(
            entry.piece(self._artwork(entry.artwork, entry.name or entry.id))
            for entry in self.document.pieces
        )

    def _artwork(self, entry: FileEntry | None, name: str) -> Artwork | None:
        if entry is None:
            return None
        read = self.project.read_file
        key = f"artwork|{entry.model_dump_json()}|{name}|{self.project.folder}"
        artwork: Artwork = cached_artwork(
            key, lambda: _reduced_artwork(artwork_from(entry, name, read))
        ).unwrap()
        return artwork

    def whole_artwork(self, piece_id: str) -> Artwork:
        """Decode the artwork of a piece at its full size; not kept, as it may be very large."""
        entry = next(p for p in self.document.pieces if p.id == piece_id)
        if entry.artwork is None:
            raise ProjectError(
                f"{entry.name or entry.id} has no picture.", hint="Add one in the step Pieces."
            )
        return artwork_from(entry.artwork, entry.name or entry.id, self.project.read_file)

    def faces(self, arrangement: Arrangement) -> dict[str, bytes]:
        """Draw every piece straight on, small, for dragging about."""
        return {piece.id: self.face(piece) for piece in arrangement.pieces}

    def face(self, piece: Piece) -> bytes:
        """Draw one piece of the job straight on, small."""
        entry = next(entry for entry in self.document.pieces if entry.id == piece.id)
        key = f"face|{self._piece_key(entry)}|{piece.moulding!r}"
        return self.kept(key, lambda: face_picture(piece))

    def arrangement(self, option_id: str | None = None) -> Arrangement:
        """Pieces at the places of an option; overlaps are kept, the rules tell of them."""
        return arrangement_from(self.document.option(option_id), self.pieces())

    def bare_wall_key(self, option_id: str | None) -> str:
        """All that the wall behind an option depends on."""
        return f"{self.wall_key}|{self.document.option(option_id).wall_colour}"

    def bare_wall(self, option_id: str | None) -> PreparedWall:
        """Prepare the wall for quick previews: small, lit, cleared, in an option's colour."""
        photo, survey = self.photo(), self.survey()
        options = self.project.mockup_options(option_id, PREVIEW_PX)
        key = f"bare|{self.bare_wall_key(option_id)}"
        wall: PreparedWall = cached_wall(key, lambda: prepare_wall(photo, survey, options)).unwrap()
        return wall

    def doubtful_places(self, option_id: str | None) -> tuple[DoubtfulPlace, ...]:
        """Outline what may be wall and was not painted in an option's colour."""
        unsure, photo = self.bare_wall(option_id).unsure, self.photo()
        if unsure is None:
            return ()
        key = f"doubts|{self.bare_wall_key(option_id)}"
        size = photo.width_px, photo.height_px
        return self.kept(key, lambda: doubtful_places(unsure, size))

    def shown_bare_wall(self, option_id: str | None) -> bytes:
        """Encode the wall without its reference, to drag pieces about on."""
        pixels = self.bare_wall(option_id).pixels
        key = f"shown-bare|{self.bare_wall_key(option_id)}"
        return self.kept(key, lambda: encode_jpeg(pixels, quality=85))

    def preview(self, option_id: str | None) -> bytes:
        """Draw the mock-up of an option small, as a JPEG."""
        return self._preview(option_id)[0]

    def preview_pixels(self, option_id: str | None) -> NDArray[np.uint8]:
        """Decode the small mock-up of an option, for pages that print it small."""
        return load_photo(self.preview(option_id)).pixels

    def mockup_findings(self, option_id: str | None) -> tuple[Finding, ...]:
        """Tell what drawing an option had to assume, and what to look at in it."""
        return self._preview(option_id)[1]

    def _preview(self, option_id: str | None) -> tuple[bytes, tuple[Finding, ...]]:
        wall, arrangement = self.bare_wall(option_id), self.arrangement(option_id)
        options = self.project.mockup_options(option_id, PREVIEW_PX)
        photo, survey = self.photo(), self.survey()

        def draw() -> tuple[bytes, tuple[Finding, ...]]:
            mockup = render_mockup(photo, survey, arrangement, options, wall=wall)
            return encode_jpeg(mockup.pixels, quality=85), mockup.findings

        return self.kept(f"preview|{self.option_key(option_id)}", draw)

    def full_mockup(self, option_id: str | None) -> partial[bytes]:
        """Give the call that draws the mock-up of an option at the photo's own size, as a JPEG."""
        return partial(_whole_mockup, self._drawing(option_id), self.document.name or "Wall")

    def close_up(self, option_id: str | None) -> partial[tuple[bytes, int, int]]:
        """Give the call that draws no more than the group, at the photo's own size.

        It answers with a JPEG, its width and its height in px.
        """
        return partial(_group_close_up, self._drawing(option_id))

    def _drawing(self, option_id: str | None) -> _Drawing:
        options = self.project.mockup_options(option_id)
        return (self.photo(), self.survey(), self.arrangement(option_id), options)

    def in_photo(self, number: int, option_id: str | None) -> bytes:
        """Draw an option small in one of the photos that the wall was joined from, as a JPEG."""
        from visualiser.project.views import mockup_in_photo

        options = self.project.mockup_options(option_id, PREVIEW_PX)

        def draw() -> bytes:
            mockup = mockup_in_photo(self.project, number, option_id, options)
            return encode_jpeg(mockup.pixels, quality=85)

        return self.kept(f"in-photo|{number}|{self.option_key(option_id)}", draw)

    def straight_on(self, option_id: str | None) -> bytes:
        """Draw an option as seen square on, with dimension lines, as a JPEG."""
        options = self.project.mockup_options(option_id)
        photo, survey, arrangement = self.photo(), self.survey(), self.arrangement(option_id)
        unit = self.document.units

        def draw() -> bytes:
            mm_per_px = arrangement.bounds.grown(300.0).width_mm / PREVIEW_PX
            mockup = render_straight_on(
                photo, survey, arrangement, options, mm_per_px=mm_per_px, unit=unit
            )
            return encode_jpeg(mockup.pixels, quality=88)

        return self.kept(f"straight|{self.option_key(option_id)}|{unit}", draw)

    def kept(self, key: str, work: Callable[[], T]) -> T:
        """Work something out once for a key that names all it depends on."""
        value: T = cached_answer(key, work).unwrap()
        return value
