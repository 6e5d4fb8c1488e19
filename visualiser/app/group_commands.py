"""Commands on chosen pieces and on proposals: what the piece bar and the strip below do. Pure.

They are carried out on the job as it is by then, like the commands of ``commands``; those that
space or line up pieces are judged by the wall, which is handed in with the pieces.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

from visualiser.arrangement import editing
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.editing import Bench, Edited
from visualiser.errors import ArrangementError, PieceError, ProjectError
from visualiser.inventory.framing_sizes import outside_of_frame
from visualiser.inventory.piece import FINISHES, Finish, Moulding
from visualiser.project.document import Document
from visualiser.project.piece_entries import OptionEntry, PieceEntry
from visualiser.sizes import print_sizes
from visualiser.units import parse_length

FARTHEST_MM = 1e5
_MOST_PIECES = 500
_SHAPE_COUNTS = 4.0
"""How much a size's shape counts beside its area when the next one is looked for."""
_LARGER = 1.04
"""Least ratio of areas between one size and the next; frames of one size differ by less."""

Edit = Callable[[Arrangement, Sequence[str], Bench], Edited]
Places = tuple[tuple[str, float, float], ...]


def _swap(arrangement: Arrangement, ids: Sequence[str], bench: Bench) -> Edited:
    if len(ids) != 2:
        raise ArrangementError(
            f"Two pieces change places; {len(ids)} are chosen.", hint="Choose exactly two."
        )
    return editing.swap(arrangement, ids[0], ids[1], bench)


EDITS: dict[str, Edit] = {
    "left": lambda a, i, b: editing.align(a, i, "left", b),
    "right": lambda a, i, b: editing.align(a, i, "right", b),
    "top": lambda a, i, b: editing.align(a, i, "top", b),
    "bottom": lambda a, i, b: editing.align(a, i, "bottom", b),
    "plumb centre": lambda a, i, b: editing.align(a, i, "plumb centre", b),
    "level centre": lambda a, i, b: editing.align(a, i, "level centre", b),
    "even across": lambda a, i, b: editing.distribute(a, i, "across", b),
    "even upright": lambda a, i, b: editing.distribute(a, i, "upright", b),
    "gap across": lambda a, i, b: editing.match_gap(a, i, "across", b),
    "gap upright": lambda a, i, b: editing.match_gap(a, i, "upright", b),
    "swap": _swap,
    "mirror": lambda a, i, b: editing.mirror(a, b, i),
}
"""What can be done to chosen pieces, by the names that the wall view uses."""


@dataclass(frozen=True, slots=True)
class EditTogether:
    """Line up, space, exchange or mirror chosen pieces."""

    option_id: str | None
    piece_ids: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True)
class MoveTogether:
    """Put several pieces there at once: their centres, wall mm."""

    option_id: str | None
    places: Places


@dataclass(frozen=True, slots=True)
class PlaceExactly:
    """Put one piece at a typed place."""

    option_id: str | None
    piece_id: str
    across: str
    up: str


@dataclass(frozen=True, slots=True)
class NextSize:
    """Try a piece in the next size that frames are sold in, larger or smaller."""

    option_id: str | None
    piece_id: str
    larger: bool


@dataclass(frozen=True, slots=True)
class Refinish:
    """Give the mouldings of pieces another finish."""

    piece_ids: tuple[str, ...]
    finish: str


@dataclass(frozen=True, slots=True)
class TakeProposal:
    """Take a proposal into the job as its next option."""

    name: str
    family: str
    places: Places


@dataclass(frozen=True, slots=True)
class ChooseOption:
    """Choose an option: as the client taps it."""

    option_id: str


GroupCommand = (
    EditTogether | MoveTogether | PlaceExactly | NextSize | Refinish | TakeProposal | ChooseOption
)


