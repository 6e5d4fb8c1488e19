"""A wall seen face on: where its pixels lie, by the closed form of a straight-on pinhole camera."""

import numpy as np
import pytest

from tests.survey.test_suggestions import photo_of, wall
from visualiser.geometry import Rect
from visualiser.survey.face_on import FaceOn, face_on

RECT = Rect(-400.0, 1000.0, 800.0, 600.0)


def blank(mm_per_px=4.0):
    shape = (int(RECT.height_mm / mm_per_px), int(RECT.width_mm / mm_per_px))
    return FaceOn(np.zeros((*shape, 3), np.float32), np.ones(shape, bool), RECT, mm_per_px)


def test_pixel_zero_is_the_middle_of_the_top_left_pixel():
    view = blank()
    middles = np.array([[-398.0, 1598.0], [398.0, 1002.0]])
    assert view.to_pixels(middles) == pytest.approx(np.array([[0.0, 0.0], [199.0, 149.0]]))


def test_a_box_of_pixels_is_the_wall_that_they_cover():
    view = blank()
    assert view.to_rect(0, 0, 200, 150) == RECT
    box = view.to_rect(10, 20, 30, 40)
    first = view.to_pixels(np.array([[box.left_mm, box.top_mm]]))
    assert first == pytest.approx(np.array([[9.5, 19.5]]))


def test_an_outline_covers_what_lies_in_it():
    """40 by 20 pixels, and half as large again each way; a pixel of its rim counts either way."""
    view = blank()
    corners = Rect.from_centre(0.0, 1300.0, 160.0, 80.0).corners()
    for times in (1.0, 1.5):
        rows, columns = np.nonzero(view.covered(corners, times))
        assert (np.ptp(columns) + 1, np.ptp(rows) + 1) == pytest.approx(
            (40 * times, 20 * times), abs=1.01
        )
        assert (columns.mean(), rows.mean()) == pytest.approx((99.5, 74.5), abs=0.51)


@pytest.mark.parametrize("yaw_deg", [0.0, 20.0])
def test_what_was_painted_lies_where_its_millimetres_say(yaw_deg):
    survey = wall(yaw_deg)
    thing = Rect.from_centre(300.0, 1200.0, 240.0, 160.0)
    around = Rect(-100.0, 1000.0, 800.0, 320.0)
    view = face_on(photo_of(survey, [(thing, (224, 224, 220))], grain=0.0), survey, around, 2.0)
    light = np.exp(view.one_light)
    low, high = np.median(light), light.max()
    rows, columns = np.nonzero(light > (low + high) / 2)
    bright = [columns.min() - 0.5, columns.max() + 0.5, rows.min() - 0.5, rows.max() + 0.5]
    corners = view.to_pixels(thing.corners())
    truth = [*(f(corners[:, 0]) for f in (min, max)), *(f(corners[:, 1]) for f in (min, max))]
    assert bright == pytest.approx(truth, abs=1.5)


def test_a_view_that_is_no_whole_number_of_pixels_ends_where_its_pixels_do():
    survey = wall()
    view = face_on(photo_of(survey, []), survey, Rect(-101.0, 999.0, 803.0, 322.0), 4.0)
    rows, columns = view.seen.shape
    assert (view.rect.left_mm, view.rect.top_mm) == (-101.0, 1321.0)
    assert (view.rect.width_mm, view.rect.height_mm) == (4.0 * columns, 4.0 * rows)
