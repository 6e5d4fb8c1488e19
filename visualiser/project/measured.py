"""What was measured of a job's wall, kept beside the job so that the next command need not again.

A file in the folder ``measured``, named by a hash of the photo's content, the marks that the wall
is measured with, and the code that measured it. It may be deleted at any time; what is missing,
of other code or does not read back is measured anew. Its first line is a hash of the rest: a digit
that the disk lost would put a hook elsewhere.
"""

from __future__ import annotations

import dataclasses
import hashlib
import importlib
import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from visualiser.errors import ProjectError, VisualiserError
from visualiser.geometry import Polygon
from visualiser.project.release import release
from visualiser.project.wall_entries import NOT_MEASURED_WITH, MarksEntry
from visualiser.project.writing import write_atomically
from visualiser.survey.survey import Survey
from visualiser.wording import Sentence

FOLDER = "measured"
MOST_KEPT = 8
"""Measurements kept a job: one for each of the last sets of marks."""
_MEASURING = ("photo", "colour", "rectification", "survey", "geometry.py", "raster.py", "sizes.py")
"""Parts of the package that decide what is measured."""
MOST_BYTES = 5_000_000
"""Of a file that is read back; a measurement takes 10 to 100 kB."""
_NOT_READ = (
    ValueError, TypeError, KeyError, IndexError, AttributeError, ImportError, OverflowError,
    RecursionError, SyntaxError,
)  # fmt: skip
"""What decoding any bytes may raise: names of no module, shapes of no array, kinds of no number."""


def kept_survey(
    folder: Path, photo_sha256: str, marks: MarksEntry, measure: Callable[[], Survey]
) -> Survey:
    """Survey of a photo and marks as it was kept, or measured now and kept.

    Parameters
    ----------
    folder
        The job's.
    photo_sha256
        Hash of the photo's content.
    marks
        What it is measured with.
    measure
        Measures it; without zones and furniture, which do not change what is measured.
    """
    if (found := find_survey(folder, photo_sha256, marks)) is not None:
        return found
    place = _place(folder, photo_sha256, marks)
    survey = measure()
    try:
        place.parent.mkdir(exist_ok=True)
        write_atomically(place, _sealed(json.dumps(_encoded(survey)).encode()))
        kept = sorted(place.parent.glob("*.json"), key=lambda p: p.stat().st_mtime)
        for old in kept[:-MOST_KEPT]:
            old.unlink(missing_ok=True)
    except (OSError, ProjectError, TypeError):  # a folder that may only be read
        pass
    return survey


def find_survey(folder: Path, photo_sha256: str, marks: MarksEntry) -> Survey | None:
    """Read the survey of a photo and marks as it was kept; None if it was not."""
    try:
        place = _place(folder, photo_sha256, marks)
        if place.stat().st_size > MOST_BYTES:
            return None
        found = _decoded(json.loads(_unsealed(place.read_bytes())))
    except (OSError, VisualiserError, *_NOT_READ):
        return None
    return found if isinstance(found, Survey) and isinstance(found.outline, Polygon) else None


def _sealed(data: bytes) -> bytes:
    return hashlib.sha256(data).hexdigest().encode() + b"\n" + data


def _unsealed(content: bytes) -> bytes:
    seal, _, data = content.partition(b"\n")
    if hashlib.sha256(data).hexdigest().encode() != seal:
        raise ValueError("it is not as it was written")
    return data


def _place(folder: Path, photo_sha256: str, marks: MarksEntry) -> Path:
    return folder / FOLDER / f"{_key(photo_sha256, marks)}.json"


def _key(photo_sha256: str, marks: MarksEntry) -> str:
    used = marks.model_dump_json(exclude=set(NOT_MEASURED_WITH))
    parts = (photo_sha256, used, release(), _code())
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:32]


@cache
def _code() -> str:
    """Hash of the code that measures: a changed program must not trust what it measured before."""
    package = Path(__file__).resolve().parents[1]
    digest = hashlib.sha256()
    for part in _MEASURING:
        place = package / part
        files = sorted(place.rglob("*.py")) if place.is_dir() else [place]
        files += sorted(place.rglob("*.onnx")) if place.is_dir() else []
        for file in files:
            try:
                digest.update(file.read_bytes())
            except OSError:
                continue
    return digest.hexdigest()


def _encoded(value: Any) -> Any:
    """Plain data of a measurement: numbers, texts, arrays and this package's own values."""
    if isinstance(value, np.ndarray):
        return {"array": value.tolist(), "kind": str(value.dtype), "shape": list(value.shape)}
    if isinstance(value, np.generic):
        return value.item()
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {
            f.name: _encoded(getattr(value, f.name)) for f in dataclasses.fields(value) if f.init
        }
        return {"value": f"{type(value).__module__}.{type(value).__qualname__}", "of": fields}
    if isinstance(value, tuple | list):
        return [_encoded(item) for item in value]
    if isinstance(value, Sentence):
        return {"words": _encoded(value.parts)}
    if value is None or isinstance(value, str | bool | int | float):
        return value
    raise TypeError(f"a {type(value).__name__} cannot be kept")


def _decoded(data: Any) -> Any:
    if isinstance(data, list):
        return tuple(_decoded(item) for item in data)
    if not isinstance(data, dict):
        return data
    if "words" in data:
        return Sentence(_decoded(data["words"]))
    if "array" in data:
        return np.array(data["array"], np.dtype(data["kind"])).reshape(data["shape"])
    return _kind(data["value"])(**{name: _decoded(item) for name, item in data["of"].items()})


def _kind(name: str) -> Any:
    """One of this package's frozen values; nothing else is ever made from a file."""
    module, _, kind = name.rpartition(".")
    if not module.startswith("visualiser.") or module.split(".")[1] not in (
        "survey", "rectification", "geometry", "findings", "wording", "photo", "colour",
    ):  # fmt: skip
        raise ValueError(f"{name} is not measured")
    found = getattr(importlib.import_module(module), kind)
    if not dataclasses.is_dataclass(found):
        raise ValueError(f"{name} is not measured")
    return found
