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
    Step("photo", "Photo", photo.show, photo.view),
    Step("wall", "Wall", wall.show, wall.view),
    Step("pieces", "Pieces", pieces.show, pieces.view),
    Step("colours", "Colours", colours.show, colours.view, mockup=True),
    Step("arrange", "Arrange", arrange.show, arrange.view, mockup=True),
    Step("mockup", "Mock-up", mockup.show, mockup.view, mockup=True),
    Step("approve", "Approve", approve.show, approve.view, mockup=True),
    Step("hang", "Hang", hang.show, hang.view, mockup=True),
    Step("check", "Check", check.show, check.view, mockup=True),
)
