"""What a palette is said to look like: which colours are named, and against what."""

import pytest

from visualiser.colour.names import stylist_words
from visualiser.colour.palette import palette_from_lab
from visualiser.colour.theme import summarise
from visualiser.colour.wording import (
    ROOM_NEUTRALS,
    facing_colours,
    named_colours,
    opposites,
    own_words,
    shared_words,
    telling_colours,
)


def test_a_strong_colour_is_named_even_at_seven_percent():
    """A vermilion sash among browns is what anybody would name first."""
    browns = [[18, 5, 10], [32, 10, 22], [47, 9, 22], [60, 8, 26]]
    palette = palette_from_lab([*browns, [50, 62, 48]], [0.3, 0.25, 0.23, 0.15, 0.07])
    words = [c.word for c in telling_colours(palette)]
    assert words[-1] == "red"
    assert "red" in summarise(palette).sentence


def test_like_swatches_are_one_colour():
    palette = palette_from_lab([[92, 0, 5], [89, 0, 6], [30, 0, 0]], [0.4, 0.4, 0.2])
    assert [(c.word, round(c.share, 3)) for c in named_colours(palette)] == [
        ("off-white", 0.8),
        ("charcoal", 0.2),
    ]


@pytest.mark.parametrize(
    ("one", "other", "opposite"),
    [
        ([48, 70, 50], [46, -50, 35], True),  # red and green
        ([66, 35, 62], [45, 3, -42], True),  # orange and blue
        ([85, -3, 80], [42, 40, -45], True),  # yellow and violet
        ([66, 35, 62], [85, -3, 80], False),  # orange and yellow
        ([45, 3, -42], [46, -50, 35], False),  # blue and green
    ],
)
def test_painters_opposites(one, other, opposite):
    """Red and green, orange and blue, yellow and violet: M. E. Chevreul, De la loi du contraste
    simultane des couleurs (1839), from memory."""
    palette = palette_from_lab([one, other], [0.5, 0.5])
    assert (opposites(palette) is not None) == opposite
    first, second = palette_from_lab([one], [1]), palette_from_lab([other], [1])
    assert (facing_colours(first, second) is not None) == opposite


def test_greys_have_no_opposite():
    assert opposites(palette_from_lab([[60, 4, 6], [50, -3, -8]], [0.5, 0.5])) is None


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ([75, 2, 17], [22, 1, -17]),  # paper and ink
        ([43, 13, 12], [39, -17, 3]),  # skin in shade and a grey green
        ([64, 10, 19], [38, 0, -28]),  # tan and blue
        ([49, -2, 45], [37, 7, -32]),  # olive and deep blue
        ([28, 6, -15], [63, 17, 5]),  # two that are hardly coloured
    ],
)
def test_what_a_room_holds_any_amount_of_has_no_opposite(one, other):
    """They face each other within 45 degrees on CIELAB's own circle or the painters' wheel, but
    nobody who furnishes rooms calls one the other's opposite: common practice, no source."""
    for first, second in ((one, other), (other, one)):
        assert opposites(palette_from_lab([first, second], [0.5, 0.5])) is None
        alone = palette_from_lab([first], [1]), palette_from_lab([second], [1])
        assert facing_colours(*alone) is None


def test_a_rooms_neutrals_are_words_of_the_vocabulary():
    assert set(stylist_words().names) >= ROOM_NEUTRALS


def test_blue_beside_rust_is_named_though_paper_is_larger():
    """Most of the sheet is cream: the two that set each other off are still found."""
    palette = palette_from_lab([[90, 1, 14], [42, 0, -32], [42, 38, 36]], [0.6, 0.2, 0.2])
    assert set(opposites(palette)) == {"blue", "rust"}


def test_own_colours_are_those_that_the_others_lack():
    piece = palette_from_lab([[91, 1, 12], [43, 44, 33], [25, -1, -24]], [0.5, 0.3, 0.2])
    others = [palette_from_lab([[26, 0, -23], [60, 3, 12]], [0.5, 0.5])]
    assert own_words(piece, others) == ("brick red",)  # cream is nobody's own, navy is theirs
    assert own_words(piece, [*others, piece]) == ()


def test_shared_colours_are_named_by_weight():
    piece = palette_from_lab([[25, -1, -24], [92, 0, 6], [50, 60, 45]], [0.4, 0.5, 0.1])
    other = palette_from_lab([[27, 0, -22], [50, 60, 45]], [0.96, 0.04])
    assert shared_words(piece, [other]) == ("navy",)
    assert shared_words(piece, []) == ()


def test_warm_and_cool_are_said_against_the_set():
    warm = [palette_from_lab([[60, 15, 40 + i], [80, 3, 18]], [0.6, 0.4]) for i in range(3)]
    less = palette_from_lab([[60, 4, 14], [80, 1, 6]], [0.6, 0.4])
    assert "cooler than the rest" in summarise(less, warm).sentence
    assert "warm" not in summarise(warm[0], warm[1:]).sentence
    assert "warm" in summarise(warm[0]).sentence


def test_five_shades_of_one_blue_go_before_one_grey():
    """A seascape: no single blue is as large as the cloud, together they are the picture."""
    blues = [[22, -3, -14], [36, -8, -16], [46, -14, -16], [60, -3, -16]]
    palette = palette_from_lab([[75, -1, 7], *blues], [0.32, 0.17, 0.17, 0.17, 0.17])
    assert named_colours(palette)[0].word == "stone"
    first = telling_colours(palette)[0]
    assert "blue" in first.word
    assert first.share > 0.32


def test_a_hue_of_its_own_is_named_beside_three_of_another():
    browns = [[20, 6, 10], [45, 9, 26], [75, 5, 26], [60, 8, 40]]
    palette = palette_from_lab([*browns, [45, -4, -16]], [0.35, 0.25, 0.2, 0.15, 0.05])
    assert any("blue" in c.word for c in telling_colours(palette))
