"""Marks let go in the photo: put on the edge beneath, with the hand's own place kept at hand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from visualiser.app.commands import KeepMark, MoveMark, Points, move_mark
from visualiser.photo.photo import Photo
from visualiser.project.document import Document
from visualiser.project.wall_entries import MarksEntry
from visualiser.rectification.edges.snapping import snapped_corners, snapped_line

_LINES, _OUTLINES = ("floor", "line"), ("reference", "outline", "zone", "furniture")
LEAST_PX = 0.05
"""A shorter way to the edge is not worth saying."""


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
        return {
            "id": self.shape_id,
            "hand": self.hand,
            "points": self.points,
            "moved": self.moved,
        }

    def with_hand(self, document: Document) -> Document:
        """Put the mark back to where the hand let it go, and look for no edge there."""
        return move_mark(document, KeepMark(self.shape_id, self.hand, self.moved))


def snap_edit(document: Document, mark: MoveMark, photo: Photo) -> tuple[Document, Snapped]:
    """Carry out the move of a mark, on the edge where one is near.

    Returns
    -------
    The changed job, and what was snapped; its points are the hand's where nothing was.
    """
    hand, kind = mark.points, mark.shape_id.partition("-")[0]
    points = np.array(hand)
    if kind in _LINES and len(hand) > 1:
        points = snapped_line(photo, points)
    elif kind in _OUTLINES and len(hand) > 2:
        points = snapped_corners(photo, points, list(mark.moved))
    off = np.hypot(*(points - np.array(hand)).T) > LEAST_PX
    put = tuple(
        (float(p[0]), float(p[1])) if away else h
        for p, h, away in zip(points, hand, off, strict=True)
    )
    moved = tuple(sorted({*mark.moved, *np.flatnonzero(off).tolist()}))
    changed = move_mark(document, replace(mark, points=put, moved=moved))
    return changed, Snapped(mark.shape_id, hand, put, moved, changed.marks)
