"""What was done in the wall view, carried out once: marks let go, pieces moved, places kept."""

from __future__ import annotations

from visualiser.app import wall_canvas
from visualiser.app.edits import Points, apply_edit, checked_points
from visualiser.app.results import Results
from visualiser.app.session import EDIT_TROUBLE, WORK, Kept
from visualiser.app.snapping import Snapped, snap_edit
from visualiser.app.state import Work, option_on_view
from visualiser.errors import VisualiserError

SQUARED_SHAPE = "squared-corners"
"""Shape whose corners belong to no job yet: an artwork's."""
SQUARED: Kept[Points] = Kept(SQUARED_SHAPE)
_SNAPPED: Kept[Snapped] = Kept("snapped-mark")
"""The mark that was put on an edge last."""


def snapped_mark(work: Work) -> Snapped | None:
    """Recall the mark put on an edge by the last change, until the marks change again."""
    snapped = _SNAPPED.get()
    return snapped if snapped is not None and snapped.marks == work.document.marks else None


def _keep_hands_place(work: Work) -> None:
    if (snapped := snapped_mark(work)) is not None:
        work.amend(snapped.with_hand(work.document))


def dispatch_edit() -> None:
    """Carry out what was done in the wall view last, unless that has been done."""
    work = WORK.get()
    edit = wall_canvas.last_edit()
    if work is None or not edit or edit.get("seq") == work.seen:
        return
    if edit.get("epoch") != work.epoch or work.overtaken:
        work.epoch += 1  # made on top of something older: show the page's own state again
        return
    sequence = edit.get("seq")
    work.seen = sequence if isinstance(sequence, int) else 0
    try:
        if edit.get("id") == SQUARED_SHAPE:
            SQUARED.put(checked_points(edit.get("points")))
            return
        if edit.get("kind") == "keep":
            _keep_hands_place(work)
            return
        if edit.get("kind") == "shape" and not edit.get("free") and work.document.photo:
            document, snapped = snap_edit(work.document, edit, Results(work.project).photo())
            if snapped.points != snapped.hand:
                _SNAPPED.put(snapped)
        else:
            document = apply_edit(work.document, edit, option_on_view(work))
    except VisualiserError as error:
        EDIT_TROUBLE.put(error)
        work.epoch += 1
        return
    work.change(document, from_view=edit.get("kind") == "placements")
