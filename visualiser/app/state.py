"""The job a page works on: every change made on what is saved by then, and saved at once.

A page may be drawn by two threads at a time, and a job may be open in several pages. So nothing
here is changed in place that another may be reading: each run of the page has a ``Work`` of its
own, and whatever is saved is read, changed and written while the job is held.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from visualiser.errors import ProjectError, VisualiserError
from visualiser.project.document import Document
from visualiser.project.history import HistoryEntry
from visualiser.project.merging import merged
from visualiser.project.store import Project, held_project

Change = Callable[[Document], Document]


@dataclass(frozen=True, slots=True)
class Unsaved:
    """A change that could not be saved, and what it was made on."""

    base: Document
    document: Document


@dataclass(slots=True)
class Hold:
    """What one page of a browser keeps of its job between its runs.

    ``generation`` counts the changes that did not come from a field of the page, which must then
    show what is saved. It starts anywhere: a browser that outlives the server sends what its fields
    held, by their names, and what they showed of an older state is no change. ``answered`` holds
    the numbers of commands that are done without being in the saved job: those that changed
    nothing, and those refused.
    """

    job_id: str
    generation: int = field(default_factory=lambda: secrets.randbits(40))
    shown: Document | None = None
    unsaved: Unsaved | None = None
    trouble: ProjectError | None = None
    answered: dict[str, int] = field(default_factory=dict)


@dataclass(slots=True)
class Work:
    """A job as one run of a page shows and changes it."""

    project: Project
    hold: Hold
    unreadable: ProjectError | None = None

    @classmethod
    def opened(cls, job_id: str, project: Project, hold: Hold | None = None) -> Work:
        """Begin a run of a page with the job as it is saved now.

        Parameters
        ----------
        job_id
            Name of the job in the page's address.
        project
            The job, just opened.
        hold
            What the page's last run kept; None at its first.
        """
        work = cls(project, hold or Hold(job_id))
        work._show(project.document)
        return work

    @property
    def job_id(self) -> str:
        """Name of the job in the page's address."""
        return self.hold.job_id

    @property
    def document(self) -> Document:
        """The job as the page shows it: with the last change even where saving it failed."""
        return self.hold.unsaved.document if self.hold.unsaved else self.project.document

    @property
    def generation(self) -> int:
        """Number to name the page's fields by; another one makes them show what is saved."""
        return self.hold.generation

    @property
    def trouble(self) -> ProjectError | None:
        """Why the job could not be read or saved, if so."""
        return self.unreadable or self.hold.trouble

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self.project.document.history.back)

    @property
    def can_redo(self) -> bool:
        """Whether there is a change to make again."""
        return bool(self.project.document.history.forth)

    def afresh(self) -> Work:
        """Copy for another run, which may begin before this one has ended."""
        return replace(self)

    def change(self, document: Document, *, step: bool = True) -> bool:
        """Save a change made on the document of this page, on top of what is saved by now.

        Parameters
        ----------
        document
            The job as it should be.
        step
            Whether it is a step of its own to undo.

        Returns
        -------
        Whether it is saved; if not, ``trouble`` says why and nothing is lost from the page.
        """
        shown = self.document
        if _same(document, shown):
            return True
        unsaved = self.hold.unsaved
        return self._save(Unsaved(unsaved.base if unsaved else shown, document), step=step)

    def save_again(self) -> None:
        """Try once more to save what could not be saved."""
        self.hold.trouble = None
        if self.hold.unsaved is not None:
            self._save(self.hold.unsaved)

    def answered(self, hand: str) -> int:
        """Give the number of the last command of a page that has been dealt with."""
        return self._answered(self.project.document, hand)

    def _answered(self, document: Document, hand: str) -> int:
        saved = document.history.applied.get(hand, 0)
        return max(saved, self.hold.answered.get(hand, 0))

    @property
    def all_answered(self) -> dict[str, int]:
        """Numbers of the last commands that are dealt with, by the page that gave them."""
        saved = self.project.document.history.applied
        return {hand: self.answered(hand) for hand in {**saved, **self.hold.answered}}

    def answer(self, hand: str, number: int) -> None:
        """Note that a command is dealt with, which has changed nothing that is saved."""
        self.hold.answered[hand] = number

    def command(
        self,
        hand: str,
        number: int,
        change: Change,
        *,
        step: bool = True,
        refreshes: bool = False,
    ) -> bool:
        """Carry out a numbered command on what is saved by now, once.

        Parameters
        ----------
        hand, number
            Who gave it, and its number there.
        change
            What it does to the job.
        step
            Whether it is a step of its own to undo.
        refreshes
            Whether it changes what the fields of the page show.

        Returns
        -------
        Whether it has been dealt with; if not, ``trouble`` says why, and it may be given again.

        Raises
        ------
        VisualiserError
            If it does not fit the job as it is by now. It is dealt with then.
        """

        def changed(document: Document) -> Document:
            following = change(document)
            if _same(following, document):
                return document
            history = document.history
            if step:
                history = history.after_change(document.revision)
            return following.model_copy(update={"history": history})

        dealt_with = self._numbered(hand, number, lambda present: changed(present.document))
        if refreshes:
            self._show(self.project.document)
        else:
            self.hold.shown = self.project.document  # no field shows what a hand does on the wall
        return dealt_with

    def command_undo(self, hand: str, number: int) -> bool:
        """Take the last change back, as a numbered command; see ``command``."""
        dealt_with = self._numbered(hand, number, _undone)
        self._show(self.project.document)
        return dealt_with

    def command_redo(self, hand: str, number: int) -> bool:
        """Make the last undone change again, as a numbered command; see ``command``."""
        dealt_with = self._numbered(hand, number, _redone)
        self._show(self.project.document)
        return dealt_with

    def undo(self) -> None:
        """Go back one change."""
        self.command_undo("", 0)

    def redo(self) -> None:
        """Take the last undone change up again."""
        self.command_redo("", 0)

    def _numbered(self, hand: str, number: int, change: Callable[[Project], Document]) -> bool:
        refused: VisualiserError | None = None
        if self.hold.unsaved is not None and not self._save(self.hold.unsaved):
            return False
        try:
            with held_project(self.project.folder) as present:
                self._show(present.document)
                following = present.document
                done = self._answered(following, hand) if hand else -1
                if number > done:
                    try:
                        following = change(present)
                    except VisualiserError as error:
                        refused = error
                if following is not present.document:
                    history = following.history
                    if hand:
                        history = history.with_applied(hand, number)
                    present = present.write(following.model_copy(update={"history": history}))
                elif hand and number > done:
                    self.answer(hand, number)
        except ProjectError as error:
            self.hold.trouble = error
            return False
        self.hold.trouble = None
        self.project = present
        if refused is not None:
            raise refused
        return True

    def _save(self, change: Unsaved, *, step: bool = True) -> bool:
        try:
            with held_project(self.project.folder) as present:
                document = present.document
                try:
                    following = merged(change.base, change.document, document)
                except ProjectError as error:  # on what has been saved meanwhile it makes no sense
                    return self._not_saved(error, None)
                saved = present
                if not _same(following, document):  # another run of the page may have saved it
                    history = document.history
                    if step:
                        history = history.after_change(document.revision)
                    saved = present.write(following.model_copy(update={"history": history}))
        except ProjectError as error:
            return self._not_saved(error, change)
        self.hold.trouble = self.hold.unsaved = None
        self.project = saved
        self.hold.shown = change.document  # that much is in the page's fields already
        self._show(saved.document)
        return True

    def _not_saved(self, error: ProjectError, change: Unsaved | None) -> bool:
        self.hold.trouble = error
        self.hold.unsaved = change
        self.hold.generation += 1  # the fields show what is kept, as it was read
        return False

    def _show(self, document: Document) -> None:
        """Have the fields drawn anew where they would show something else by now."""
        shown, self.hold.shown = self.hold.shown, document
        if shown is not None and not _same_in_fields(shown, document):
            self.hold.generation += 1


