"""A lens from drawn photos of the printed target, whose camera we know."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rectification.finder.test_target import FOCAL_PX, photographed
from visualiser.errors import MeasurementError
from visualiser.photo.photo import Photo
from visualiser.rectification import calibration
from visualiser.rectification.calibration import lens_from_photos
from visualiser.rectification.finder.target import target_board

PLACES = [(0, -32, 420), (0, 32, 430), (90, 30, 440), (90, -28, 430), (45, 25, 460), (0, 12, 400)]


@pytest.fixture(scope="module")
def photos():
    board = target_board("target")
    return [
        replace(photographed(board, turn, yaw, away)[0], camera="P1") for turn, yaw, away in PLACES
    ]


@pytest.fixture(scope="module", autouse=True)
def _each_picture_searched_once():
    """The target is looked for in each picture once; what is made of the finds is tested here."""
    search, found = calibration.find_target, {}

    def find_once(photo, kind):
        # The picture is held, so that no other one can come to have its number.
        key = (id(photo.pixels), photo.focal_px, kind)
        if key not in found:
            found[key] = (photo.pixels, search(photo, kind))
        return found[key][1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(calibration, "find_target", find_once)
        yield


def test_the_focal_length_drawn_is_found_within_what_is_stated(photos):
    profile, used = lens_from_photos(photos)
    assert used == len(PLACES)
    sigma_px = FOCAL_PX * np.sqrt(profile.covariance[0, 0])
    assert sigma_px < 0.01 * FOCAL_PX
    assert abs(profile.lens.focal_px - FOCAL_PX) < 3.5 * sigma_px + 1e-3 * FOCAL_PX
    assert profile.matches(photos[0])
    assert (profile.camera, profile.stated_focal_px) == ("P1", FOCAL_PX)


def test_photos_without_the_target_are_left_out(photos):
    blank = replace(photos[0], pixels=np.full_like(photos[0].pixels, 140))
    assert lens_from_photos([*photos[:4], blank])[1] == 4
    with pytest.raises(MeasurementError, match="on 2 of 3 photos"):
        lens_from_photos([*photos[:2], blank])


def test_no_photos_give_no_lens():
    with pytest.raises(MeasurementError, match="on 0 of 0 photos"):
        lens_from_photos([])


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"camera": "P2"}, "taken with P2, the first with P1"),
        ({"camera": ""}, "does not say which phone"),
        ({"focal_px": 2 * FOCAL_PX}, "another zoom"),
        ({"focal_px": None}, "another zoom"),
    ],
)
def test_photos_of_different_cameras_are_refused(photos, values, told):
    with pytest.raises(MeasurementError, match=told):
        lens_from_photos([photos[0], replace(photos[1], **values)])


def test_photos_held_another_way_round_are_refused(photos):
    turned = Photo(np.rot90(photos[1].pixels).copy(), FOCAL_PX, 0.03, "P1")
    with pytest.raises(MeasurementError, match="900 × 1200"):
        lens_from_photos([photos[0], turned])
