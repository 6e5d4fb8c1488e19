"""Telling A4 from Letter, against rectangles seen through a pinhole camera.

A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 in (ANSI/ASME Y14.1 size A).
"""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.acceptance import (
    ANOTHER_KIND,
    SIZE_DOUBT,
    WEIGHTS,
    is_either,
)
from visualiser.rectification.finder.close_look import same_place
from visualiser.rectification.finder.common_size import (
    ONE_SIZE,
    size_gain,
    thing_gain,
    thing_says,
    together,
)
from visualiser.rectification.finder.find import beside_each_other
from visualiser.rectification.finder.weighing import Look
from visualiser.rectification.kinds import reference_kind

SIZES_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
PHOTO = Photo(np.zeros((1200, 1600, 3), np.uint8), focal_px=1300.0)


def seen(kind, rng, *, away_mm, sigma_px, said_px=None):
    """Project a sheet by OpenCV's pinhole camera, turned at random; its corners misread."""
    width, height = SIZES_MM[kind]
    plane = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * [width / 2, height / 2, 1]
    matrix = np.array([[1300, 0, 799.5], [0, 1300, 599.5], [0, 0, 1.0]])
    turn = np.radians(rng.normal(0, [10, 20, 2]))
    place = np.array([rng.uniform(-0.4, 0.4) * away_mm, rng.uniform(-0.3, 0.3) * away_mm, away_mm])
    corners = cv2.projectPoints(plane, turn, place, matrix, None)[0][:, 0]
    corners = corners + rng.normal(0, sigma_px, (4, 2))
    return Look(corners, np.full((4, 2), said_px or sigma_px), (), True, 1.0, {})


def gains(kind, asked, count, **how):
    rng = np.random.default_rng(7)
    wanted = reference_kind(asked)
    return np.array([size_gain(PHOTO, seen(kind, rng, **how), wanted)[0] for _ in range(count)])


@pytest.mark.parametrize(("kind", "other"), [("a4", "letter"), ("letter", "a4")])
def test_a_sheet_of_a_hundred_pixels_tells_its_size_where_its_edges_are_sharp(kind, other):
    sharp = gains(kind, kind, 40, away_mm=4000, sigma_px=0.15)
    assert np.mean([is_either(gain) for gain in sharp]) < 0.1
    asked_wrongly = gains(kind, other, 40, away_mm=4000, sigma_px=0.15)
    np.testing.assert_allclose(asked_wrongly, -sharp, atol=1e-9)


def test_where_its_edges_are_faint_either_is_possible():
    faint = gains("a4", "a4", 40, away_mm=4000, sigma_px=2.0)
    assert np.mean([is_either(gain) for gain in faint]) > 0.9


@pytest.mark.parametrize("sigma_px", [0.3, 0.6])
def test_a_wrong_size_is_no_oftener_that_much_likelier_than_the_ratio_allows(sigma_px):
    """Likelihood ratio of a wrong over the right hypothesis: its mean is 1, so at most one in k
    exceeds k (A. Wald, "Sequential Tests of Statistical Hypotheses", 1945; from memory)."""
    wrong = gains("a4", "letter", 80, away_mm=4000, sigma_px=sigma_px)
    for times in (3, 10, 30):
        assert (wrong > np.log(times)).mean() <= 1 / times


def test_sides_read_at_other_edges_do_not_make_a_size_certain():
    """Four corners said to be within 0.1 px, and off by 2 px: normal errors alone would say that
    one size is e^25 times likelier than the other, and more."""
    off = np.abs(gains("a4", "a4", 40, away_mm=4000, sigma_px=2.0, said_px=0.1))
    assert off.max() < 8


def test_a_stated_size_needs_less_to_be_taken_than_one_that_nobody_stated():
    needed = np.log(ANOTHER_KIND * (1 - SIZE_DOUBT) / SIZE_DOUBT)
    assert is_either(needed - 0.01)
    assert not is_either(needed + 0.01)
    assert is_either(needed + 0.01, another_kind=1.0)
    assert not is_either(np.log(19) + 0.01, another_kind=1.0)


def test_a_card_is_of_no_other_common_shape():
    look = seen("a4", np.random.default_rng(1), away_mm=2000, sigma_px=0.2)
    assert size_gain(PHOTO, look, reference_kind("card")) == (np.inf, "")


def sure(*gains):
    """What things say that are surely sheets, of one outline each."""
    return [thing_says([gain], [0.0], 1.0) for gain in gains]


def test_a_second_sheet_speaks_for_the_first_and_what_is_no_sheet_for_none():
    """By hand: e beside e, with a share of 0.9 for one size: the other sheet counts
    a / (0.9 b + 0.1 a), where a and b are the roots of e and of 1/e."""
    a, b = np.exp(0.5), np.exp(-0.5)
    more = np.log(a / (0.9 * b + 0.1 * a))
    assert ONE_SIZE == 0.9
    assert together(1.0, sure(1.0)) == pytest.approx(1 + more)
    assert together(1.0, sure(-1.0)) == pytest.approx(1 - more)
    assert together(1.0, [thing_says([9.0], [0.0], 0.0)]) == pytest.approx(1.0)
    assert together(1.0, []) == 1.0


