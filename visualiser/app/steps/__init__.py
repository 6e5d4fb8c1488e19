"""The steps of a job, in the order it is done; each may be entered at any time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps import arrange, mockup, photo, pieces, wall
from visualiser.app.wall_view import View


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its place in the address, its title, its panel, and what it shows of the wall."""

    key: str
    title: str
    show: Callable[[Work, Results], None]
    view: Callable[[Work, Results], View]
    mockup: bool = False


ALL = (
    Step("photo", "Photo", photo.show, photo.view),
    Step("wall", "Wall", wall.show, wall.view),
    Step("pieces", "Pieces", pieces.show, pieces.view),
    Step("arrange", "Arrange", arrange.show, arrange.view, mockup=True),
    Step("mockup", "Mock-up", mockup.show, mockup.view, mockup=True),
)
