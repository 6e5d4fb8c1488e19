"""Edges that only their hue tells, in JPEGs as cameras write them.

JPEG codes 8 x 8 values a block (ITU-T T.81, A.1.3), and cameras keep hues at half the sharpness of
light (JFIF's 4:2:0), so that a block of hue is 16 px wide: a faint step sticks to its border.
"""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from visualiser.photo.photo import Photo
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.edges.locate import SHARPEST_HUE_PX, sample_path, sample_side

SIZE = 300


def step_photo(angle_deg, low, high, noise_codes, blur_px=0.7, seed=0):
    """A straight step in light, blurred exactly, coded as sRGB; returns photo, normal, offset."""
    from scipy.special import ndtr

    normal = np.array([np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))])
    offset = normal @ [SIZE / 2 + 0.3, SIZE / 2]
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    across = normal[0] * x + normal[1] * y - offset
    light = low + (high - low) * ndtr(across / blur_px)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    rng = np.random.default_rng(seed)
    pixels = coded[..., None] + rng.normal(0, noise_codes, (SIZE, SIZE, 3))
    return Photo(np.clip(np.round(pixels), 0, 255).astype(np.uint8)), normal, offset


def ends(normal, offset, half=70):
    along = np.array([-normal[1], normal[0]])
    middle = normal * offset + along * (along @ [SIZE / 2, SIZE / 2])
    return middle - half * along, middle + half * along


@pytest.mark.parametrize("angle_deg", [0, 1, 17, 45, 90, 200])
def test_a_clear_edge_is_found_within_a_twentieth_of_a_pixel(angle_deg):
    photo, normal, offset = step_photo(angle_deg, 0.1, 0.8, 2.0)
    start, end = ends(normal, offset)
    samples = sample_side(photo, start + [3, 1], end + [-2, -2])
    gaps = samples.points_px @ normal - offset
    assert len(samples) >= 12
    assert abs(gaps.mean()) < 0.05
    assert np.abs(samples.normals_px @ normal) == pytest.approx(1, abs=1e-3)


def test_linear_light_removes_the_outward_shift_of_gamma_coded_edges():
    """The half-level of coded values lies outward on a dark wall; that of light does not.

    Closed form: with levels 0.03 and 0.8 the coded half-level is 0.543, linear 0.256, which the
    blurred step of sigma 0.7 px reaches 0.7 * Phi^-1(0.293) = -0.38 px from the edge.
    """
    photo, normal, offset = step_photo(0, 0.03, 0.8, 0.5)
    samples = sample_side(photo, *ends(normal, offset))
    linear_bias = abs(float((samples.points_px @ normal - offset).mean()))
    row = photo.pixels[SIZE // 2, :, 0].astype(float)
    half = (row.min() + row.max()) / 2
    coded_bias = abs(float(np.interp(half, row, np.arange(SIZE))) - offset)
    assert coded_bias > 0.3
    assert linear_bias < 0.05


@pytest.mark.parametrize(("low", "high"), [(0.3, 0.8), (0.5, 0.53), (0.8, 0.2)])
def test_stated_sigma_matches_the_scatter(low, high):
    pulls = []
    for seed in range(6):
        photo, normal, offset = step_photo(23, low, high, 2.5, seed=seed)
        samples = sample_side(photo, *ends(normal, offset))
        pulls.append((samples.points_px @ normal - offset) / samples.sigma_px)
    spread = float(np.concatenate(pulls).std())
    assert 0.5 < spread < 1.5


def test_white_on_white_is_found_by_its_blue():
    """Two grey levels against noise of four, six in blue."""
    _, normal, offset = step_photo(12, 0.5, 0.5, 0.0)
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    inside = (normal[0] * x + normal[1] * y > offset)[..., None]
    rng = np.random.default_rng(1)
    coded = 190.0 + inside * np.array([1.0, 2.0, 6.0])
    luma = rng.normal(0, 3, (SIZE, SIZE, 1))
    pixels = coded + luma + rng.normal(0, 1.5, (SIZE, SIZE, 3))
    faint = Photo(np.clip(np.round(pixels), 0, 255).astype(np.uint8))
    samples = sample_side(faint, *ends(normal, offset))
    gaps = samples.points_px @ normal - offset
    assert len(samples) >= 8
    assert abs(gaps.mean()) < 0.3


def test_tape_and_a_dark_corner_do_not_move_the_edge():
    photo, normal, offset = step_photo(0, 0.1, 0.8, 1.5)
    pixels = photo.pixels.copy()
    pixels[85:115, 120:180] = (40, 70, 160)
    pixels[195:215, 140:156] = 255
    start, end = ends(normal, offset)
    samples = sample_side(Photo(pixels), start, end)
    gaps = samples.points_px @ normal - offset
    assert np.abs(gaps).max() < 0.3
    assert abs(np.median(gaps)) < 0.05


def test_a_bent_edge_is_followed():
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    sag = 4 * (1 - ((y - 150) / 100.0) ** 2)
    from scipy.special import ndtr

    light = 0.2 + 0.5 * ndtr((x - 150 - sag) / 0.8)
    pixels = np.repeat((255 * light ** (1 / 2.2)).astype(np.uint8)[..., None], 3, axis=2)
    path = np.c_[np.full(180, 152.0), np.linspace(60, 240, 180)]
    samples = sample_path(LinearView.whole(Photo(pixels)), path, 6.0)
    expected = 150 + 4 * (1 - ((samples.points_px[:, 1] - 150) / 100.0) ** 2)
    assert len(samples) > 15
    assert np.abs(samples.points_px[:, 0] - expected).max() < 0.15


def test_no_edge_gives_no_samples():
    rng = np.random.default_rng(3)
    noise = rng.normal(150, 5, (SIZE, SIZE, 3))
    photo = Photo(np.clip(cv2.GaussianBlur(noise, (0, 0), 1), 0, 255).astype(np.uint8))
    assert len(sample_side(photo, [50, 50], [220, 60])) == 0


@pytest.mark.parametrize("end", [[50.0, 50.0], [53.0, 50.0], [-400.0, -400.0]])
def test_degenerate_sides_give_no_samples_or_stay_inside(end):
    photo, *_ = step_photo(0, 0.1, 0.8, 1.0)
    samples = sample_side(photo, [50.0, 50.0], end)
    assert len(samples) == 0 or (samples.points_px >= 0).all()


def test_clipped_paper_is_not_taken_for_larger_than_it_is():
    """White 1.3 times what the file can hold: the half-level would lie 0.3 blurs outside.

    Closed form: half of 0.1 to 1 is 0.55, which the step from 0.1 to 1.3 reaches at the quantile
    0.375, 0.32 blurs before the edge.
    """
    normal, offset = np.array([1.0, 0.0]), SIZE / 2 + 0.3
    from scipy.special import ndtr

    y, x = np.mgrid[0:SIZE, 0:SIZE]
    light = np.clip(0.1 + 1.2 * ndtr((x - offset) / 0.9), 0, 1) + 0 * y
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055) * 255
    pixels = np.repeat(np.round(coded)[..., None], 3, axis=2).astype(np.uint8)
    samples = sample_side(Photo(pixels), *ends(normal, offset))
    assert abs(float((samples.points_px @ normal - offset).mean())) < 0.15