def read_group_command(value: dict[str, Any]) -> GroupCommand | None:
    """Check a command on chosen pieces; None where it is of another kind.

    Raises
    ------
    ProjectError
        If it is of one of these kinds and cannot be read.
    """
    option = value.get("option")
    option_id = option if isinstance(option, str) else None
    match value.get("kind"):
        case "edit":
            how = value.get("how")
            if how not in EDITS:
                raise _misfit()
            return EditTogether(option_id, _ids(value.get("pieces")), str(how))
        case "together":
            return MoveTogether(option_id, _places(value.get("places")))
        case "place":
            across, up = (str(value.get(name, ""))[:40] for name in ("across", "up"))
            return PlaceExactly(option_id, str(value.get("piece")), across, up)
        case "size":
            return NextSize(option_id, str(value.get("piece")), bool(value.get("larger")))
        case "finish":
            finish = value.get("finish")
            if finish not in FINISHES:
                raise _misfit()
            return Refinish(_ids(value.get("pieces")), str(finish))
        case "choose":
            return ChooseOption(str(option_id))
        case "take":
            name, family = (str(value.get(part) or "")[:80] for part in ("name", "family"))
            return TakeProposal(name, family, _places(value.get("places")))
    return None


def needs_wall(command: GroupCommand) -> bool:
    """Tell whether a command is judged by the wall."""
    return isinstance(command, EditTogether | NextSize)


def edit_together(
    document: Document, command: EditTogether, arrangement: Arrangement, bench: Bench
) -> Document:
    """Line up, space, exchange or mirror chosen pieces of an option; the kept ones stay.

    Raises
    ------
    ArrangementError
        If a piece is kept or does not hang, or there are too few.
    """
    edited = EDITS[command.how](arrangement, command.piece_ids, bench)
    return _placed(document, document.option(command.option_id), edited.arrangement.placements)


def move_together(document: Document, command: MoveTogether) -> Document:
    """Put several pieces of an option where they were let go.

    Raises
    ------
    ProjectError
        If the option or a piece is there no more.
    """
    option = document.option(command.option_id)
    there = {piece_id: Placement(piece_id, x, y) for piece_id, x, y in command.places}
    if not there.keys() <= {p.piece_id for p in option.placements}:
        raise _gone()
    return _placed(document, option, tuple(there.get(p.piece_id, p) for p in option.placements))


def place_exactly(document: Document, command: PlaceExactly) -> Document:
    """Put a piece at a typed place; a field left empty leaves that direction as it is.

    Raises
    ------
    UnitError
        If what was typed is no length.
    ProjectError
        If the option or the piece is there no more.
    """
    option = document.option(command.option_id)
    present = next((p for p in option.placements if p.piece_id == command.piece_id), None)
    if present is None:
        raise _gone()
    x_mm, y_mm = (
        _checked_mm(parse_length(text, default_unit=document.units)) if text.strip() else now
        for text, now in ((command.across, present.x_mm), (command.up, present.y_mm))
    )
    return move_together(
        document, MoveTogether(command.option_id, ((command.piece_id, x_mm, y_mm),))
    )


def next_size(
    document: Document, command: NextSize, arrangement: Arrangement, bench: Bench
) -> Document:
    """Give a piece the next size up or down, in its place; the group keeps its outline.

    Raises
    ------
    PieceError
        If no size is sold beyond it, or its frame and mat leave no room.
    """
    entry = _entry(document, command.piece_id)
    outside = neighbouring_size(entry, larger=command.larger)
    values = {**dict(entry), "width_mm": outside[0], "height_mm": outside[1]}
    try:
        changed = PieceEntry.model_validate(values)
    except ValueError as error:
        raise PieceError(
            f"{entry.name or entry.id} has no room for its mat in that size.",
            hint="Make its mat narrower first, in step Pieces.",
        ) from error
    present = next(p for p in arrangement.pieces if p.id == entry.id)
    other = replace(present, width_mm=outside[0], height_mm=outside[1])
    edited = editing.replace_piece(arrangement, entry.id, other, bench)
    option = document.option(command.option_id)
    return _placed(document, option, edited.arrangement.placements).replacing(changed)


