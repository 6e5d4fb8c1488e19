"""Make everything of one entry of a batch: the wall measured once, each file written whole.

The unit of work that a process of this machine, or of another one, is handed. It needs nothing but
the entry; what it gives back is small, since the files are written where they belong.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import cv2

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import (
    ProjectError,
    ReferenceNotFound,
    VisualiserError,
    is_memory_short,
    memory_short,
)
from visualiser.inventory.piece import Artwork
from visualiser.photo.decoding import load_photo
from visualiser.project.batch_list import BatchItem
from visualiser.project.made_files import marked, refuse_place
from visualiser.project.paths import DOCUMENT_NAME
from visualiser.project.products import (
    PLANNED,
    PRODUCTS,
    Prepared,
    SurveyedWall,
    prepared,
    surveyed_wall,
)
from visualiser.project.release import release
from visualiser.project.store import Project, open_project
from visualiser.project.writing import (
    make_folder,
    remove_partial,
    unwritable,
    write_atomically,
)


@dataclass(frozen=True, slots=True)
class Made:
    """A file that was made of an entry, and the SHA-256 of its content."""

    item: BatchItem
    product: str
    file: Path
    sha256: str
    fingerprint: str
    kept: bool = False
    """Whether it was there already, made of the same things."""
    cautions: tuple[str, ...] = ()
    """What could hurt somebody in it, gravest first."""


@dataclass(frozen=True, slots=True)
class Failed:
    """What could not be made of an entry, and why; ``product`` is empty where nothing could."""

    item: BatchItem
    product: str
    why: str
    do: str
    unsure: bool = False
    """Whether the photo was read and no sheet in it is surely the one: a person has to look."""


Outcome = Made | Failed


def place_of(item: BatchItem, product: str) -> Path:
    """Where the product of an entry is written."""
    return item.job / "out" / item.file_name(PRODUCTS[product][0])


def fingerprint(item: BatchItem) -> str:
    """Hash of what the products of an entry are made of: job, pictures and this release.

    Pictures are known by name, length and time; that they are the ones the job was made with is
    checked whenever they are read.

    Raises
    ------
    ProjectError
        If the job cannot be opened.
    """
    job = open_project(item.job)
    parts = [release(), item.option, item.piece, _files(job)]
    if item.artwork is not None:
        parts.append(_stamp(item.artwork))
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()


def make_item(item: BatchItem, products: tuple[str, ...]) -> list[Outcome]:
    """Make products of one entry; what goes wrong is an outcome, never an exception.

    Parameters
    ----------
    item
        The entry.
    products
        Some of `PRODUCTS`.
    """
    cv2.setNumThreads(1)  # the machine is filled by doing several entries at once
    print_of: list[str] = []
    ready: list[Prepared] = []

    def prepare() -> None:
        print_of.append(fingerprint(item))
        ready.append(_prepared(item))

    if failure := _attempt(item, "", prepare):
        return [failure]
    outcomes: list[Outcome] = []
    grave: dict[str, tuple[str, ...]] = {}
    for product in products:

        def make(product: str = product) -> None:
            data = marked(PRODUCTS[product][1](ready[0]))
            place = place_of(item, product)
            _write(place, data)
            digest = hashlib.sha256(data).hexdigest()
            if product in PLANNED and not grave:
                grave.update(dict.fromkeys(PLANNED, ready[0].cautions()))
            said = grave.get(product, ())
            outcomes.append(Made(item, product, place, digest, print_of[0], cautions=said))

        if failure := _attempt(item, product, make):
            outcomes.append(failure)
    return outcomes


def _attempt(item: BatchItem, product: str, step: Callable[[], None]) -> Failed | None:
    """Take a step; whatever goes wrong in one entry must not stop the others."""
    try:
        step()
    except VisualiserError as error:
        unsure = isinstance(error, ReferenceNotFound)
        return Failed(item, product, error.message, error.hint, unsure)
    except Exception as error:
        if is_memory_short(error):
            return Failed(item, product, memory_short().message, memory_short().hint)
        what = f"{type(error).__name__}: {error}".replace("\n", " ")[:200]
        return Failed(
            item,
            product,
            f"The program failed ({what}).",
            "This is a fault of the program: please report it with the job that shows it.",
        )
    return None


def _prepared(item: BatchItem) -> Prepared:
    job = open_project(item.job)
    made = prepared(job, item.option, _wall(item.job, _files(job)))
    if item.artwork is None:
        return made
    return replace(made, arrangement=_showing(made.arrangement, item))


@lru_cache(maxsize=1)
def _wall(folder: Path, files: str) -> SurveyedWall:  # noqa: ARG001 - what it is known by
    """Measure a job's wall, once for entries of one job in a row; ``files`` gives its state."""
    return surveyed_wall(open_project(folder))


def _showing(arrangement: Arrangement, item: BatchItem) -> Arrangement:
    """Put the entry's picture into its piece."""
    hung = [placement.piece_id for placement in arrangement.placements]
    wanted = item.piece or (hung[0] if len(hung) == 1 else "")
    if wanted not in hung:
        raise ProjectError(
            f"The arrangement hangs no piece {wanted}."
            if wanted
            else "The list does not say which piece shows the artwork.",
            hint=f"Name one of {', '.join(hung)} in the column piece.",
        )
    assert item.artwork is not None
    try:
        photo = load_photo(item.artwork.read_bytes())
    except OSError as error:
        raise ProjectError(
            f"The artwork {item.artwork.name} cannot be read.",
            hint="Put it where the list says, relative to the list.",
        ) from error
    pieces = tuple(
        replace(p, artwork=Artwork(photo.pixels, p.name or p.id, photo.digest))
        if p.id == wanted
        else p
        for p in arrangement.pieces
    )
    return replace(arrangement, pieces=pieces)


def _write(place: Path, data: bytes) -> None:
    try:
        make_folder(place.parent)
    except OSError as error:
        raise unwritable(place, error) from error
    try:
        refuse_place(place)
    except ProjectError as error:
        raise ProjectError(error.message, hint="Move that file elsewhere.") from error
    remove_partial(place)
    write_atomically(place, data)


def _files(job: Project) -> str:
    """State of a job's document and pictures, told apart by length and time."""
    named = [job.folder / DOCUMENT_NAME, *(job.folder / e.path for e in job.document.pictures)]
    return "\0".join(_stamp(place) for place in named)


def _stamp(place: Path) -> str:
    try:
        status = place.stat()
    except OSError:
        return f"{place.name} missing"
    return f"{place.name} {status.st_size} {status.st_mtime_ns}"
