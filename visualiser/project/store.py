"""A job's folder on the disk: opened, read, saved, and put back to an earlier state.

::

    project.json     the job, see ``document``
    photos/          the wall, as photographed
    artworks/        the pictures of the pieces
    revisions/       project.json as it was before the last saves
    measured/        what was measured of the wall; may be deleted
    out/             what was made from it; may be deleted
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.errors import ProjectChanged, ProjectError
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo
from visualiser.project.contents import (
    arrangement_from,
    artwork_from,
    checked_content,
    refuse_overlap,
)
from visualiser.project.document import Document, read_document, write_document
from visualiser.project.entries import FileEntry
from visualiser.project.locking import locked
from visualiser.project.paths import DOCUMENT_NAME, PICTURE_FOLDERS, file_inside, plain_name
from visualiser.project.revisions import keep_revision, kept_revisions, revision_place
from visualiser.project.writing import (
    make_folder,
    remove_partial,
    remove_partials,
    unwritable,
    write_atomically,
)
from visualiser.rendering.mockup import MockupOptions

if TYPE_CHECKING:
    from visualiser.inventory.piece_list import ListedPiece
    from visualiser.project.filling import Mark
    from visualiser.rectification.plane import WallPlane
    from visualiser.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class Project:
    """One job: its folder, and what was saved in it when it was opened."""

    folder: Path
    document: Document

    # --- what the main road works with

    def photo(self) -> Photo:
        """Decode the photo of the wall.

        Raises
        ------
        ProjectError
            If the job has none, or it is missing or has been exchanged.
        PhotoError
            If it cannot be decoded.
        """
        from visualiser.photo.decoding import load_photo

        if self.document.photo is None:
            raise ProjectError(
                "This job has no photo of the wall.",
                hint="Add one, or work straight-on with the typed size of the wall.",
            )
        return load_photo(checked_content(self.document.photo, self.read_file))

    def view(self, number: int) -> tuple[Photo, WallPlane]:
        """Decode one of the photos that the wall was joined from, with the wall as it shows it.

        Parameters
        ----------
        number
            Which, from 1.

        Raises
        ------
        ProjectError
            If there is no such photo, or it is missing or has been exchanged.
        PhotoError
            If it cannot be decoded.
        """
        from visualiser.photo.decoding import load_photo

        joined = self.document.marks.joined
        count = 0 if joined is None else len(joined.views)
        if joined is None or not 1 <= number <= count:
            raise ProjectError(
                f"The wall is joined from {count} photos; there is no number {number}."
                if count
                else "The wall of this job is not joined from several photos.",
                hint="Draw it over the picture of the wall.",
            )
        photo = load_photo(checked_content(joined.photos[number - 1], self.read_file))
        return photo, joined.views[number - 1].plane(joined.plane())

    def pieces(self) -> tuple[Piece, ...]:
        """All pieces, with their artworks decoded.

        Raises
        ------
        ProjectError
            If an artwork is missing, has been exchanged or cannot be decoded.
        PieceError
            If a piece's sizes contradict each other.
        """
        return tuple(
            entry.piece(
                artwork_from(entry.artwork, entry.name or entry.id, self.read_file)
                if entry.artwork
                else None
            )
            for entry in self.document.pieces
        )

    def guidelines(self) -> Guidelines:
        """Rules this job is arranged by."""
        return self.document.guidelines

    def survey(self, photo: Photo | None = None) -> Survey:
        """Measure the wall from the photo and the marks, or take its typed size.

        What was measured is kept in the job's folder, and taken from there as long as photo,
        marks and program are the same.

        Parameters
        ----------
        photo
            The job's photo, where it has been decoded already.

        Raises
        ------
        ProjectError
            If there is neither a photo nor a typed size.
        ReferenceNotFound, MeasurementError
            If the photo cannot be measured.
        """
        from visualiser.project.measured import kept_survey
        from visualiser.project.measuring import (
            measure_plane,
            survey_bare,
            survey_typed,
            with_marked,
        )

        marks = self.document.marks
        if self.document.photo is None:
            return survey_typed(self.document.wall, marks)

        def measure() -> Survey:
            decoded = photo or self.photo()
            return survey_bare(decoded, measure_plane(decoded, marks), marks)

        digest = photo.digest if photo is not None else ""
        if not digest:
            content = checked_content(self.document.photo, self.read_file)
            digest = hashlib.sha256(content).hexdigest()
        return with_marked(kept_survey(self.folder, digest, marks, measure), marks)

    def arrangement(self, option_id: str | None = None) -> Arrangement:
        """Pieces at the places of one option; of the chosen option when none is named.

        Raises
        ------
        ProjectError
            If there is no such option, or two of its pieces overlap.
        """
        arrangement = arrangement_from(self.document.option(option_id), self.pieces())
        refuse_overlap(arrangement.rects())
        return arrangement

    def mockup_options(
        self, option_id: str | None = None, max_side_px: int | None = None
    ) -> MockupOptions:
        """Say how the mock-up of an option is to be drawn, from its choices and the job's marks.

        Raises
        ------
        ProjectError
            If there is no such option.
        """
        option, marks = self.document.option(option_id), self.document.marks
        return MockupOptions(
            max_side_px=max_side_px,
            paint_out_px=tuple(np.array(mark.outline_px, float) for mark in marks.painted_out),
            foreground=tuple(mark.foreground() for mark in marks.in_front),
            wall_taps=tuple(mark.tap() for mark in marks.wall_taps),
            wall_colour=option.wall_colour or "",
            room_light=option.room_light,
            finish=option.finish,
            main_light=marks.light.main_light() if marks.light else None,
        )

    # --- filling it; each saves, and gives the job as saved

    def add_photo(self, source: bytes | str | Path) -> Project:
        """Take in a photo of the wall, and save.

        Parameters
        ----------
        source
            The file's place, or its content. In the place of another photo, what was marked in
            that one is dropped.

        Raises
        ------
        PhotoError
            If it is not a picture that can be used.
        ProjectError
            If the job cannot be saved.
        """
        from visualiser.project.filling import with_photo

        return self.save(with_photo(self.document, self.add_file, source))

    def add_pieces(
        self,
        pieces: str | Path | Iterable[Piece | ListedPiece],
        artworks: str | Path | None = None,
        *,
        replace: bool = False,
    ) -> Project:
        """Add pieces with their artworks, and save.

        Parameters
        ----------
        pieces
            Pieces, entries of a list that name their artworks' files, or the place of a list:
            CSV or JSON, lengths without a unit in the job's.
        artworks
            Folder of those files; when None, that of the list, or the present one.
        replace
            Whether pieces may take the place of those of the same ids.

        Raises
        ------
        PieceError
            If the list, a row of it or an artwork cannot be read, or an id is taken; nothing is
            added.
        ProjectError
            If the job cannot be saved.
        """
        from visualiser.project.filling import read_list, with_pieces

        if isinstance(pieces, str | Path):
            artworks = artworks or Path(pieces).parent
            pieces = read_list(pieces, self.document.units)
        document = with_pieces(self.document, self.add_file, pieces, artworks, replace=replace)
        return self.save(document)

    def mark(self, *marks: Mark, **values: Any) -> Project:
        """Mark things on the wall, and save.

        Parameters
        ----------
        marks
            Zones, furniture, suggestions, drawn lines, taped lengths, a light.
        values
            What there is one of: ``reference="a4"``, ``reference_height_mm=1300``, ``corners_px``,
            ``floor_px``, ``side_px``, ``outline_px``, ``wall="brick"``, ``width_mm``,
            ``height_mm``, or any other field of the job's marks.

        Raises
        ------
        ProjectError
            If it cannot be marked or saved.

        Examples
        --------
        >>> import tempfile, visualiser as vis
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     job = vis.create_project(folder + "/hall")
        ...     job = job.mark(
        ...         vis.Furniture("sofa", vis.Rect(900, 0, 2200, 850)),
        ...         width_mm=4000, height_mm=2500,
        ...     )
        ...     job.survey().furniture[0].kind
        'sofa'
        """
        from visualiser.project.filling import with_marks

        return self.save(with_marks(self.document, marks, values))

    def choose(self, option: str | Arrangement) -> Project:
        """Choose an option by its letter, or keep an arrangement as one and choose it, and save.

        Raises
        ------
        ProjectError
            If there is no such option, or the job cannot be saved.
        """
        document = self.document
        if isinstance(option, str):
            return self.save(document.changed(chosen=document.option(option).id))
        document, letter = document.with_option(option)
        return self.save(document.changed(chosen=letter))

    # --- files and saving

    def read_file(self, relative: str) -> bytes:
        """Content of one of the job's pictures.

        Raises
        ------
        ProjectError
            If it is missing, unreadable, or leads out of the folder.
        """
        place = file_inside(self.folder, relative)
        try:
            return place.read_bytes()
        except OSError as error:
            raise ProjectError(
                f"{relative} is missing from the job's folder, or cannot be read.",
                hint="Put the file back under that name, or choose another picture.",
            ) from error

    def add_file(self, folder: str, name: str, data: bytes, suffix: str) -> FileEntry:
        """Keep a picture with the job, under a name made of its own and its content's hash.

        Parameters
        ----------
        folder
            ``photos`` or ``artworks``.
        name
            What the person's file is called.
        data
            Its content.
        suffix
            Ending that suits the content, such as ``.jpg``.
        """
        digest = hashlib.sha256(data).hexdigest()
        relative = f"{folder}/{plain_name(name, digest, suffix)}"
        place = file_inside(self.folder, relative)
        with locked(self.folder):
            try:
                make_folder(place.parent)
            except OSError as error:
                raise unwritable(place, error) from error
            remove_partials(place.parent)
            write_atomically(place, data)
        return FileEntry(path=relative, sha256=digest)

    def save(self, document: Document, *, step: bool = True) -> Project:
        """Save a changed job on top of the revision this project was opened at.

        Parameters
        ----------
        document
            The job as it should be.
        step
            Whether the change can be undone; what a job begins with need not be.

        Returns
        -------
        The project as saved, one revision on; what was saved before can be gone back to.

        Raises
        ------
        ProjectChanged
            If someone else has saved since; nothing is written.
        ProjectError
            If it cannot be written; what was there stays.
        """
        with held_project(self.folder) as present:
            if present.document.revision != self.document.revision:
                raise ProjectChanged(
                    "This job has been changed and saved elsewhere since it was opened here.",
                    hint="Open it again to go on from there; the change just made here is not "
                    "saved.",
                )
            history = present.document.history
            if step:
                history = history.after_change(present.document.revision)
            return present.write(document.changed(history=history))

    def write(self, document: Document) -> Project:
        """Write the next revision with a history of its own making, holding the job.

        Only inside ``held_project``; ``save`` is for everyone else.

        Raises
        ------
        ProjectError
            If it cannot be written; what was there stays.
        """
        place, revision = self.folder / DOCUMENT_NAME, self.document.revision
        following = document.changed(revision=revision + 1)
        data = write_document(following)
        keep_revision(place, revision, {*following.history.back, *following.history.forth})
        remove_partial(place)
        for name in PICTURE_FOLDERS:
            remove_partials(self.folder / name)
        write_atomically(place, data)
        return Project(self.folder, following)

    def earlier(self, revision: int) -> Document | None:
        """Read an earlier state; None where it is not kept any more."""
        place = revision_place(self.folder, revision)
        return _read(place) if place.exists() else None

    def revisions(self) -> tuple[int, ...]:
        """Earlier states that can be put back, oldest first."""
        return kept_revisions(self.folder)

    def restored(self, revision: int) -> Project:
        """Put back an earlier state, as a new revision on top of the present one.

        Raises
        ------
        ProjectError
            If that state is not kept or not readable.
        """
        return self.save(_read(revision_place(self.folder, revision)))


def open_project(folder: Path | str) -> Project:
    """Open a job.

    Parameters
    ----------
    folder
        The job's folder.

    Raises
    ------
    ProjectError
        If it is not a job's folder, or what is saved in it cannot be used.
    """
    folder = Path(folder)
    return Project(folder, _read(folder / DOCUMENT_NAME))


@contextmanager
def held_project(folder: Path | str) -> Iterator[Project]:
    """Hold a job from reading it to writing it, so that no one else writes in between.

    Yields
    ------
    The job as it is saved.

    Raises
    ------
    ProjectError
        If it cannot be read, or another holds it on end.
    """
    folder = Path(folder)
    with locked(folder):
        yield Project(folder, _read(folder / DOCUMENT_NAME))


def create_project(folder: Path | str, document: Document | None = None) -> Project:
    """Start a job in a new or empty folder.

    Raises
    ------
    ProjectError
        If there is a job already, or the folder cannot be written.
    """
    folder = Path(folder)
    try:
        make_folder(folder, private=True)
    except OSError as error:
        raise unwritable(folder / DOCUMENT_NAME, error) from error
    with locked(folder):
        if (folder / DOCUMENT_NAME).exists():
            raise ProjectError(
                f"There is a job in {folder.name} already.",
                hint="Open it, or choose another folder.",
            )
        document = document or Document()
        write_atomically(folder / DOCUMENT_NAME, write_document(document))
    return Project(folder, document)


def _read(place: Path) -> Document:
    try:
        data = place.read_bytes()
    except OSError as error:
        raise ProjectError(
            f"There is no job in {place.parent.name or place.parent}: {place.name} is missing or "
            "cannot be read.",
            hint="Choose the folder that holds the job's project.json.",
        ) from error
    return read_document(data)
