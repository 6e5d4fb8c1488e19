"""Marks let go in the photo: put on the edge beneath, with the hand's own place kept at hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from visualiser.app.edits import Points, checked_points, shape_moved
from visualiser.photo.photo import Photo
from visualiser.project.document import Document
from visualiser.project.wall_entries import MarksEntry
from visualiser.rectification.edges.snapping import snapped_corners, snapped_line

_LINES, _OUTLINES = ("floor", "line"), ("reference", "outline", "zone", "furniture")
LEAST_PX = 0.05
"""A shorter way to the edge is not worth telling."""


@dataclass(frozen=True, slots=True)
class Snapped:
    """A mark that has been put on the edge it was let go beside."""

    shape_id: str
    hand: Points
    points: Points
    moved: tuple[int, ...]
    marks: MarksEntry | None = None
    """What the marks were after it; once they are others, it is history."""

    def shown(self) -> dict[str, Any]:
        """Say to the wall view what went where."""
        return {"id": self.shape_id, "hand": self.hand, "points": self.points}

    def with_hand(self, document: Document) -> Document:
        """Put the mark back to where the hand let it go, and look for no edge there."""
        changed = shape_moved(document, self.shape_id, self.hand, self.moved)
        if self.shape_id != "reference":
            return changed
        reference = changed.marks.reference.model_copy(update={"as_set": True})
        return changed.changed(marks=changed.marks.model_copy(update={"reference": reference}))


def snap_edit(document: Document, edit: dict[str, Any], photo: Photo) -> tuple[Document, Snapped]:
    """Carry out the move of a mark, on the edge where one is near.

    Returns
    -------
    The changed job, and what was snapped; its points are the hand's where nothing was.
    """
    hand = checked_points(edit.get("points"))
    shape_id, moved = str(edit.get("id")), edit.get("moved")
    indices = [i for i in moved if i in range(len(hand))] if isinstance(moved, list) else []
    kind = shape_id.partition("-")[0]
    points = np.array(hand)
    if kind in _LINES and len(hand) > 1:
        points = snapped_line(photo, points)
    elif kind in _OUTLINES and len(hand) > 2:
        points = snapped_corners(photo, points, indices)
    off = np.hypot(*(points - np.array(hand)).T) > LEAST_PX
    put = tuple(
        (float(p[0]), float(p[1])) if away else h
        for p, h, away in zip(points, hand, off, strict=True)
    )
    all_moved = tuple(sorted({*indices, *np.flatnonzero(off).tolist()}))
    changed = shape_moved(document, shape_id, put, all_moved)
    return changed, replace(Snapped(shape_id, hand, put, all_moved), marks=changed.marks)
