"""A client's answer to a job's options: read from the page's file or text, and taken in."""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass

from visualiser.errors import ProjectError
from visualiser.project.document import Document, OptionEntry

FORMAT, VERSION = "wall-visualiser answer", 1
MOST_BYTES = 100_000
LONGEST_REMARK = 1000
_KEY = re.compile(r"^(.{1,40}):([0-9a-f]{12})$")
_LINE = re.compile(r"^\s*(Remark|From|Key):[ \t]*(.*?)\s*$", re.MULTILINE | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a client chose.

    Parameters
    ----------
    option_id
        The option's id in the job.
    fingerprint
        State of the option that was shown.
    remark
        What the client wrote.
    by
        The client's name, where given.
    """

    option_id: str
    fingerprint: str
    remark: str = ""
    by: str = ""


def reply_key(document: Document, option: OptionEntry) -> str:
    """Key that an answer names an option by: its id, and a hash of what was shown."""
    return f"{option.id}:{_fingerprint(document, option)}"


def read_answer(data: bytes) -> Answer:
    """Read an answer from the file or the text that the client's page made.

    Raises
    ------
    ProjectError
        If it is neither.
    """
    if len(data) > MOST_BYTES:
        raise _not_an_answer("it is far too long")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _not_an_answer("it is not text in UTF-8") from error
    fields = _from_json(text) if text.lstrip().startswith("{") else _from_text(text)
    match = _KEY.match(fields.get("key", ""))
    if match is None:
        raise _not_an_answer("its key is missing or cut off")
    remark = _plain(fields.get("remark", ""))
    return Answer(match[1], match[2], remark[:LONGEST_REMARK], _plain(fields.get("from", ""))[:80])


def with_answer(document: Document, answer: Answer) -> Document:
    """Job with the option chosen and the remark kept with it.

    Raises
    ------
    ProjectError
        If the job has no such option, or it has been changed since it was shown.
    """
    option = next((entry for entry in document.options if entry.id == answer.option_id), None)
    if option is None:
        raise ProjectError(
            f"This job has no option {answer.option_id}, which the answer chooses.",
            hint="Check that the answer belongs to this job.",
        )
    if _fingerprint(document, option) != answer.fingerprint:
        raise ProjectError(
            f"Option {option.id} has been changed since the client saw it.",
            hint="Make the page again and ask once more, or put the earlier state back.",
        )
    said = f"{answer.by}: {answer.remark}" if answer.by and answer.remark else answer.remark
    entry = option.model_copy(update={"remark": said[:LONGEST_REMARK]})
    return document.replacing(entry).changed(chosen=option.id)


def _fingerprint(document: Document, option: OptionEntry) -> str:
    """Hash of all that the client sees of an option: places, sizes, frames, colours, pictures."""
    hung = {placement.piece_id for placement in option.placements}
    pieces = [
        piece.model_dump_json(
            include={"id", "width_mm", "height_mm", "moulding", "mat", "glazing", "artwork"}
        )
        for piece in document.pieces
        if piece.id in hung
    ]
    shown = option.model_dump_json(exclude={"name", "family", "remark", "answer"})
    return hashlib.sha256("\0".join((shown, *pieces)).encode()).hexdigest()[:12]


def _from_json(text: str) -> dict[str, str]:
    try:
        content = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise _not_an_answer("it is damaged") from error
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        raise _not_an_answer("it is another kind of file")
    if content.get("version") != VERSION:
        raise ProjectError(
            "This answer comes from a page of a newer release.", hint="Update the program."
        )
    return {name: value for name, value in content.items() if isinstance(value, str)}


def _from_text(text: str) -> dict[str, str]:
    return {name.lower(): value for name, value in _LINE.findall(text)}


def _plain(text: str) -> str:
    """One line without what cannot be shown."""
    shown = "".join(c if c.isprintable() else " " for c in text)
    return " ".join(shown.split())


def _not_an_answer(why: str) -> ProjectError:
    return ProjectError(
        f"This is not an answer from the client's page: {why}.",
        hint="Give the file reply.json, or a text file with the whole message.",
    )
