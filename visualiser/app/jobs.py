"""Where jobs are kept on this computer, and how one is named in the page's address."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import unicodedata
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from visualiser.errors import ProjectError
from visualiser.project.paths import DOCUMENT_NAME, UNPACKING_PREFIX
from visualiser.project.reading import MOST_BYTES, read_keys

if TYPE_CHECKING:  # what reads a job is loaded with the first one: the first page does without
    from visualiser.project.document import Document, Units
    from visualiser.project.store import Project

FOLDER_VARIABLE = "VISUALISER_JOBS"
FIRST_SAMPLE = "reading-room"
UNITS: tuple[Units, ...] = ("mm", "cm", "in")
_UNITS_NAME = ".units"
_LEFTOVER_S = 86400.0
_JOB_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*-[0-9a-f]{16}")


def jobs_folder() -> Path:
    """Folder that holds the jobs: ``$VISUALISER_JOBS``, or ``wall-jobs`` in the home folder.

    Raises
    ------
    ProjectError
        If neither is known.
    """
    if told := os.environ.get(FOLDER_VARIABLE):
        return Path(told)
    try:
        return Path.home() / "wall-jobs"
    except RuntimeError as error:
        raise ProjectError(
            "This computer does not say where your home folder is.",
            hint=f"Name a folder for the jobs in the environment variable {FOLDER_VARIABLE}.",
        ) from error


def new_job(name: str, document: Document | None = None) -> tuple[str, Project]:
    """Start a job; its id cannot be guessed, so that on a shared server the address is the key."""
    from visualiser.project.document import Document
    from visualiser.project.store import create_project

    job_id = _fresh_id(name)
    document = document or Document(units=usual_units())
    document = document.changed(name=name.strip()[:200])
    return job_id, create_project(jobs_folder() / job_id, document)


def sample_job() -> tuple[str, Project]:
    """Start a copy of the first sample job."""
    from visualiser.project.samples import create_sample

    job_id = _fresh_id(FIRST_SAMPLE)
    project = create_sample(FIRST_SAMPLE, jobs_folder() / job_id)
    if project.document.units != (units := usual_units()):
        project = project.save(project.document.changed(units=units), step=False)
    return job_id, project


def unpack_job(data: bytes | Path) -> tuple[str, Project]:
    """Take a job in from its zip, or from where that lies."""
    from visualiser.project.exchange import import_zip

    job_id = _fresh_id("received")
    return job_id, import_zip(data, jobs_folder() / job_id)


def find_job(job_id: str) -> Project:
    """Open the job of an id.

    Raises
    ------
    ProjectError
        If there is none, or it cannot be read.
    """
    from visualiser.project.store import open_project

    if not _JOB_ID.fullmatch(job_id) or len(job_id) > 80:
        raise ProjectError(
            "The address does not name a job.", hint="Choose one of the jobs, or start a new one."
        )
    folder = jobs_folder() / job_id
    if not (folder / DOCUMENT_NAME).exists():
        raise ProjectError(
            "The job of this address is not here any more.",
            hint="Choose one of the jobs below, or start a new one.",
        )
    return open_project(folder)


def last_saved(job_id: str) -> int | None:
    """Read no more than a job's revision; None where there is none to read."""
    if not _is_job(job_id):
        return None
    revision = _key_in(jobs_folder() / job_id / DOCUMENT_NAME, "revision", 0)
    return revision if isinstance(revision, int) else None


def recent_jobs(count: int = 6) -> list[tuple[str, str, datetime]]:
    """Ids, names and times of the jobs saved last, newest first; unreadable ones are left out."""
    try:
        places = [p for p in jobs_folder().glob(f"*/{DOCUMENT_NAME}") if _is_job(p.parent.name)]
        newest = sorted(((p.stat().st_mtime, p) for p in places), reverse=True)[:count]
    except (OSError, ProjectError):
        return []
    found = []
    for time_s, place in newest:
        if (name := _name_in(place)) is not None:
            found.append((place.parent.name, name, datetime.fromtimestamp(time_s)))
    return found


def _name_in(place: Path) -> str | None:
    """Read no more than a job's name; None where there is none to read."""
    name = _key_in(place, "name", "")
    return name if isinstance(name, str) else None


def _key_in(place: Path, key: str, default: object) -> object:
    try:
        if place.stat().st_size > MOST_BYTES:
            return None
        return read_keys(place.read_bytes()).get(key, default)
    except (OSError, ProjectError):
        return None


def remember_units(units: Units) -> None:
    """Note the unit that the next job starts with; failing to is no harm."""
    try:
        (jobs_folder() / _UNITS_NAME).write_text(units, "utf-8")
    except (OSError, ProjectError):
        return


def usual_units() -> Units:
    """Recall the unit chosen last on this computer, or mm."""
    try:
        noted = (jobs_folder() / _UNITS_NAME).read_text("utf-8")
    except (OSError, UnicodeDecodeError, ProjectError):
        return "mm"
    return next((unit for unit in UNITS if unit == noted), "mm")


def clear_leftovers(now_s: float) -> None:
    """Remove what was being unpacked a day ago or longer: the program was stopped meanwhile."""
    try:
        for place in jobs_folder().glob(f"{UNPACKING_PREFIX}*"):
            if now_s - place.stat().st_mtime > _LEFTOVER_S:
                shutil.rmtree(place, ignore_errors=True)
    except (OSError, ProjectError):
        return


def _is_job(name: str) -> bool:
    return bool(_JOB_ID.fullmatch(name))


def _fresh_id(name: str) -> str:
    ascii_name = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode()
    slug = re.sub(r"[^a-z0-9]+", "-", ascii_name.lower()).strip("-")[:40].strip("-") or "job"
    return f"{slug}-{secrets.token_hex(8)}"
