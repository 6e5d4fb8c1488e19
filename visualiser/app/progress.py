"""How far a job has come: which steps have what the later ones need, and what comes next."""

from __future__ import annotations

from visualiser.app.following import survey_if_known
from visualiser.app.results import Results
from visualiser.project.document import Document

ROAD = ("photo", "wall", "pieces", "arrange", "approve", "hang", "check")
"""Steps that every job goes through; the others are there for who wants them."""
_OPTIONAL = {"colours": "arrange", "mockup": "approve"}
"""Steps beside the road, and where each leads back to."""

NEEDED = frozenset({"photo", "wall", "pieces", "arrange"})
"""Steps that the later ones can do nothing without."""


def next_step(step: str) -> str | None:
    """Name the step after another on the road; None after the last."""
    if step in _OPTIONAL:
        return _OPTIONAL[step]
    at = ROAD.index(step) + 1
    return ROAD[at] if at < len(ROAD) else None


def done_steps(results: Results) -> frozenset[str]:
    """Find the steps that have given what the later ones need of them."""
    document = results.document
    survey = survey_if_known(results) if results.wall_known else None
    hung = _is_arranged(document)
    reached = {
        "photo": results.wall_known,
        "wall": survey is not None and survey.floor_known,
        "pieces": bool(document.pieces),
        "arrange": hung,
        "hang": hung and document.wall.kind != "unknown",
        "check": document.as_hung_photo is not None,
    }
    return frozenset(step for step, is_done in reached.items() if is_done)


def _is_arranged(document: Document) -> bool:
    return any(option.placements for option in document.options)
