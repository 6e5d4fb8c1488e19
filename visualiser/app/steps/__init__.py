"""The steps of a job, in the order it is done; each may be entered at any time."""

from __future__ import annotations

from visualiser.app.step import Step
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

ALL = (
    Step("photo", "Photo", photo.show, photo.view, needed=True),
    Step("wall", "Wall", wall.show, wall.view, needed=True),
    Step("pieces", "Pieces", pieces.show, pieces.view, needed=True),
    Step("colours", "Colours", colours.show, colours.view, mockup=True, optional=True),
    Step("arrange", "Arrange", arrange.show, arrange.view, mockup=True, needed=True),
    Step("mockup", "Mock-up", mockup.show, mockup.view, mockup=True, optional=True),
    Step("approve", "Approve", approve.show, approve.view, mockup=True),
    Step("hang", "Hang", hang.show, hang.view, mockup=True),
    Step("check", "Check", check.show, check.view, mockup=True),
)
