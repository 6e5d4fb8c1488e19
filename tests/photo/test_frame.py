import numpy as np
import pytest

from visualiser.photo.frame import FrameEvidence, frame_evidence, sensor_likeness


@pytest.mark.parametrize(
    "size",
    [
        (4032, 3024), (4000, 3000), (4160, 3120), (2592, 1944), (640, 480),  # 4:3
        (6000, 4000), (5184, 3456), (4928, 3264),  # 3:2
        (3840, 2160), (1920, 1080), (3024, 3024), (4000, 1800),
    ],
)  # fmt: skip
def test_frames_that_cameras_write(size):
    """Sizes as makers list them in their cameras' manuals (from memory)."""
    assert sensor_likeness(*size) == sensor_likeness(*size[::-1]) > 0.6
    assert frame_evidence(*size, size[::-1], True).whole_chance > 0.95


@pytest.mark.parametrize("size", [(3100, 2700), (4032, 2800), (2900, 3024), (3500, 2000)])
def test_a_size_that_no_camera_writes_is_doubted(size):
    for noted in (None, size):
        evidence = frame_evidence(*size, noted, True)
        assert evidence.whole_chance < 0.5
        assert evidence.cut_sigma_px[0] == pytest.approx(np.hypot(*size) / 8)
        assert evidence.log_focal > 0


def test_one_row_more_or_less_is_no_step():
    """From 3:2 to 4:3 row by row; odds, since a photo's own evidence multiplies them."""
    rows = range(2688, 3025)
    chance = np.array([frame_evidence(4032, n, None, True).whole_chance for n in rows])
    assert np.abs(np.diff(np.log(chance / (1 - chance)))).max() < np.log(1.5)
    assert chance[[0, -1]] == pytest.approx(0.9, abs=0.001)
    assert chance.min() == pytest.approx(0.15, abs=0.001)


def test_a_side_that_kept_its_length_keeps_its_middle():
    """800 columns are gone and every row is there: the axis is off sideways, by 400 at most."""
    evidence = frame_evidence(3232, 3024, (4032, 3024), True)
    assert evidence.whole_chance == 0
    assert evidence.cut_sigma_px == (400.0, 0.0)
    assert evidence.log_focal == evidence.log_focal_sigma == 0


def test_the_noted_size_is_that_of_the_stored_picture():
    turned = frame_evidence(3024, 4032, (4032, 3024), True)
    assert turned.whole_chance > 0.95
    trimmed = frame_evidence(3024, 3232, (4032, 3024), True)
    assert trimmed.cut_sigma_px == (0.0, 400.0)


def test_a_smaller_copy_is_as_whole_as_the_original():
    assert frame_evidence(1600, 1200, (4032, 3024), True).whole_chance > 0.95
    assert 0.5 < frame_evidence(1600, 1200, None, False).whole_chance < 0.95


def test_a_focal_length_that_was_not_worked_out_from_the_size_stays():
    assert frame_evidence(3100, 2700, None, False).log_focal == 0


def test_scaled():
    half = FrameEvidence(0.5, (100.0, 60.0), 0.1, 0.1).scaled(0.5)
    assert half == FrameEvidence(0.5, (50.0, 30.0), 0.1, 0.1)


@pytest.mark.parametrize("wrong", [{"whole_chance": 1.2}, {"cut_sigma_px": (-1.0, 0.0)}])
def test_impossible_evidence_is_refused(wrong):
    with pytest.raises(ValueError, match=r"chance|standard deviations"):
        FrameEvidence(**wrong)
