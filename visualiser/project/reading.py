"""The text of a saved job, read strictly and brought up to the newest format."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

from visualiser.errors import ProjectError

SCHEMA_VERSION = 2
Upgrade = Callable[[dict[str, Any]], dict[str, Any]]
_PROGRAM_WROTE_ONE_HOOK = ("d-rings", "sawtooth", "strips")


def _as_said(job: dict[str, Any]) -> dict[str, Any]:
    """From format 1: what the program filled in by itself is no longer taken for a person's word.

    Format 1 wrote "plasterboard" for a wall of which nobody had said anything, and one hook for
    hangers that read no number of hooks. Of a job that a program saved, neither is known.
    """
    wall = job.get("wall")
    saved = isinstance(job.get("revision"), int) and job["revision"] > 0
    if saved and isinstance(wall, dict) and wall.get("kind") == "plasterboard":
        job = {**job, "wall": {**wall, "kind": "unknown"}}
    pieces = job.get("pieces")
    if isinstance(pieces, list):
        job = {**job, "pieces": [_hooks_as_said(piece) for piece in pieces]}
    return job


def _hooks_as_said(piece: Any) -> Any:
    hanger = piece.get("hanger") if isinstance(piece, dict) else None
    if not isinstance(hanger, dict) or hanger.get("hooks") != 1:
        return piece
    if hanger.get("kind", "d-rings") not in _PROGRAM_WROTE_ONE_HOOK:
        return piece
    return {**piece, "hanger": {**hanger, "hooks": None}}


_UPGRADES: dict[int, Upgrade] = {1: _as_said}
"""From each earlier format to the next."""
MOST_BYTES = 6_000_000
"""Length of the largest job that can be made is 5.3 MB: 1000 pieces hung in all of 26 options,
with 100 lines and 25 things in front of the wall, each outlined and stroked over with 100 points.
One of 60 pieces in 26 options takes 0.6 MB."""
MOST_VALUES = 400_000
"""The same job holds 165 000. Each costs up to 100 bytes once read, however short it is written."""
MOST_IN_A_LIST = 1000
"""Pieces; every other list of a job is bounded more tightly where it is checked."""
DEEPEST = 12
"""Marks hold things in front, they strokes, they points: six levels."""


def read_keys(data: bytes) -> dict[str, Any]:
    """Read the keys of a saved job of any format, within bounds but not checked any further.

    Parameters
    ----------
    data
        Content of ``project.json``.

    Raises
    ------
    ProjectError
        If it is not JSON, not a job, or beyond any job in length or depth.
    """
    if len(data) > MOST_BYTES:
        raise unreadable(f"it is {len(data) / 1e6:.0f} MB large, far beyond any job")
    if max(data.count(sign) for sign in (b",", b"[", b"{", b":")) > MOST_VALUES:
        raise unreadable("it holds far more values than any job")
    try:
        content = json.loads(
            data.decode("utf-8-sig"), parse_constant=_refuse, object_pairs_hook=_without_doubles
        )
    except UnicodeDecodeError as error:
        raise unreadable("it is not text in UTF-8") from error
    except RecursionError as error:
        raise unreadable("it is nested too deeply") from error
    except json.JSONDecodeError as error:
        raise unreadable(f"line {error.lineno} is not proper JSON ({error.msg.lower()})") from error
    except ValueError as error:
        raise unreadable(str(error)) from error
    if not isinstance(content, dict):
        raise unreadable("it does not hold a job")
    _check_bounds(content)
    return content


def read_content(data: bytes) -> dict[str, Any]:
    """Read the keys of a saved job, in the newest format but not checked any further.

    Raises
    ------
    ProjectError
        As `read_keys`, or if it is of a newer version.
    """
    content = read_keys(data)
    version = content.get("schema_version")
    if not isinstance(version, int) or isinstance(version, bool) or not 1 <= version < 10_000:
        raise unreadable("schema_version is missing or not a number")
    if version > SCHEMA_VERSION:
        raise ProjectError(
            f"This job was saved by a newer release (format {version}; this one reads "
            f"format {SCHEMA_VERSION}).",
            hint="Update the program; nothing in the job has been changed.",
        )
    return upgraded(content, SCHEMA_VERSION, _UPGRADES)


def _check_bounds(content: dict[str, Any]) -> None:
    """Refuse lists and depths beyond any job, before each entry of them is looked into."""
    waiting: list[tuple[Any, int]] = [(content, 1)]
    while waiting:
        value, depth = waiting.pop()
        if depth > DEEPEST:
            raise unreadable("it is nested too deeply")
        if len(value) > MOST_IN_A_LIST:
            raise unreadable(f"one of its lists is longer than {MOST_IN_A_LIST}")
        within = value.values() if isinstance(value, dict) else value
        waiting += [(item, depth + 1) for item in within if isinstance(item, dict | list)]


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


def unreadable(what: str) -> ProjectError:
    """Say in a sentence why a saved job cannot be used."""
    return ProjectError(
        f"project.json cannot be used: {what}.",
        hint="Correct it, or put back an earlier state from the folder revisions.",
    )


def _refuse(constant: str) -> float:
    raise ValueError(f"{constant} is not a number")


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise ValueError("a key is given twice")
    return result
