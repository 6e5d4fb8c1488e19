"""What is made of a job: pictures at the size they are looked at."""

import cv2
import numpy as np
import pytest
from skimage.transform import downscale_local_mean

from visualiser.project.products import Prepared, approval_sheet, prepared, surveyed_wall
from visualiser.project.samples import create_sample
from visualiser.survey.light import estimate_light


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    return create_sample("breakfast-room", tmp_path_factory.mktemp("products") / "room")


def test_an_approval_sheet_draws_at_the_size_it_is_looked_at(job):
    """Held against the same mock-up drawn at the photo's size and averaged down afterwards."""
    wall = surveyed_wall(job)
    whole = approval_sheet(job, wall=wall)
    longest = max(wall.photo.width_px, wall.photo.height_px)
    small = approval_sheet(job, wall=wall, most_px=longest // 2)
    for large, shown in ((whole.bare, small.bare), (whole.options[0].mockup, mockup_of(small))):
        assert max(shown.shape[:2]) == longest // 2
        expected = cv2.resize(large, shown.shape[1::-1], interpolation=cv2.INTER_AREA)
        off = np.abs(expected.astype(float) - shown)
        assert np.median(off) <= 1
        assert np.percentile(off, 95) <= 5
    # Where the light comes from is told by the photo itself, whatever was drawn before.
    assert wall.main_light() == estimate_light(wall.photo, wall.survey).main


def test_a_mockup_that_is_drawn_already_is_not_drawn_again(job, monkeypatch):
    """Averaged down by another library: areas of two by two have one mean."""
    wall = surveyed_wall(job)
    option = job.document.option().id
    drawn = {option: prepared(job, option, wall).mockup()}
    monkeypatch.setattr(Prepared, "mockup", None)
    longest = max(wall.photo.width_px, wall.photo.height_px)
    sheet = approval_sheet(job, (option,), wall=wall, drawn=drawn, most_px=longest // 2)
    expected = downscale_local_mean(drawn[option].pixels.astype(float), (2, 2, 1))
    assert np.abs(expected - mockup_of(sheet)).max() <= 0.5
    assert mockup_of(sheet).shape == sheet.bare.shape


def test_a_photo_that_is_hardly_larger_is_drawn_on_as_it_is(job):
    wall = surveyed_wall(job)
    longest = max(wall.photo.width_px, wall.photo.height_px)
    sheet = approval_sheet(job, wall=wall, most_px=longest // 2 + 1)
    assert mockup_of(sheet).shape == wall.photo.pixels.shape == sheet.bare.shape


def mockup_of(sheet):
    return sheet.options[0].mockup
