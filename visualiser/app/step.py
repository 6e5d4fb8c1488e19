"""One step of a job: its place in the address, its panel, and what it shows of the wall."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from visualiser.app.results import Results
from visualiser.app.scene import Shape
from visualiser.app.state import Work
from visualiser.arrangement.arrangement import Arrangement
from visualiser.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class Picture:
    """Another picture to show in the wall's place: a JPEG, and the size its points are in."""

    jpeg: bytes
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class View:
    """What a step wants to see of the wall besides the photo."""

    shapes: list[Shape] = field(default_factory=list)
    contours: list[dict[str, Any]] = field(default_factory=list)
    pieces: bool = True
    mockup: bool = False
    compare: bool = False
    pieces_move: bool = True
    """Whether pieces take the pointer; not while outlines are drawn over them."""
    picture: Picture | None = None
    kept: frozenset[str] = frozenset()
    """Pieces that stay where they are."""
    proposals: tuple[Arrangement, ...] = ()
    """Arrangements to choose from, shown small below the wall."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its place in the address, its title, its panel, and what it shows of the wall.

    Parameters
    ----------
    key, title
        Its place in the address, and its name on the page.
    show, view
        Draw its panel; say what it shows of the wall.
    mockup
        Whether its photo is shown without what is painted out for the mock-up.
    optional
        Whether it is there for who wants it, and no step leads on to it.
    needed
        Whether the later ones can do nothing without it.
    """

    key: str
    title: str
    show: Callable[[Work, Results], None]
    view: Callable[[Work, Results, Survey | None], View]
    mockup: bool = False
    optional: bool = False
    needed: bool = False