def neighbouring_size(entry: PieceEntry, *, larger: bool) -> tuple[float, float]:
    """Find the outside of the next frame size up or down, of the shape that is nearest.

    Returns
    -------
    Outside width and height, mm.

    Raises
    ------
    PieceError
        If there is none beyond it.
    """
    rail = entry.moulding
    upright = entry.height_mm >= entry.width_mm
    area, shape = entry.width_mm * entry.height_mm, math.log(entry.height_mm / entry.width_mm)
    best: tuple[float, tuple[float, float]] | None = None
    for short, long in print_sizes().values():
        sold = (short, long) if upright else (long, short)
        outside = outside_of_frame(sold, rail) if isinstance(rail, Moulding) else sold
        ratio = outside[0] * outside[1] / area
        if not (ratio > _LARGER if larger else ratio < 1 / _LARGER):
            continue
        off_shape = abs(math.log(outside[1] / outside[0]) - shape)
        cost = abs(math.log(ratio)) + _SHAPE_COUNTS * off_shape
        if best is None or cost < best[0]:
            best = cost, outside
    if best is None:
        raise PieceError(
            f"No {'larger' if larger else 'smaller'} size than {entry.name or entry.id}'s is "
            "commonly sold.",
            hint="Type its size in step Pieces.",
        )
    return best[1]


def refinish(document: Document, command: Refinish) -> Document:
    """Give the mouldings of pieces another finish; what has no moulding stays without.

    Raises
    ------
    ProjectError
        If a piece is there no more.
    """
    for piece_id in command.piece_ids:
        entry = _entry(document, piece_id)
        if entry.moulding is not None:
            rail = replace(entry.moulding, finish=cast(Finish, command.finish))
            document = document.replacing(entry.model_copy(update={"moulding": rail}))
    return document


def choose_option(document: Document, command: ChooseOption) -> Document:
    """Choose an option of the job.

    Raises
    ------
    ProjectError
        If the option is there no more.
    """
    if command.option_id not in {option.id for option in document.options}:
        raise ProjectError(
            "That option is no longer in this job; the choice is left out.",
            hint="It was removed meanwhile, perhaps in another window: choose another.",
        )
    return document.changed(chosen=command.option_id)


def take_proposal(document: Document, command: TakeProposal) -> Document:
    """Take a proposal into the job as its next option, and choose it; what was kept stays kept.

    Raises
    ------
    ProjectError
        If a piece is there no more, or every letter is taken.
    """
    known = {entry.id for entry in document.pieces}
    if not {piece_id for piece_id, _, _ in command.places} <= known:
        raise _gone()
    placements = tuple(Placement(*place) for place in command.places)
    before = document.option().kept if document.options else ()
    kept = tuple(i for i in before if i in {p.piece_id for p in placements})
    document, letter = document.with_placements(
        placements, name=command.name, family=command.family
    )
    option = document.option(letter).model_copy(update={"kept": kept})
    return document.replacing(option).changed(chosen=letter)


def _placed(document: Document, option: OptionEntry, placements: tuple[Placement, ...]) -> Document:
    if placements == option.placements:
        return document
    moved = option.model_copy(update={"placements": placements, "family": "by hand"})
    return document.replacing(moved)


def _entry(document: Document, piece_id: str) -> PieceEntry:
    entry = next((p for p in document.pieces if p.id == piece_id), None)
    if entry is None:
        raise _gone()
    return entry


def _ids(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not 1 <= len(value) <= _MOST_PIECES:
        raise _misfit()
    return tuple(dict.fromkeys(str(one) for one in value))


def _places(value: Any) -> Places:
    if not isinstance(value, list) or not 1 <= len(value) <= _MOST_PIECES:
        raise _misfit()
    places = []
    for one in value:
        if not isinstance(one, dict):
            raise _misfit()
        x, y = one.get("x"), one.get("y")
        if any(isinstance(v, bool) or not isinstance(v, int | float) for v in (x, y)):
            raise _misfit()
        places.append(
            (str(one.get("id")), _checked_mm(cast(float, x)), _checked_mm(cast(float, y)))
        )
    if len({piece_id for piece_id, _, _ in places}) != len(places):
        raise _misfit()
    return tuple(places)


def _checked_mm(length_mm: float) -> float:
    if not -FARTHEST_MM <= length_mm <= FARTHEST_MM:  # of any size, and no number is neither
        raise _misfit()
    return float(length_mm)


def _gone() -> ProjectError:
    return ProjectError(
        "A piece is no longer on this wall; what was done to it here is left out.",
        hint="It was taken away meanwhile, perhaps in another window: Undo brings it back.",
    )


def _misfit() -> ProjectError:
    return ProjectError(
        "The last change on the wall does not fit the job any more and is left out.",
        hint="Something was changed meanwhile, perhaps in another window; look at it and do it "
        "again.",
    )
