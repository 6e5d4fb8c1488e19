"""One drawn wall in two photos, and its measurement, for all tests of this folder."""

import pytest

from tests.rectification.joined.drawn_walls import draw_wall
from visualiser.rectification.joined.join import join_photos


@pytest.fixture(scope="session")
def drawn():
    return draw_wall(1, length_mm=3200.0, photos=2, long_px=900)


@pytest.fixture(scope="session")
def joined(drawn):
    return join_photos(drawn.photos, drawn.references())
