"""Which edges hang together: sides of frames, drawn as a dark frame's on a light wall run."""

import numpy as np
import pytest

from tests.rectification.lines.test_detect import FINE_WIDTH, piece
from visualiser.rectification.lines.things import NONE, things_of, without_lesser_edges


def frame(name, left, top, width, height, sides="trbl"):
    """Sides of one outline, each from where the last one ended, clockwise."""
    corners = [(left, top), (left + width, top), (left + width, top + height), (left, top + height)]
    of = dict(zip("trbl", range(4), strict=True))
    return [
        piece(f"{name}-{side}", list(corners[of[side]]), list(corners[(of[side] + 1) % 4]))
        for side in sides
    ]


def numbers(lines):
    return dict(zip([line.name for line in lines], things_of(lines, FINE_WIDTH), strict=True))


def test_the_sides_of_a_frame_are_one_thing_and_those_of_its_neighbour_another():
    """50 mm apart, as pictures hang (common practice), where a metre is 600 px."""
    of = numbers([*frame("a", 800, 600, 300, 400), *frame("b", 1130, 600, 300, 400)])
    assert len({of[f"a-{side}"] for side in "trbl"}) == 1
    assert len({of[f"b-{side}"] for side in "trbl"}) == 1
    assert of["a-t"] != of["b-t"]
    assert min(of.values()) == 0


def test_what_lies_within_an_outline_is_of_it():
    of = numbers([*frame("a", 800, 600, 500, 600), piece("print", [900, 700], [1200, 700])])
    assert set(of.values()) == {0}


def test_an_inner_outline_is_no_thing_of_its_own():
    inner = [piece(f"in-{i}", a, b) for i, (a, b) in enumerate((
        ([860, 1100], [1240, 1100]), ([1240, 1100], [1240, 700]), ([1240, 700], [860, 700]),
    ))]  # fmt: skip
    assert set(numbers([*frame("a", 800, 600, 500, 600), *inner]).values()) == {0}


def test_a_side_that_another_one_hides_joins_the_edge_beside_it():
    of = numbers([*frame("a", 800, 600, 300, 400), piece("mat", [840, 1040], [1060, 1040])])
    assert of["mat"] == of["a-b"]


@pytest.mark.parametrize("sides", ["tr", "trl", "trbl"])
def test_the_edges_of_walls_and_doors_hang_on_nothing(sides):
    """A ceiling and the corners below it; with a skirting they close, but as wide as the photo."""
    of = numbers(frame("wall", 300, 200, 1900, 1500, sides))
    assert set(of.values()) == {NONE}


def test_two_sides_that_face_each_other_hang_together_where_others_show_which_way_is_round():
    lonely = frame("b", 1500, 500, 250, 350, "rl")
    of = numbers([*frame("a", 700, 600, 300, 400), *lonely])
    assert of["b-r"] == of["b-l"] != of["a-r"]
    assert set(numbers(lonely).values()) == {NONE}


def test_edges_in_no_order_keep_their_things():
    lines = [*frame("a", 800, 600, 300, 400), *frame("b", 1400, 600, 300, 400)]
    order = np.random.default_rng(3).permutation(len(lines))
    of = numbers([lines[i] for i in order])
    assert len({of[f"a-{side}"] for side in "trbl"}) == len({of[f"b-{side}"] for side in "trbl"})
    assert of["a-t"] != of["b-t"]


def test_more_edges_of_a_building_are_taken_and_no_more_of_what_hangs():
    """A thing's roll is one unknown, however many of its edges show."""
    boards = [piece(f"board-{k}", [100, 60 * k], [2300, 60 * k]) for k in range(16)]
    posts = [piece(f"post-{k}", [100 * k + 1000, 1650], [100 * k + 1000, 1250]) for k in range(12)]
    hung = frame("a", 200, 1200, 300, 380)
    lines = sorted([*boards, *posts, *hung], key=lambda line: -line.length_px)
    assert {line.name for line in without_lesser_edges(lines, FINE_WIDTH)} == {
        line.name for line in [*boards, *posts]
    }
    few = [*posts[:3], *hung]
    assert without_lesser_edges(few, FINE_WIDTH) == few
