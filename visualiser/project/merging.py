"""Bring a change that was made on an older state of a job over to its present one."""

from __future__ import annotations

from dataclasses import is_dataclass, replace
from itertools import count
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
    changed = _named_apart(base, changed, present)
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
    for name, value in changes.items():
        listed = (getattr(before, name), value, getattr(now, name))
        if all(map(_is_list, listed)):
            changes[name] = _items(*listed)
    if "placements" in changes:
        changes["placements"] = _keyed(
            {p.piece_id: p for p in before.placements},
            {p.piece_id: p for p in after.placements},
            {p.piece_id: p for p in now.placements},
        )
    return now.model_copy(update=changes)


def _is_list(value: Any) -> bool:
    """Whether it lists things, such as zones; the points of one outline are one thing."""
    return isinstance(value, tuple) and all(
        isinstance(item, BaseModel) or is_dataclass(item) for item in value
    )


def _items(
    before: tuple[Any, ...], after: tuple[Any, ...], now: tuple[Any, ...]
) -> tuple[Any, ...]:
    """Things without ids: what the change added, altered and took away, made in the present list.

    A thing is known again by being the same as before. Where it was altered on both sides, the
    change's stays if no list has become longer or shorter, so that its place is the same.
    """
    if now == before:
        return after
    items = list(now)
    if len(after) == len(before):
        for k, (old, new) in enumerate(zip(before, after, strict=True)):
            if new == old:
                continue
            if old in items:
                items[items.index(old)] = new
            elif len(now) == len(before):
                items[k] = new
        return tuple(items)
    gone = [item for item in before if item not in after]
    come = [item for item in after if item not in before and item not in items]
    return (*(item for item in items if item not in gone), *come)


def _named_apart(base: Document, changed: Document, present: Document) -> Document:
    """Give what a change adds another id where something else has come under the same meanwhile.

    The same thing added twice, as by two runs of a page, stays one.
    """
    pieces = _fresh_ids(base.pieces, changed.pieces, present.pieces)
    options = _fresh_ids(base.options, changed.options, present.options)
    if not pieces and not options:
        return changed

    def renamed(option: OptionEntry) -> OptionEntry:
        placements = tuple(
            replace(place, piece_id=pieces.get(place.piece_id, place.piece_id))
            for place in option.placements
        )
        kept = tuple(pieces.get(i, i) for i in option.kept)
        own = options.get(option.id, option.id)
        return option.model_copy(update={"id": own, "placements": placements, "kept": kept})

    return changed.changed(
        pieces=tuple(p.model_copy(update={"id": pieces.get(p.id, p.id)}) for p in changed.pieces),
        options=tuple(map(renamed, changed.options)),
        chosen=options.get(changed.chosen, changed.chosen) if changed.chosen else None,
    )


def _fresh_ids(before: Entries, after: Entries, now: Entries) -> dict[str, str]:
    """Ids that two have given to different things since, and free ones for those of the change."""
    old, there = {e.id for e in before}, {e.id: e for e in now}
    taken = old | set(there) | {e.id for e in after}
    fresh: dict[str, str] = {}
    for entry in after:
        if entry.id in old or entry.id not in there or there[entry.id] == entry:
            continue
        free = next(i for k in count(2) if (i := f"{entry.id[:30]}-{k}") not in taken)
        fresh[entry.id] = free
        taken.add(free)
    return fresh


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
