"""The sample jobs: rooms and artworks of our own making, put together into a job's folder."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from visualiser.errors import ProjectError

if TYPE_CHECKING:
    from visualiser.project.store import Project


def sample_folder() -> Path:
    """Folder of the sample photos: beside the package in a checkout, inside it once installed.

    Raises
    ------
    ProjectError
        If this copy came without them.
    """
    package = Path(str(files("visualiser")))
    for place in (package / "_samples", package.parent / "sample_photos"):
        if (place / "jobs").is_dir():
            return place
    raise ProjectError(
        "The sample photos are not packed with this copy.",
        hint="Install the program anew, or start a job of your own.",
    )


def sample_picture(name: str) -> bytes | None:
    """Read a small picture of a sample job's mock-up, a JPEG, where this copy has one."""
    try:
        return (sample_folder() / "pictures" / f"{name}-mockup.jpg").read_bytes()
    except (OSError, ProjectError):
        return None


def sample_names() -> tuple[str, ...]:
    """Names of the sample jobs."""
    return tuple(sorted(path.stem for path in (sample_folder() / "jobs").glob("*.json")))


def create_sample(name: str, folder: Path) -> Project:
    """Put a sample job together in a new folder.

    Parameters
    ----------
    name
        One of `sample_names`.
    folder
        Where; must not hold a job yet.

    Raises
    ------
    ProjectError
        If there is no such sample, a picture of it is missing, or the folder cannot be written.
    """
    from visualiser.project.document import read_document
    from visualiser.project.store import create_project
    from visualiser.project.writing import make_folder

    source = sample_folder()
    place = source / "jobs" / f"{name}.json"
    if name not in sample_names():
        raise ProjectError(
            f"There is no sample job {name}.", hint=f"Choose one of {', '.join(sample_names())}."
        )
    document = read_document(place.read_bytes())
    pictures = {path.name: path for path in source.rglob("*.*") if path.suffix != ".json"}
    try:
        make_folder(folder, private=True)
        for relative in (entry.path for entry in document.pictures):
            picture = pictures.get(Path(relative).name)
            if picture is None:
                raise ProjectError(
                    f"The sample job {name} lacks its picture {relative}.",
                    hint="Install the program anew.",
                )
            target = folder / relative
            make_folder(target.parent)
            shutil.copyfile(picture, target)
    except OSError as error:
        raise ProjectError(
            f"The sample job could not be written to {folder}.",
            hint="Choose a folder that you may write to and that has room.",
        ) from error
    return create_project(folder, document)
