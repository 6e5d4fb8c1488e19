"""The job a page works on: saved after every change, with undo and redo across all steps."""

from __future__ import annotations

from dataclasses import dataclass, field

from visualiser.errors import ProjectChanged, ProjectError
from visualiser.project.document import Document
from visualiser.project.paths import DOCUMENT_NAME
from visualiser.project.store import Project, open_project

MOST_STEPS_BACK = 100


@dataclass(slots=True)
class Work:
    """One page's hold on a job.

    ``epoch`` counts the changes that did not come from the wall view, which must then take over
    what it is given; ``generation`` counts those that did not come from a field of the page.
    """

    job_id: str
    project: Project
    undone: list[Document] = field(default_factory=list)
    done: list[Document] = field(default_factory=list)
    epoch: int = 1
    generation: int = 1
    seen: int = 0
    trouble: ProjectError | None = None
    unsaved: Document | None = None

    @property
    def document(self) -> Document:
        """The job as the page shows it: with the last change even where saving it failed."""
        return self.unsaved or self.project.document

    @property
    def overtaken(self) -> bool:
        """Whether the job has been saved elsewhere, so that this page may not save any more."""
        return isinstance(self.trouble, ProjectChanged)

    def change(self, document: Document, *, from_view: bool = False) -> bool:
        """Save a change, and remember what was before.

        Returns
        -------
        Whether it is saved; if not, ``trouble`` says why and nothing is lost from the page.
        """
        before = self.document
        if not from_view:
            self.epoch += 1
        if _same(document, before):
            return True
        if not self._save(document):
            return False
        self.done = [*self.done, before][-MOST_STEPS_BACK:]
        self.undone.clear()
        return True

    def amend(self, document: Document) -> bool:
        """Save another outcome of the last change, which stays one step to undo.

        Returns
        -------
        Whether it is saved.
        """
        self.epoch += 1
        return self._save(document)

    def undo(self) -> None:
        """Go back one change."""
        self._step(self.done, self.undone)

    def redo(self) -> None:
        """Take the last undone change up again."""
        self._step(self.undone, self.done)

    def save_again(self) -> None:
        """Try once more to save what could not be saved."""
        if self.unsaved is not None:
            self._save(self.unsaved)

    def reload(self) -> None:
        """Take over what is saved in the job's folder.

        Raises
        ------
        ProjectError
            If the job can no longer be read.
        """
        self.project = open_project(self.project.folder)
        self.unsaved = self.trouble = None
        self.done.clear()
        self.undone.clear()
        self._refresh()

    def look_outside(self) -> None:
        """Notice that the job was saved elsewhere, or that its folder has gone."""
        if self.trouble is not None:
            return
        place = self.project.folder / DOCUMENT_NAME
        try:
            on_disk = open_project(self.project.folder).document.revision
        except ProjectError as error:
            self.trouble = error
            return
        if on_disk != self.project.document.revision:
            self.trouble = ProjectChanged(
                f"This job was changed in another window since it was opened here ({place.name} "
                "is newer).",
                hint="Take over the newer state to go on.",
            )

    def _step(self, source: list[Document], target: list[Document]) -> None:
        if not source:
            return
        before, wanted = self.document, source[-1]
        if self._save(wanted):
            source.pop()
            target.append(before)
        self._refresh()

    def _save(self, document: Document) -> bool:
        if self.overtaken:
            return False
        try:
            self.project = self.project.save(document)
        except ProjectError as error:
            self.trouble = error
            if not self.overtaken:
                self.unsaved = document
            self._refresh()
            return False
        self.unsaved = self.trouble = None
        return True

    def _refresh(self) -> None:
        self.epoch += 1
        self.generation += 1


def option_on_view(work: Work) -> str | None:
    """Id of the option that is shown: the chosen one, or the first."""
    if work.document.chosen is not None:
        return work.document.chosen
    return work.document.options[0].id if work.document.options else None


def _same(one: Document, other: Document) -> bool:
    return one.model_copy(update={"revision": 0}) == other.model_copy(update={"revision": 0})
