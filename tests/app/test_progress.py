"""Which step follows which: from the order of the steps alone."""

import pytest

from visualiser.app import steps
from visualiser.app.progress import next_step


@pytest.mark.parametrize(
    ("step", "following"),
    [("photo", "wall"), ("pieces", "arrange"), ("colours", "arrange"), ("arrange", "approve"),
     ("mockup", "approve"), ("hang", "check"), ("check", None)],
)  # fmt: skip
def test_colours_and_the_mock_up_are_left_out_of_the_road(step, following):
    found = next_step(step, steps.ALL)
    assert (found and found.key) == following


def test_every_step_leads_somewhere_but_the_last():
    assert [step.key for step in steps.ALL if next_step(step.key, steps.ALL) is None] == ["check"]