def test_outlines_of_one_thing_speak_by_how_likely_they_are_and_not_the_best_fitting_alone():
    """By hand: one outline three times as likely as the other, their gains opposite."""
    wanted, other = thing_says([2.0, -2.0], [np.log(3), 0.0], 1.0)
    assert wanted == pytest.approx(np.log(0.75 * np.e + 0.25 / np.e))
    assert other == pytest.approx(np.log(0.75 / np.e + 0.25 * np.e))
    same = thing_says([2.0, -2.0], [0.0, 0.0], 1.0)
    assert together(0.7, [same]) == pytest.approx(0.7)


def test_of_its_own_size_a_thing_is_as_sure_as_its_outlines_are_likely():
    """By hand: the law of total probability over two outlines, one three times as likely."""
    sure_of, unsure_of = 1 / (1 + np.exp(-2.0)), 1 / (1 + np.exp(2.0))
    half = 0.75 * sure_of + 0.25 * unsure_of
    assert thing_gain([2.0, -2.0], [np.log(3), 0.0]) == pytest.approx(np.log(half / (1 - half)))
    assert thing_gain([2.0], [5.0]) == pytest.approx(2.0)
    assert thing_gain([np.inf], [0.0]) > 30
    assert thing_gain([-1e6], [0.0]) == pytest.approx(-30.0)


def test_the_outline_that_fits_the_size_asked_for_best_does_not_decide_alone():
    """Three outlines of one thing, as likely each: by the law of total probability 0.5."""
    rng = np.random.default_rng(3)
    look = seen("a4", rng, away_mm=1500.0, sigma_px=1.0)
    three = [(1.0, replace(look, features=dict.fromkeys(WEIGHTS, 1.0))) for _ in range(3)]
    gains_alone = [(3.7, "letter"), (-3.7, "letter"), (0.0, "letter")]
    weighed = [gain for gain, _ in beside_each_other(PHOTO, three, gains_alone)]
    assert weighed == pytest.approx([0.0, -3.7, 0.0], abs=1e-9)


def test_however_many_others_agree_they_outweigh_one_in_ten_at_most():
    assert together(-1.0, sure(*[30.0] * 6)) == pytest.approx(-1 + np.log(10))


def test_of_a_shape_without_another_size_nothing_is_said():
    assert together(np.inf, sure(2.0)) == np.inf
    assert together(2.0, sure(np.inf)) == 2.0


def test_a_size_is_right_as_often_as_is_said():
    """Photos drawn by the model itself; each sheet alone is told worse (logarithmic score, I. J.
    Good 1952, from memory)."""
    rng = np.random.default_rng(3)
    said, alone, true = [], [], []
    for _ in range(6000):
        count = rng.integers(2, 5)
        is_a4 = np.full(count, rng.random() < 0.5)
        if rng.random() > ONE_SIZE:
            is_a4 = rng.random(count) < 0.5
        surely = rng.uniform(0.05, 1, count)
        surely[0] = 1.0
        # A reading is normal about 1 for A4 and -1 for Letter, with a sigma of 1.5: its gain is
        # 2 x / 1.5^2. What is no sheet gives either sign as often.
        x = np.where(is_a4, 1.0, -1.0) + rng.normal(0, 1.5, count)
        gains = 2 * x / 1.5**2
        no_sheet = rng.random(count) >= surely
        gains[no_sheet] *= rng.choice([-1, 1], count)[no_sheet]
        others = [thing_says([g], [0.0], p) for g, p in zip(gains[1:], surely[1:], strict=True)]
        said.append(together(gains[0], others))
        alone.append(gains[0])
        true.append(bool(is_a4[0]))
    said, alone, true = np.array(said), np.array(alone), np.array(true)
    right, sureness = true == (said > 0), 1 / (1 + np.exp(-np.abs(said)))
    for low in np.arange(0.5, 1, 0.1):
        inside = (sureness >= low) & (sureness < low + 0.1)
        assert inside.sum() > 300
        chance = np.sqrt((sureness[inside] * (1 - sureness[inside])).sum()) / inside.sum()
        assert abs(right[inside].mean() - sureness[inside].mean()) < 3 * chance

    def surprise(log_odds):
        return np.mean(np.log1p(np.exp(np.where(true, -log_odds, log_odds))))

    assert surprise(said) < 0.95 * surprise(alone)


def test_other_outlines_of_one_thing_add_nothing_to_each_other():
    """A sharp Letter sheet, seen twice, beside a faint one that leaves the size open: the faint one
    is no A4 either, and to what the sharp one's outlines say together only the faint one adds."""
    rng = np.random.default_rng(5)
    sharp = seen("letter", rng, away_mm=2500, sigma_px=0.1)
    again = replace(sharp, corners_px=sharp.corners_px + 0.2)
    faint = seen("letter", rng, away_mm=5000, sigma_px=3.0)
    features = dict.fromkeys(WEIGHTS, 1.0)
    looks = [(3.0, replace(one, features=features)) for one in (sharp, again, faint)]
    alone = [size_gain(PHOTO, one, reference_kind("a4")) for _, one in looks]
    weighed = [gain for gain, _ in beside_each_other(PHOTO, looks, alone)]
    assert not same_place(sharp.corners_px, faint.corners_px)
    assert abs(alone[2][0]) < 1
    assert weighed[2] < alone[2][0] - 1
    own = thing_gain([alone[0][0], alone[1][0]], [0.0, 0.0])
    added = [weighed[i] - min(alone[i][0], own) for i in (0, 1)]
    assert added[0] == pytest.approx(added[1])
    assert abs(weighed[0] - alone[0][0]) < 1
