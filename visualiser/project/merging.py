"""Bring a change that was made on an older state of a job over to its present one."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from visualiser.project.document import Document
from visualiser.project.piece_entries import OptionEntry, PieceEntry

_BY_ID = {"pieces", "options"}
_NOT_CHANGED_BY_HAND = {"revision", "history", "schema_version"}


def merged(base: Document, changed: Document, present: Document) -> Document:
    """Make a change again on the present state.

    What the change left alone is as it is at present; what it set is as it set it, also where the
    present differs there too: of two who set the same thing, the later one stays.

    Parameters
    ----------
    base
        What the change was made on.
    changed
        What came of it.
    present
        The job as it is saved now.

    Raises
    ------
    ProjectError
        If the change no longer fits, such as a place of a piece that has gone.
    """
    if base == present:
        return changed
    values: dict[str, Any] = {}
    for name in Document.model_fields:
        if name in _NOT_CHANGED_BY_HAND:
            continue
        before, after, now = (getattr(d, name) for d in (base, changed, present))
        if after == before:
            continue
        if name in _BY_ID:
            values[name] = _entries(before, after, now)
        elif isinstance(after, BaseModel) and isinstance(now, type(after)):
            values[name] = _fields(before, after, now)
        else:
            values[name] = after
    if "pieces" in values:  # places of pieces that the change took away go with them
        values["options"] = _without_strangers(
            values.get("options", present.options), {p.id for p in values["pieces"]}
        )
    return present.changed(**values)


def _fields(before: Any, after: Any, now: Any) -> Any:
    """Values of one entry: each as the change set it, or else as it is."""
    if not isinstance(before, type(after)):
        return after
    changes = {
        name: getattr(after, name)
        for name in type(after).model_fields
        if getattr(after, name) != getattr(before, name)
    }
    if "placements" in changes:
        changes["placements"] = _keyed(
            {p.piece_id: p for p in before.placements},
            {p.piece_id: p for p in after.placements},
            {p.piece_id: p for p in now.placements},
        )
    return now.model_copy(update=changes)


Entries = tuple[PieceEntry | OptionEntry, ...]


def _entries(before: Entries, after: Entries, now: Entries) -> Entries:
    """Pieces or options: those that the change left alone are as they are, gone ones stay gone."""
    old, new = {e.id: e for e in before}, {e.id: e for e in after}
    present = {e.id: e for e in now}
    both = {
        i: _fields(old[i], new[i], present[i])
        for i in new
        if i in old and i in present and new[i] != old[i]
    }
    return _keyed(old, {**new, **both}, {**present, **both})


def _keyed(before: dict[str, Any], after: dict[str, Any], now: dict[str, Any]) -> tuple[Any, ...]:
    """Items by id: in the change's order, then what has come meanwhile."""
    kept = []
    for key, item in after.items():
        if key not in before:
            kept.append(item)
        elif key in now:
            kept.append(now[key] if item == before[key] else item)
    kept += [item for key, item in now.items() if key not in before and key not in after]
    return tuple(kept)


def _without_strangers(options: Entries, known: set[str]) -> tuple[OptionEntry, ...]:
    return tuple(
        option.model_copy(
            update={"placements": tuple(p for p in option.placements if p.piece_id in known)}
        )
        for option in options
        if isinstance(option, OptionEntry)
    )
