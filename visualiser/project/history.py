"""What a saved job remembers of how it came to be: the states behind it, and the commands in it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from visualiser.project.entries import Entry

MOST_STEPS = 100
"""How many changes can be undone."""
_MOST_HANDS = 50
"""How many pages' last commands are remembered; one counts from its loading to its closing."""

Revision = Annotated[int, Field(ge=0)]
Hand = Annotated[str, Field(pattern=r"^[0-9a-z-]{1,40}$")]


class HistoryEntry(Entry):
    """Saved states to go back and forth to, by their revisions, and whose commands are in this one.

    A command is numbered by the page that gave it, its *hand*. As its number is saved together
    with what it did, it is done once, also where the answer is lost and it is sent again.
    """

    back: Annotated[tuple[Revision, ...], Field(max_length=MOST_STEPS)] = ()
    forth: Annotated[tuple[Revision, ...], Field(max_length=MOST_STEPS)] = ()
    applied: Annotated[dict[Hand, Revision], Field(max_length=_MOST_HANDS)] = Field(default={})

    def after_change(self, revision: int) -> HistoryEntry:
        """History once a change is made on top of a revision."""
        return self.model_copy(update={"back": (*self.back, revision)[-MOST_STEPS:], "forth": ()})

    def after_undo(self, revision: int) -> HistoryEntry:
        """History once the last change, which made a revision, is taken back."""
        forth = (*self.forth, revision)[-MOST_STEPS:]
        return self.model_copy(update={"back": self.back[:-1], "forth": forth})

    def after_redo(self, revision: int) -> HistoryEntry:
        """History once the change undone last is made again on top of a revision."""
        back = (*self.back, revision)[-MOST_STEPS:]
        return self.model_copy(update={"back": back, "forth": self.forth[:-1]})

    def with_applied(self, hand: str, number: int) -> HistoryEntry:
        """History that remembers a command; the hands that have rested longest are forgotten."""
        others = [(h, n) for h, n in self.applied.items() if h != hand]
        return self.model_copy(update={"applied": dict([*others, (hand, number)][-_MOST_HANDS:])})