WIDTH, HEIGHT = 320, 260
WALL = np.array([206.0, 205.0, 200.0])


def hue_edge(x_px, lean_px, quality, seed, step):
    """An upright edge that leans by some px over 200, coded; samples, and errors in px: as a whole
    and at the lower end."""
    y, x = (np.mgrid[0 : 4 * HEIGHT, 0 : 4 * WIDTH] + 0.5) / 4 - 0.5
    beyond = (x > x_px + lean_px * (y - 130) / 200).astype(np.float32)
    beyond = cv2.resize(beyond, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(WALL + beyond[..., None] * np.array(step, float), (0, 0), 0.8)
    light += np.random.default_rng(seed).normal(0, 2.0, (HEIGHT, WIDTH, 1))
    coded = io.BytesIO()
    picture = Image.fromarray(np.clip(np.rint(light), 0, 255).astype(np.uint8))
    picture.save(coded, "JPEG", quality=quality, subsampling="4:2:0")
    photo = Photo(np.array(Image.open(coded).convert("RGB")))
    half = lean_px / 2
    samples = sample_side(photo, np.array([x_px - half, 30.0]), np.array([x_px + half, 230.0]))
    if not len(samples):
        return samples, np.nan, np.nan
    down = (samples.points_px[:, 1] - 130) / 100
    off = samples.points_px[:, 0] - (x_px + half * down)
    twist, whole = np.polyfit(down, off, 1)
    return samples, float(whole), float(twist)


@pytest.mark.parametrize(("quality", "step"), [(65, (0, -1, 4)), (80, (0, -1, 4))])
def test_what_is_stated_of_faint_hue_edges_is_how_far_off_they_are(quality, step):
    rng = np.random.default_rng(3)
    of_whole, of_twist, sharp = [], [], []
    for seed in range(40):
        samples, whole, twist = hue_edge(
            rng.uniform(150, 166), rng.uniform(-6, 6), quality, seed, step
        )
        if not len(samples):
            continue
        look = samples.look
        of_whole.append(whole / np.hypot(look.shared_sigma_px, look.wander_px))
        of_twist.append(twist / np.hypot(0.5 * look.shared_sigma_px, look.wander_px))
        sharp.append(look.blur_px < SHARPEST_HUE_PX)
    assert len(of_whole) >= 30
    assert np.sum(sharp) >= 10
    for share in (of_whole, of_twist):
        assert 0.5 < np.sqrt(np.mean(np.square(share))) < 1.2


def test_an_edge_on_a_border_of_blocks_is_not_believed_for_being_sharp():
    samples, _, twist = hue_edge(159.5, 6.0, 65, 1, (0, -1, 5))
    assert samples.look.blur_px < SHARPEST_HUE_PX
    assert abs(twist) > 2
    assert abs(twist) < 2.5 * samples.look.wander_px


def test_a_hue_edge_with_ample_contrast_is_told_well():
    samples, whole, twist = hue_edge(157.0, 3.0, 92, 1, (-1, -3, 18))
    assert samples.look.wander_px < 1.0
    assert max(abs(whole), abs(twist)) < 1.0
