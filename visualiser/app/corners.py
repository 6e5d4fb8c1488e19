"""Corners of the reference being placed by hand: none is measured from before it is placed."""

from __future__ import annotations

from dataclasses import dataclass, replace

from visualiser.app.commands import MoveMark, Points
from visualiser.app.session import Kept
from visualiser.app.state import Work


@dataclass(frozen=True, slots=True)
class Placing:
    """Four corners on their way to where they belong, and which of them a hand has placed."""

    job_id: str
    photo: str
    points: Points
    placed: frozenset[int] = frozenset()

    @property
    def complete(self) -> bool:
        """Whether every corner has been placed."""
        return len(self.placed) == len(self.points)


_PLACING: Kept[Placing] = Kept("placing-corners")


def placing(work: Work) -> Placing | None:
    """Recall the corners being placed in the photo of a job that has none set."""
    now = _PLACING.get()
    document = work.document
    if now is None or document.photo is None or document.marks.reference.corners_px is not None:
        return None
    return now if (now.job_id, now.photo) == (work.job_id, document.photo.path) else None


def begin_placing(work: Work, points: Points) -> None:
    """Put up corners to be placed."""
    assert work.document.photo is not None
    _PLACING.put(Placing(work.job_id, work.document.photo.path, points))


def give_up_placing() -> None:
    """Forget the corners that were being placed."""
    _PLACING.take()


def place(now: Placing, mark: MoveMark) -> MoveMark | None:
    """Place one or more of the corners.

    Returns
    -------
    The mark with all four, once every one of them has been placed.
    """
    points = tuple(
        mark.points[i] if i in mark.moved else point for i, point in enumerate(now.points)
    )
    placed = replace(now, points=points, placed=now.placed | set(mark.moved))
    _PLACING.put(placed)
    if not placed.complete:
        return None
    return replace(mark, points=points, moved=tuple(range(len(points))))
