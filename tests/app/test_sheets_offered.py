"""Which kinds of reference a list offers, where only the kind is asked and no size."""

from visualiser.app.steps.wall import KINDS, SHEETS
from visualiser.rectification.kinds import check_kind


def test_sheets_and_targets_are_known_by_their_name_alone():
    """A marker, or anything of typed size, is nothing to look for without its size."""
    assert [check_kind(key) for key in SHEETS] == list(SHEETS)
    assert {"a4", "letter", "target"} <= set(SHEETS)
    assert set(KINDS) - set(SHEETS) == {"marker", "card", "custom"}
