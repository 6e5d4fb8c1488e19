import math

import pytest

from visualiser.photo.camera import FILM_DIAGONAL_MM, LensTags, focal_prior


def test_film_diagonal():
    """36 x 24 mm, the frame of 135 film: 43.27 mm."""
    assert pytest.approx(43.27, abs=0.005) == FILM_DIAGONAL_MM


def test_28_mm_on_3_2_sees_65_5_degrees_across():
    """A 28 mm lens on 36 x 24 mm: 65.5 degrees across, the handbook value for its 36 mm width."""
    prior = focal_prior(LensTags(focal_35mm=28), 6000, 4000)
    assert 2 * math.degrees(math.atan(3000 / prior.focal_px)) == pytest.approx(65.5, abs=0.05)


@pytest.mark.parametrize(
    ("width", "height", "reading"), [(4032, 3024, 26 / 36 * 4032), (3024, 4032, 26 / 36 * 4032)]
)
def test_both_readings_of_the_number_lie_within_two_sigma(width, height, reading):
    prior = focal_prior(LensTags(focal_35mm=26), width, height)
    assert prior.focal_px == pytest.approx(26 / 43.2666 * 5040, rel=1e-4)
    assert abs(reading / prior.focal_px - 1) == pytest.approx(0.0385, abs=0.001)
    assert abs(reading / prior.focal_px - 1) < 2 * prior.relative_sigma


def test_a_wide_crop_in_the_camera_is_less_certain():
    whole = focal_prior(LensTags(focal_35mm=26), 4032, 3024)
    wide = focal_prior(LensTags(focal_35mm=26), 4032, 2268)
    # If the 26 mm are meant for the 4:3 sensor, the focal length is still the same number of px.
    assert abs(whole.focal_px / wide.focal_px - 1) < 2 * wide.relative_sigma
    assert wide.relative_sigma > 1.4 * whole.relative_sigma


def test_resized_file():
    taken = LensTags(focal_35mm=26, pixel_dimensions=(4032, 3024))
    whole = focal_prior(taken, 4032, 3024)
    half = focal_prior(taken, 1512, 2016)
    assert half.focal_35mm == 26
    assert half.from_size
    assert half.focal_px == pytest.approx(whole.focal_px / 2, rel=1e-3)
    assert half.relative_sigma == pytest.approx(whole.relative_sigma)


def test_cropped_file_keeps_the_focal_length_in_pixels():
    taken = LensTags(focal_35mm=26, pixel_dimensions=(4032, 3024))
    whole = focal_prior(taken, 4032, 3024)
    assert focal_prior(taken, 4032, 1600).focal_px == pytest.approx(whole.focal_px, rel=1e-6)


def test_cropped_and_perhaps_resized_file_is_less_certain():
    taken = LensTags(focal_35mm=26, pixel_dimensions=(4032, 3024))
    whole = focal_prior(taken, 4032, 3024)
    both = focal_prior(taken, 3226, 1600)
    assert both.relative_sigma > whole.relative_sigma
    for scale in (0.8, 1.0):  # resized after a crop, or only cropped
        assert abs(whole.focal_px * scale / both.focal_px - 1) < 2 * both.relative_sigma
    assert focal_prior(taken, 600, 600) is None


@pytest.mark.parametrize(
    ("unit", "resolution"), [(2, 4000 / 36 * 25.4), (3, 4000 / 36 * 10), (None, 4000 / 36 * 25.4)]
)
def test_focal_plane_resolution(unit, resolution):
    """Exif 2.3, 0xA20E and 0xA210: unit 2 is the inch (and the default), 3 the centimetre."""
    tags = {0x920A: 50.0, 0xA20E: resolution}
    if unit:
        tags[0xA210] = unit
    prior = focal_prior(LensTags.from_exif(tags), 4000, 2667)
    assert prior.focal_px == pytest.approx(50 / 36 * 4000, rel=1e-6)
    assert prior.relative_sigma == pytest.approx(0.02)
    assert prior.focal_35mm is None
    assert not prior.from_size


def test_digital_zoom_leaves_the_number_open():
    plain = focal_prior(LensTags(focal_35mm=26), 4032, 3024)
    zoomed = focal_prior(LensTags(focal_35mm=26, digital_zoom=1.2), 4032, 3024)
    assert zoomed.relative_sigma > plain.relative_sigma
    assert focal_prior(LensTags(focal_35mm=26, digital_zoom=3.0), 4032, 3024) is None


@pytest.mark.parametrize(
    "tags",
    [
        {},
        {0x920A: 5.6},
        {0xA405: 0},
        {0xA405: -26},
        {0xA405: float("nan")},
        {0xA405: "wide"},
        {0xA405: ()},
        {0xA405: 65535},
        {0x920A: 5.6, 0xA20E: 1e-3},
        {0x920A: 5.6, 0xA20E: 4000.0, 0xA210: 77},
    ],
)
def test_unusable_tags_give_no_prior(tags):
    assert focal_prior(LensTags.from_exif(tags), 4032, 3024) is None
