"""The file of a shared plan: places and sizes without artworks, as JSON."""

from __future__ import annotations

import json

from visualiser.arrangement.slots import Plan, Slot
from visualiser.errors import ArrangementError

_LONGEST_BYTES = 1_000_000
"""A plan of 200 places takes 40 kB."""
FORMAT = "hanging plan"
VERSION = 1


def write_plan(plan: Plan) -> bytes:
    """Write a plan as JSON text in UTF-8."""
    data = {
        "format": FORMAT,
        "version": VERSION,
        "name": plan.name,
        "family": plan.family,
        "gap_mm": plan.gap_mm,
        "centre_height_mm": plan.centre_height_mm,
        "slots": [
            {
                "id": s.id,
                "x_mm": round(s.x_mm, 3),
                "y_mm": round(s.y_mm, 3),
                "width_mm": s.width_mm,
                "height_mm": s.height_mm,
            }
            for s in plan.slots
        ],
    }
    return json.dumps(data, ensure_ascii=False, indent=1).encode()


def read_plan(content: bytes) -> Plan:
    """Read a plan back.

    Raises
    ------
    ArrangementError
        If it is no such plan, is damaged, or was written by a newer version.
    """
    hint = "Choose a plan that was saved here."
    if len(content) > _LONGEST_BYTES:
        raise ArrangementError("This file is far longer than a hanging plan.", hint=hint)
    try:
        data = json.loads(content)
        if data.get("format") != FORMAT:
            raise ArrangementError("This file is no hanging plan.", hint=hint)
        version = data["version"]
        if not isinstance(version, int) or not 1 <= version < 10_000:
            raise ValueError("no number of a version")
        if version > VERSION:
            raise ArrangementError(
                f"The plan was written by a newer version ({version}).",
                hint="Update this program to read it.",
            )
        slots = tuple(
            Slot(
                str(s["id"]),
                float(s["x_mm"]),
                float(s["y_mm"]),
                float(s["width_mm"]),
                float(s["height_mm"]),
            )
            for s in data["slots"]
        )
        return Plan(
            slots,
            float(data["gap_mm"]),
            str(data.get("family", "by hand")),
            str(data.get("name", "")),
            float(data["centre_height_mm"]),
        )
    except (
        ValueError,
        KeyError,
        TypeError,
        AttributeError,
        RecursionError,
        OverflowError,
    ) as error:
        raise ArrangementError("The plan is damaged.", hint=hint) from error
