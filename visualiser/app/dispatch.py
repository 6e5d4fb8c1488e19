"""Commands that a page has sent, carried out in their order, each once."""

from __future__ import annotations

from dataclasses import replace

from visualiser.app import command_bar, jobs
from visualiser.app.commands import (
    ChooseUnit,
    Command,
    KeepMark,
    Lock,
    Move,
    MoveMark,
    Points,
    Redo,
    TakeFound,
    Undo,
    lock_piece,
    move_mark,
    move_piece,
    read_command,
    read_outbox,
    take_found,
)
from visualiser.app.corners import place, placing
from visualiser.app.faults import note_fault
from visualiser.app.group_commands import (
    ChooseOption,
    EditTogether,
    GroupCommand,
    MoveTogether,
    NextSize,
    PlaceExactly,
    Refinish,
    TakeProposal,
    choose_option,
    edit_together,
    move_together,
    next_size,
    place_exactly,
    read_group_command,
    refinish,
    take_proposal,
)
from visualiser.app.hook_commands import TickHook, read_tick, tick_hook
from visualiser.app.reach import only_this_computer
from visualiser.app.results import Results
from visualiser.app.row_commands import (
    EditRow,
    RemoveRow,
    Waiting,
    edit_rows,
    keep_waiting,
    read_row,
    waiting_rows,
)
from visualiser.app.session import EDIT_TROUBLE, WORK, Kept
from visualiser.app.snapping import Snapped, snap_edit
from visualiser.app.state import Work
from visualiser.arrangement.editing import Bench
from visualiser.errors import ProjectError, VisualiserError
from visualiser.project.document import Document

SQUARED_SHAPE = "squared-corners"
"""Shape whose corners belong to no job yet: an artwork's."""
SQUARED: Kept[Points] = Kept(SQUARED_SHAPE)
_SNAPPED: Kept[Snapped] = Kept("snapped-mark")
"""The mark that was put on an edge last."""


def snapped_mark(work: Work) -> Snapped | None:
    """Recall the mark put on an edge by the last change, until the marks change again."""
    snapped = _SNAPPED.get()
    return snapped if snapped is not None and snapped.marks == work.document.marks else None


def dispatch_sent() -> None:
    """Carry out the commands that the page's browser has sent and that are not dealt with yet."""
    work = WORK.get()
    if work is not None:
        dispatch_to(work.afresh())


def dispatch_to(work: Work) -> bool:
    """Carry out what has been sent on a job.

    Returns
    -------
    Whether any command has been dealt with. One that cannot be saved is not: it waits, with those
    behind it, and the page says why.
    """
    dealt_with = False
    for batch in read_outbox(command_bar.sent_outbox(), work.job_id):
        for number, value in batch.commands:
            if number <= work.answered(batch.hand):
                continue
            try:
                command = (
                    read_tick(value)
                    or read_row(value)
                    or read_group_command(value)
                    or read_command(value)
                )
                if not _dispatch(work, batch.hand, number, command):
                    return dealt_with
            except VisualiserError as error:
                EDIT_TROUBLE.put(error)
                work.answer(batch.hand, number)
            except Exception as fault:
                # Not answered, it would be sent for ever, after a reload too, before all others.
                note_fault("a change on the wall", fault)
                EDIT_TROUBLE.put(_faulty())
                work.answer(batch.hand, number)
            dealt_with = True
    return dealt_with


def _faulty() -> ProjectError:
    return ProjectError(
        "A change could not be made because of a fault in the program; nothing else is lost.",
        hint="Try it in another way, and send the program's log to whoever looks after it.",
    )


def _dispatch(
    work: Work,
    hand: str,
    number: int,
    command: Command | GroupCommand | TickHook | EditRow | RemoveRow,
) -> bool:
    match command:
        case EditRow() | RemoveRow():
            return _edit_rows(work, hand, number, command)
        case TickHook():
            return work.command(hand, number, lambda job: tick_hook(job, command))
        case Undo():
            return work.command_undo(hand, number)
        case Redo():
            return work.command_redo(hand, number)
        case Move():
            return work.command(hand, number, lambda job: move_piece(job, command))
        case MoveTogether():
            return work.command(hand, number, lambda job: move_together(job, command))
        case PlaceExactly():
            return work.command(hand, number, lambda job: place_exactly(job, command))
        case Refinish():
            return work.command(hand, number, lambda job: refinish(job, command), refreshes=True)
        case ChooseOption():
            chosen = lambda job: choose_option(job, command)  # noqa: E731
            return work.command(hand, number, chosen, refreshes=True)
        case TakeProposal():
            take = lambda job: take_proposal(job, command)  # noqa: E731
            return work.command(hand, number, take, refreshes=True)
        case EditTogether() | NextSize():
            return _edit(work, hand, number, command)
        case TakeFound():
            take_it = lambda job: take_found(job, command)  # noqa: E731
            return work.command(hand, number, take_it, refreshes=True)
        case ChooseUnit(unit=unit):  # how lengths are shown, and no step to undo
            if only_this_computer():
                jobs.remember_units(unit)
            return work.command(hand, number, lambda job: job.changed(units=unit), step=False)
        case Lock():
            return work.command(hand, number, lambda job: lock_piece(job, command))
        case KeepMark():  # another outcome of the move before it: the two are one step to undo
            return work.command(hand, number, lambda job: move_mark(job, command), step=False)
        case MoveMark(shape_id=shape) if shape == SQUARED_SHAPE:
            SQUARED.put(command.points)
            work.answer(hand, number)
            return True
        case MoveMark(shape_id="reference", points=points) if len(points) == 4 and (
            corners := placing(work)
        ):
            if (whole := place(corners, command)) is not None:
                return _move_mark(work, hand, number, whole)
            work.answer(hand, number)
            return True
        case MoveMark():
            return _move_mark(work, hand, number, command)


def _edit_rows(work: Work, hand: str, number: int, command: EditRow | RemoveRow) -> bool:
    kept: list[Waiting] = []

    def change(job: Document) -> Document:
        document, waiting = edit_rows(job, command, waiting_rows(work.job_id))
        kept.append(waiting)
        return document

    dealt_with = work.command(hand, number, change, refreshes=True)
    if dealt_with and kept:
        keep_waiting(kept[-1])
    return dealt_with


def _edit(work: Work, hand: str, number: int, command: EditTogether | NextSize) -> bool:
    """Carry out what is judged by the wall, which is measured before the job is held."""
    Results(work.project).survey()

    def change(job: Document) -> Document:
        results = Results(replace(work.project, document=job))
        option = job.option(command.option_id)
        bench = Bench(results.survey(), job.guidelines, frozenset(option.kept))
        arrangement = results.arrangement(option.id)
        if isinstance(command, EditTogether):
            return edit_together(job, command, arrangement, bench)
        return next_size(job, command, arrangement, bench)

    return work.command(hand, number, change, refreshes=isinstance(command, NextSize))


def _move_mark(work: Work, hand: str, number: int, mark: MoveMark) -> bool:
    """Move a mark: to the edge where one is near, unless the hand wants it just there."""
    if mark.free or work.document.photo is None:
        return work.command(hand, number, lambda job: move_mark(job, mark))
    photo = Results(work.project).photo()  # before the job is held: decoding takes a moment
    moved: list[Snapped] = []

    def change(job: Document) -> Document:
        document, snapped = snap_edit(job, mark, photo)
        moved.append(snapped)
        return document

    dealt_with = work.command(hand, number, change)
    if moved and moved[-1].points != moved[-1].hand:
        _SNAPPED.put(moved[-1])
    return dealt_with
