"""Telling A4 from Letter, against rectangles seen through a pinhole camera.

A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 in (ANSI/ASME Y14.1 size A).
"""

import cv2
import numpy as np
import pytest

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.acceptance import ANOTHER_KIND, SIZE_DOUBT, is_either
from visualiser.rectification.finder.common_size import size_gain
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
