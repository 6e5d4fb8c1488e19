"""Which edges border the wall, in pictures painted flat."""

import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.lines.borders import told_beside_wall
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.marks import DrawnLine
from visualiser.rectification.reference import EdgeSamples

WIDTH, HEIGHT = 1200, 900
SHEET = np.array([[500.0, 350], [580, 350], [580, 463], [500, 463]])
WALL, CEILING, SOFA, SHADE = (150, 170, 160), (235, 235, 230), (150, 95, 60), (120, 70, 42)


def painted(wall=WALL, *, dimmed=1.0, grain=2.0):
    """Ceiling above y = 100, wall, a sofa from y = 650 with a seam at 750; dimmed to the right."""
    picture = np.zeros((HEIGHT, WIDTH, 3))
    picture[:] = wall
    picture[:100] = CEILING
    picture[650:, 200:900] = SOFA
    picture[750:, 200:900] = SHADE
    picture[350:463, 500:580] = (250, 250, 248)
    light = np.linspace(1, dimmed ** (1 / 2.2), WIDTH)[None, :, None]
    noise = np.random.default_rng(0).normal(0, grain, picture.shape)
    return Photo(np.clip(picture * light + noise, 0, 255).astype(np.uint8))


def line(name, start, end, drawn=None):
    t = np.linspace(0, 1, 24)[:, None]
    start, end = np.asarray(start, float), np.asarray(end, float)
    along = (end - start) / np.hypot(*(end - start))
    normals = np.tile([-along[1], along[0]], (24, 1))
    return RoomLine(name, EdgeSamples(start + t * (end - start), normals, np.full(24, 0.1)), drawn)


LINES = [
    line("ceiling", (20, 100), (1180, 100)),
    line("sofa top", (880, 650), (220, 650)),
    line("seam", (220, 750), (880, 750)),
    line("sofa side", (200, 660), (200, 880)),
]


def told(photo, lines=LINES, outlines=(SHEET,)):
    return {o.name: o.beside_wall for o in told_beside_wall(photo, lines, outlines)}


@pytest.mark.parametrize("dimmed", [1.0, 0.55])
@pytest.mark.parametrize("wall", [WALL, (232, 231, 226), (46, 58, 74)])
def test_edges_of_the_wall_border_it_and_a_seam_does_not(wall, dimmed):
    assert told(painted(wall, dimmed=dimmed)) == {
        "ceiling": True, "sofa top": True, "seam": False, "sofa side": True,
    }  # fmt: skip


def test_a_patterned_wall_is_still_wall():
    assert told(painted(grain=25.0)) == {
        "ceiling": True, "sofa top": True, "seam": False, "sofa side": True,
    }  # fmt: skip


def test_where_the_wall_is_not_seen_every_edge_is_taken_as_it_is():
    assert all(told(painted(), outlines=()).values())
    beyond = SHEET + [5000, 0]
    assert all(told(painted(), outlines=(beyond,)).values())


def test_a_line_that_a_person_drew_is_taken_as_it_is():
    drawn = line("drawn-1", (220, 750), (880, 750), DrawnLine((220, 750), (880, 750), "level"))
    assert told(painted(), [drawn]) == {"drawn-1": True}
