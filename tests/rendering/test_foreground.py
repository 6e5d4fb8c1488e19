import cv2
import numpy as np
import pytest

from visualiser.rendering.foreground import Foreground, foreground_matte, put_in_front


def lamp_before_wall():
    """Photo of a pale wall with a dark round shade on a stem, and the truth of what is lamp."""
    rng = np.random.default_rng(0)
    photo = np.full((400, 500, 3), (200, 190, 170), np.float32)
    truth = np.zeros((400, 500), np.uint8)
    cv2.circle(truth, (250, 150), 70, 1, -1)
    cv2.rectangle(truth, (240, 200), (260, 390), 1, -1)
    photo[truth > 0] = (70, 60, 90)
    photo += rng.normal(0, 4, photo.shape)
    return np.clip(photo, 0, 255).astype(np.uint8), truth > 0


ROUGH = np.array(
    [[165.0, 60], [340, 65], [345, 235], [285, 250], [280, 395], [215, 395], [160, 230]]
)


def test_the_true_outline_is_found_inside_a_rough_one():
    photo, truth = lamp_before_wall()
    matte = foreground_matte(photo, Foreground(ROUGH))
    full = np.zeros(truth.shape, np.float32)
    full[matte.region.slices] = matte.share
    overlap = ((full > 0.5) & truth).sum() / ((full > 0.5) | truth).sum()
    assert overlap > 0.95


def test_the_same_marks_give_the_same_matte():
    photo, _ = lamp_before_wall()
    first, second = (foreground_matte(photo, Foreground(ROUGH)).share for _ in range(2))
    assert np.array_equal(first, second)


def test_a_stroke_takes_a_part_away():
    photo, _ = lamp_before_wall()
    stroke = np.array([[250.0, 270], [250, 380]])
    matte = foreground_matte(photo, Foreground(ROUGH, outside_px=(stroke,)))
    x, y = 250 - matte.region.x, 330 - matte.region.y
    assert matte.share[y, x] < 0.5


def test_an_exact_outline_is_taken_as_it_is():
    photo, _ = lamp_before_wall()
    square = np.array([[100.0, 100], [199, 100], [199, 199], [100, 199]])
    matte = foreground_matte(photo, Foreground(square, exact=True))
    assert matte.share.sum() == pytest.approx(100 * 100, rel=0.02)


def test_an_outline_out_of_view_hides_nothing():
    photo, _ = lamp_before_wall()
    matte = foreground_matte(photo, Foreground(ROUGH + 2000))
    drawn = np.zeros_like(photo)
    put_in_front(drawn, photo, (matte,))
    assert not drawn.any()


def test_what_is_in_front_keeps_the_photos_pixels():
    photo, truth = lamp_before_wall()
    drawn = np.zeros_like(photo)
    put_in_front(drawn, photo, (foreground_matte(photo, Foreground(ROUGH)),))
    core = cv2.erode(truth.astype(np.uint8), np.ones((9, 9))) > 0
    assert np.array_equal(drawn[core], photo[core])


def test_marks_must_be_points():
    with pytest.raises(ValueError, match="three points"):
        Foreground(np.zeros((2, 2)))
    with pytest.raises(ValueError, match="shape"):
        Foreground(np.zeros((4, 3)))
