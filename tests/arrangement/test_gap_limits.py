"""A gap rule holds at its limit to a tenth of a millimetre, with no slack on either side."""

import pytest

import visualiser as vis
from visualiser.arrangement.arrangement import Arrangement, Placement

WALL = vis.Survey.from_size(4000, 2500)
RULES = vis.Guidelines(gap_min_mm=50.0, gap_mm=60.0, gap_max_mm=75.0)


def found(gap_mm, *, upright):
    """Codes of the gap rules for two pieces 400 x 500 with so much between them."""
    pieces = tuple(vis.Piece(i, 400, 500) for i in ("a", "b"))
    step = (0.0, 500 + gap_mm) if upright else (400 + gap_mm, 0.0)
    places = (Placement("a", 1500, 1000), Placement("b", 1500 + step[0], 1000 + step[1]))
    findings = vis.check_arrangement(Arrangement(pieces, places), WALL, RULES)
    return {f.code for f in findings} & {"gap", "gap-min", "overlap"}


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize(
    ("gap_mm", "codes"),
    [
        (-1.0, {"overlap"}), (0.0, {"gap-min"}), (41.0, {"gap-min"}), (49.0, {"gap-min"}),
        (49.9, {"gap-min"}), (50.0, set()), (60.0, set()), (75.0, set()), (75.1, {"gap"}),
        (76.0, {"gap"}), (84.0, {"gap"}),
    ],
)  # fmt: skip
def test_a_gap_is_held_to_its_limits(gap_mm, codes, upright):
    assert found(gap_mm, upright=upright) == codes