def option_on_view(work: Work) -> str | None:
    """Id of the option that is shown: the chosen one, or the first."""
    if work.document.chosen is not None:
        return work.document.chosen
    return work.document.options[0].id if work.document.options else None


def _undone(present: Project) -> Document:
    history = present.document.history
    return _back_at(
        present,
        history.back[-1:],
        history.after_undo(present.document.revision),
        history.model_copy(update={"back": ()}),
    )


def _redone(present: Project) -> Document:
    history = present.document.history
    return _back_at(
        present,
        history.forth[-1:],
        history.after_redo(present.document.revision),
        history.model_copy(update={"forth": ()}),
    )


def _back_at(
    present: Project, revisions: tuple[int, ...], history: HistoryEntry, without: HistoryEntry
) -> Document:
    """Give an earlier state in the unit used now; the present one where none is."""
    if not revisions:
        return present.document
    try:
        earlier = present.earlier(revisions[0])
    except ProjectError:  # its file has been spoiled: it would stand in the way for ever
        earlier = None
    if earlier is None:
        return present.document.model_copy(update={"history": without})
    return earlier.model_copy(
        update={
            "units": present.document.units,
            "revision": present.document.revision,
            "history": history.model_copy(update={"applied": present.document.history.applied}),
        }
    )


def _same(one: Document, other: Document) -> bool:
    return _without(one, "revision", "history") == _without(other, "revision", "history")


def _same_in_fields(one: Document, other: Document) -> bool:
    """Whether the fields of a page show the same: where pieces hang is shown on the wall."""

    def in_fields(document: Document) -> dict[str, object]:
        options = tuple(
            option.model_copy(update={"placements": (), "family": "", "kept": ()})
            for option in document.options
        )
        return {**_without(document, "revision", "history", "hooks_up_mm"), "options": options}

    return in_fields(one) == in_fields(other)


def _without(document: Document, *names: str) -> dict[str, object]:
    return {name: value for name, value in document if name not in names}
