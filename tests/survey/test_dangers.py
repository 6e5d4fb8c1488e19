"""The limits of the standards, at the limit and just past it."""

import pytest

from visualiser.geometry import Polygon, Rect
from visualiser.survey.dangers import in_cable_band, protrudes
from visualiser.survey.survey import Zone

INCH = 25.4


@pytest.mark.parametrize(
    ("lower_in", "depth_in", "found"),
    [
        *[(lower, depth, False) for lower in (26, 27) for depth in (4.00, 4.01, 12)],
        *[(lower, 4.00, False) for lower in (27.01, 50, 80)],
        *[(lower, 4.01, True) for lower in (27.01, 50, 80)],
        *[(80.01, depth, False) for depth in (4.00, 4.01, 12)],
    ],
)
def test_protruding_objects(lower_in, depth_in, found):
    """2010 ADA Standards §307.2: above 27 and up to 80 in over the floor, 4 in at most."""
    assert protrudes(lower_in * INCH, depth_in * INCH) is found


@pytest.mark.parametrize(
    ("x", "y", "found"),
    [
        (2040, 2400, True),  # straight above
        (100, 340, True),  # level with it, far along
        (1999, 301, True),
        (1999, 299, False),
        (2086, 386, False),
    ],
)
def test_cables_run_level_and_plumb_from_a_point(x, y, found):
    """BS 7671:2018, regulation 522.6.202 (i): the zones run level or plumb from the accessory."""
    socket = Zone("socket", Polygon.from_rect(Rect(2000, 300, 85, 85)))
    assert in_cable_band(socket, x, y) is found
    assert in_cable_band(socket, x, y, 5, 5)
    assert not in_cable_band(Zone("window", socket.polygon), x, y)


@pytest.mark.parametrize(
    ("x", "y"),
    [(1992, 2000), (2093, 2000), (500, 292), (500, 393)],
    ids=["left", "right", "below", "above"],
)
def test_a_hole_that_may_be_off_into_the_band_is_in_it(x, y):
    """8 mm beside a band of 2000 to 2085 across, 300 to 385 up: 7.9 mm of doubt do not reach it."""
    socket = Zone("socket", Polygon.from_rect(Rect(2000, 300, 85, 85)))
    along, across = ((0.0, 8.1), (8.1, 0.0)) if x == 500 else ((8.1, 0.0), (0.0, 8.1))
    assert not in_cable_band(socket, x, y, 7.9, 7.9)
    assert in_cable_band(socket, x, y, *along)
    assert not in_cable_band(socket, x, y, *across)
