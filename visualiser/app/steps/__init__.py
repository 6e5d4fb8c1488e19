"""The steps of a job, in the order it is done; each may be entered at any time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from visualiser.app.results import Results
from visualiser.app.state import Work
from visualiser.app.steps import (
    approve,
    arrange,
    check,
    colours,
    hang,
    mockup,
    photo,
    pieces,
    wall,
)
from visualiser.app.wall_view import View
from visualiser.survey.survey import Survey


@dataclass(frozen=True, slots=True)
class Step:
    """One step: its place in the address, its title, its panel, and what it shows of the wall."""

    key: str
    title: str
    show: Callable[[Work, Results], None]
    view: Callable[[Work, Results, Survey | None], View]
    mockup: bool = False
    wall_share: float = 1.75
    """Width of the wall, where the panel beside it is 1."""


ALL = (
    Step("photo", "Photo", photo.show, photo.view),
    Step("wall", "Wall", wall.show, wall.view),
    Step("pieces", "Pieces", pieces.show, pieces.view, wall_share=0.68),
    Step("colours", "Colours", colours.show, colours.view, mockup=True),
    Step("arrange", "Arrange", arrange.show, arrange.view, mockup=True),
    Step("mockup", "Mock-up", mockup.show, mockup.view, mockup=True),
    Step("approve", "Approve", approve.show, approve.view, mockup=True),
    Step("hang", "Hang", hang.show, hang.view, mockup=True, wall_share=1.1),
    Step("check", "Check", check.show, check.view, mockup=True, wall_share=1.1),
)
