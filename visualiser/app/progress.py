"""How far a job has come: which steps have what the later ones need, and what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from visualiser.app.following import survey_if_known
from visualiser.app.results import Results
from visualiser.app.step import Step
from visualiser.arrangement.arrangement import Placement
from visualiser.geometry import Rect
from visualiser.project.document import Document

_HIGHEST_MM = 20_000.0
"""A picture rail is nowhere higher above a piece."""


def next_step(step: str, steps: Sequence[Step]) -> Step | None:
    """Find the step after another, leaving out those that few need; None after the last."""
    keys = [one.key for one in steps]
    return next((one for one in steps[keys.index(step) + 1 :] if not one.optional), None)


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
        "hang": hung and _hangs_from_hooks(document),
        "check": document.as_hung_photo is not None,
    }
    return frozenset(step for step, is_done in reached.items() if is_done)


def _hangs_from_hooks(document: Document) -> bool:
    """Whether every piece of the option on the wall has a hook in the wall behind it, or above."""
    pieces = {piece.id: piece for piece in document.pieces}
    option = next((o for o in document.options if o.id == document.chosen), document.options[0])
    hooks = [Rect.from_centre(*at, 0.0, 0.0) for at in document.hooks_up_mm]

    def hangs(place: Placement) -> bool:
        piece = pieces[place.piece_id]
        behind = Rect.from_centre(place.x_mm, place.y_mm, piece.width_mm, piece.height_mm)
        if piece.hanger.of.bears == "cords":  # its cords come down from hooks far above
            behind = replace(behind, height_mm=_HIGHEST_MM)
        return any(behind.contains(hook) for hook in hooks)

    return all(map(hangs, option.placements))


def _is_arranged(document: Document) -> bool:
    return any(option.placements for option in document.options)
