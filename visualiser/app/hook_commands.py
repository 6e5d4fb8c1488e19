"""Ticks on hooks, from the ladder: a hook that is in the wall is noted by its place.

By its place and not by its piece: a hook stays where it was put, so a piece that is moved
afterwards is no longer ticked, and one that is hung in its place from the same hook still is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from visualiser.errors import ProjectError
from visualiser.inventory.bearing import PointMm
from visualiser.project.document import MOST_HOOKS_UP, Document

SAME_HOOK_MM = 1.0
"""Two places so near are of one hook: less than a nail's own width; our own limit, no source."""
_FARTHEST_MM = 1e6


@dataclass(frozen=True, slots=True)
class TickHook:
    """Note that a hook is in the wall, or no longer."""

    at_mm: PointMm
    is_up: bool


def read_tick(value: dict[str, Any]) -> TickHook | None:
    """Read a tick; None for a command of another kind.

    Raises
    ------
    ProjectError
        If it names no place.
    """
    if value.get("kind") != "hook":
        return None
    try:
        x, y = (float(number) for number in value["at_mm"])
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        raise _misfit() from error
    if not (abs(x) < _FARTHEST_MM and abs(y) < _FARTHEST_MM):  # nor for what is no number
        raise _misfit()
    return TickHook((x, y), value.get("up") is True)


def tick_hook(document: Document, command: TickHook) -> Document:
    """Note a hook as in the wall, or take that back.

    Raises
    ------
    ProjectError
        If there are more hooks in the wall than a job can hold.
    """
    others = tuple(at for at in document.hooks_up_mm if not _same_hook(at, command.at_mm))
    if command.is_up and len(others) >= MOST_HOOKS_UP:
        raise ProjectError(
            f"A job holds {MOST_HOOKS_UP} hooks that are in the wall at most.",
            hint="Take back the ticks of those that are no longer there.",
        )
    return document.changed(hooks_up_mm=(*others, command.at_mm) if command.is_up else others)


def is_up(hooks_up_mm: Iterable[PointMm], at_mm: PointMm) -> bool:
    """Check whether a hook is in the wall at a place."""
    return any(_same_hook(up, at_mm) for up in hooks_up_mm)


def _same_hook(one: PointMm, other: PointMm) -> bool:
    return math.dist(one, other) <= SAME_HOOK_MM


def _misfit() -> ProjectError:
    return ProjectError(
        "A tick came without the place of its hook, and is left out.",
        hint="Reload the page and tick it again.",
    )
