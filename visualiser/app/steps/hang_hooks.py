"""The hooks of a plan: as rows to tick off on the ladder, and as crosses on the wall."""

from __future__ import annotations

from typing import Any

import numpy as np
import streamlit as st

from visualiser.app import hook_list
from visualiser.app.fields import half_width, held_together, length, lengths_in, load, unit_of
from visualiser.app.hook_commands import is_up
from visualiser.app.scene import Shape, mapping_of, to_picture
from visualiser.app.state import Work
from visualiser.findings import Finding
from visualiser.hanging.piece_plan import PiecePlan
from visualiser.hanging.plan import HangingPlan
from visualiser.hanging.withheld import WITHHELD
from visualiser.inventory.bearing import PointMm
from visualiser.survey.survey import Survey
from visualiser.units import Unit

_TEXT_AT = 0.35
"""How far along a measure its words stand: nearer to the hook, as the other end may be unseen."""

_DATUM_MM = 120.0
"""Half the length of the mark that distances across are counted from."""
_TEXT_LOWER = 0.018
"""How far below a level measure its words stand, of the picture's width: the hook has its name
above."""


def belongs_to_hooks(finding: Finding, plan: HangingPlan) -> bool:
    """Check whether a caution concerns some pieces only, and so stands at their hooks."""
    concerned = len(set(finding.piece_ids))
    some = 0 < concerned < len(plan.pieces) or concerned == len(plan.pieces) == 1
    return finding.severity == "caution" and some


def show_hooks(work: Work, plan: HangingPlan) -> None:
    """Show every hook with its place and its tick, in the order of hanging."""
    st.subheader("Hooks, in the order of hanging")
    across, up = plan.measures.across_half_width_mm, plan.measures.up_half_width_mm
    sides, heights = (half_width(work, mm).replace(" ", "\u00a0") for mm in (across, up))
    st.markdown(f"Measured to {sides} across and {heights} in height.")
    if not plan.measures.side_known and plan.measures.side == "left":
        st.markdown(
            "Mark the middle of the sheet on the wall, above the group, before the sheet comes "
            "down, and every hook before the first picture hides it."
        )
    hook_list.mount(
        {
            "job": work.job_id,
            "answered": work.all_answered,
            "from": plan.measures.across_from,
            "pieces": [_piece_row(work, plan, piece) for piece in plan.pieces],
        }
    )


def _piece_row(work: Work, plan: HangingPlan, piece: PiecePlan) -> dict[str, Any]:
    unit = unit_of(work)
    concerning = [
        finding
        for finding in plan.findings
        if belongs_to_hooks(finding, plan) and piece.piece.id in finding.piece_ids
    ]
    where = {0: "to its middle", 1: "on its hook"}.get(len(piece.hooks_mm), "on each hook")
    held = f"{load(work, piece.fixing.load_kg)} {where}" if piece.hooks_mm else where
    return {
        "name": held_together(piece.name),
        "held": f"{held} · {_fixing(piece)}",
        "cautions": [
            f"{_own_words(finding.text, piece, unit)} {lengths_in(finding.hint, unit)}".strip()
            for finding in concerning
        ],
        "hooks": [
            {
                "name": name,
                "across": _across(work, plan, at[0]),
                "up": length(work, at[1]),
                "at_mm": [float(at[0]), float(at[1])],
                "is_up": is_up(work.document.hooks_up_mm, at),
            }
            for name, at in _hooks(piece)
        ],
    }


def _own_words(text: str, piece: PiecePlan, unit: Unit) -> str:
    """Write a caution that stands under its piece's name, without that name before it."""
    words = lengths_in(text, unit)
    named = held_together(f"Piece {piece.name}: ")
    if not words.startswith(named):
        return words
    rest = words[len(named) :]
    return rest[:1].upper() + rest[1:]


def _fixing(piece: PiecePlan) -> str:
    if piece.fixing.fixing is None:
        return f"no fixing named: {WITHHELD[piece.fixing.reasons[0]].short}"
    return piece.fixing.name


def _hooks(piece: PiecePlan) -> list[tuple[str, PointMm]]:
    """Each hook's name and place; a piece on strips has one place, its middle."""
    if not piece.hooks_mm:
        return [(str(piece.number), piece.rect.centre_mm)]
    return list(zip(piece.hook_names(), piece.hooks_mm, strict=True))


def _across(work: Work, plan: HangingPlan, x_mm: float) -> str:
    """Print a distance across, short, and never broken over two lines."""
    text = plan.measures.across(x_mm, unit_of(work))
    return text.replace(" to its", "").replace(" ", "\u00a0")


def _datum(plan: HangingPlan, survey: Survey, height_mm: float) -> list[Shape]:
    """Draw where distances across are counted from, beside the hook that comes next."""
    x = plan.measures.side_x_mm
    ends = np.array([[x, height_mm + _DATUM_MM], [x, height_mm - _DATUM_MM]])
    points = to_picture(mapping_of(survey), ends)
    if not np.isfinite(points).all():  # beyond what the camera could see
        return []
    return [
        {
            "id": "datum",
            "kind": "datum",
            "label": f"0: {plan.measures.across_from}",
            "points": points.tolist(),
            "closed": False,
            "editable": False,
        }
    ]


def hooks_on_wall(
    work: Work, plan: HangingPlan, survey: Survey, width_px: int
) -> tuple[list[Shape], list[dict[str, Any]]]:
    """Draw every hook into the photo, and the measures of the one that comes next."""
    mapping = mapping_of(survey)
    shapes: list[Shape] = []
    coming: PointMm | None = None
    for piece in plan.pieces:
        for index, (name, at) in enumerate(_hooks(piece)):
            done = is_up(work.document.hooks_up_mm, at)
            comes = not done and coming is None
            if comes:
                coming = at
            shapes.append(
                {
                    "id": f"hook-{piece.number}-{index}",
                    "kind": "hook up" if done else "hook next" if comes else "hook",
                    "label": name,
                    "points": to_picture(mapping, np.array([at])).tolist(),
                    "closed": False,
                    "editable": False,
                }
            )
    if coming is None:
        return shapes, []
    x, y = coming
    shapes += _datum(plan, survey, y)
    measures = []
    for start, text, lower_px in (
        ((plan.measures.side_x_mm, y), _across(work, plan, x), _TEXT_LOWER * width_px),
        ((x, 0.0), length(work, y), 0.0),
    ):
        line = to_picture(mapping, np.array([coming, start]))
        if np.isfinite(line).all():
            at = line[0] + _TEXT_AT * (line[1] - line[0]) + (0.0, lower_px)
            measures.append(
                {"points": line.tolist(), "text": text, "at": at.tolist(), "kind": "of-hook"}
            )
    return shapes, measures
