"""Palettes of pictures: real ones against other methods, synthetic ones against their truth."""

import warnings

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sklearn.cluster import KMeans

from visualiser.colour.colorimetry import lab_to_linear, lab_to_srgb, lch_to_lab, srgb_to_lab
from visualiser.colour.difference import delta_e_2000
from visualiser.colour.distance import palette_distance
from visualiser.colour.extraction import extract_palette
from visualiser.errors import ColourError


def some(pixels):
    flat = pixels.reshape(-1, 3)
    return flat[:: max(len(flat) // 8_000, 1)]


def reconstruction(pixels, colours):
    """Mean CIEDE2000 of some 8 000 evenly taken pixels to the nearest of some colours."""
    lab = srgb_to_lab(some(pixels))
    return float(np.min([delta_e_2000(lab, c) for c in colours], axis=0).mean())


def painted(rng, height=300, width=400):
    """A picture of 3 to 6 muted related colours in patches, with soft shading and grain."""
    count = int(rng.integers(3, 7))
    hue = rng.uniform(0, 360) + rng.uniform(-60, 60, count)
    lab = lch_to_lab(np.c_[rng.uniform(25, 85, count), rng.uniform(0, 25, count), hue])
    patches = rng.integers(0, count, (6, 8)).astype(np.uint8)
    labels = cv2.resize(patches, (width, height), interpolation=cv2.INTER_NEAREST)
    shading = cv2.resize(
        rng.normal(0, 4, (12, 16, 3)), (width, height), interpolation=cv2.INTER_CUBIC
    )
    return lab[labels] + shading + rng.normal(0, 2, (height, width, 3)), lab


def vivid_accent(rng, ground):
    """A colour of chroma 45 to 70 within sRGB, at least 20 from every colour of the ground."""
    while True:
        accent = lch_to_lab([rng.uniform(35, 75), rng.uniform(45, 70), rng.uniform(0, 360)])
        linear = lab_to_linear(accent)
        if (linear >= 0).all() and (linear <= 1).all() and delta_e_2000(accent, ground).min() > 20:
            return accent


def with_accent(seed):
    """A painted picture with 1 % of its area in 1 to 4 spots of one vivid colour."""
    rng = np.random.default_rng(seed)
    lab, ground = painted(rng)
    accent = vivid_accent(rng, ground)
    height, width = lab.shape[:2]
    spots = int(rng.integers(1, 5))
    radius = np.sqrt(0.01 * height * width / spots / np.pi)
    rows, columns = np.mgrid[:height, :width]
    for _ in range(spots):
        y, x = rng.uniform(25, height - 25), rng.uniform(25, width - 25)
        lab[(rows - y) ** 2 + (columns - x) ** 2 < radius**2] = accent
    return lab_to_srgb(lab), accent


def test_reconstruction_of_real_pictures(pictures):
    """Mean over 11 pictures: no worse than KMeans in CIELAB, better than Pillow's median cut."""
    table = []
    for pixels in pictures.values():
        palette = extract_palette(pixels, trim=False)
        count = len(palette.swatches)
        lab = srgb_to_lab(some(pixels))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            means = KMeans(count, n_init=1, random_state=0).fit(lab).cluster_centers_
        quantised = Image.fromarray(pixels).quantize(count).getpalette()[: 3 * count]
        cut = srgb_to_lab(np.array(quantised, np.uint8).reshape(-1, 3))
        table.append([reconstruction(pixels, c) for c in (palette.lab, means, cut)])
    ours, k_means, pillow = np.mean(table, axis=0)
    assert len(table) >= 10
    assert ours <= k_means
    assert ours < pillow


def test_accents_of_one_percent_are_kept():
    kept = 0
    for seed in range(40):
        pixels, accent = with_accent(seed)
        kept += delta_e_2000(extract_palette(pixels).lab, accent).min() < 5
    assert kept >= 0.95 * 40


def test_one_accent_does_not_push_out_another():
    """2 % of one vivid colour, which the search finds, and 0.5 % of another, which it does not."""
    rng = np.random.default_rng(12)
    pixels = rng.normal(0, 2, (300, 400, 3))
    for k in range(8):  # a range of greys and browns takes all places
        pixels[:, 50 * k : 50 * k + 50] += (35 + 25 * k, 32 + 24 * k, 28 + 22 * k)
    pixels[20:68, 20:70] = (150, 60, 190)
    pixels[200:224, 300:325] = (220, 30, 40)
    palette = extract_palette(np.clip(pixels, 0, 255).astype(np.uint8))
    for code in ((150, 60, 190), (220, 30, 40)):
        lab = srgb_to_lab(np.array(code, np.uint8))
        assert delta_e_2000(palette.lab, lab).min() < 5
    assert sum(s.accent for s in palette.swatches) == 2


def test_same_palette_at_any_size(pictures):
    """24 megapixels with sensor noise against 0.3 through Pillow's Lanczos filter.

    Where the count comes out the same, so must the colours; where it sits between two counts, the
    distance of the palettes is what can be compared.
    """
    distances = []
    for name in ("coffee", "flower"):
        pixels = pictures[name]
        height, width = pixels.shape[:2]
        grow = np.sqrt(24e6 / height / width)
        size = (round(width * grow), round(height * grow))
        large = cv2.resize(pixels, size, interpolation=cv2.INTER_LINEAR)
        noise = np.empty_like(large)
        cv2.setRNGSeed(7)
        cv2.randn(noise, (12, 12, 12), (6, 6, 6))
        large = cv2.subtract(cv2.add(large, noise), np.full_like(large, 12))
        shrink = np.sqrt(0.3e6 / 24e6)
        small_size = (round(size[0] * shrink), round(size[1] * shrink))
        small = np.asarray(Image.fromarray(large).resize(small_size, Image.Resampling.LANCZOS))
        distances.append(palette_distance(extract_palette(large), extract_palette(small)))
    assert np.median(distances) < 1
    assert max(distances) <= 2


def test_order_shares_and_names(pictures):
    palette = extract_palette(pictures["coffee"])
    assert (np.diff(palette.shares) <= 1e-12).all()
    assert palette.shares.sum() == pytest.approx(1)
    assert all(s.name and s.hex.startswith("#") for s in palette.swatches)
    assert 3 <= len(palette.swatches) <= 8
    assert extract_palette(pictures["coffee"]) == palette


@pytest.mark.parametrize("count", [1, 2, 5, 10])
def test_a_chosen_count(pictures, count):
    assert len(extract_palette(pictures["astronaut"], count).swatches) == count


def test_flat_colours_come_back_exactly():
    """Three areas of one code each: the codes and the shares are known."""
    pixels = np.zeros((100, 100, 3), np.uint8)
    pixels[:50], pixels[50:80], pixels[80:] = (200, 30, 40), (20, 60, 160), (230, 220, 200)
    palette = extract_palette(pixels, trim=False)
    assert [s.hex for s in palette.swatches] == ["#c81e28", "#143ca0", "#e6dcc8"]
    assert palette.shares == pytest.approx([0.5, 0.3, 0.2])


def test_frame_and_mat_are_left_out(pictures):
    picture = pictures["coffee"]
    framed = cv2.copyMakeBorder(
        picture, 90, 110, 80, 80, cv2.BORDER_CONSTANT, value=(244, 241, 234)
    )
    framed = cv2.copyMakeBorder(framed, 25, 25, 25, 25, cv2.BORDER_CONSTANT, value=(30, 25, 20))
    trimmed, untrimmed = extract_palette(framed), extract_palette(framed, trim=False)
    bare = extract_palette(picture)
    assert palette_distance(trimmed, bare) < 3
    assert palette_distance(untrimmed, bare) > 10


def test_glare_is_left_out_and_white_paint_is_kept():
    rng = np.random.default_rng(3)
    base = np.full((240, 320, 3), (90, 60, 50), np.float64) + rng.normal(0, 3, (240, 320, 3))
    base[120:] = (60, 80, 120) + rng.normal(0, 3, (120, 320, 3))
    rows, columns = np.mgrid[:240, :320]
    distance = np.hypot(rows - 80, columns - 200)
    veil = np.clip(1.8 - distance / 30, 0, 1)[:, :, None]
    glare = np.clip(base * (1 - veil) + 255 * veil, 0, 255).astype(np.uint8)
    paint = np.clip(base, 0, 255).astype(np.uint8)
    paint[distance < 24] = 255

    def white_share(pixels):
        return sum(s.share for s in extract_palette(pixels).swatches if s.lab[0] > 97)

    assert white_share(paint) > 0.015
    assert white_share(glare) < 0.5 * white_share(paint)


def test_transparent_parts_do_not_count():
    pixels = np.zeros((60, 60, 4), np.uint8)
    pixels[:, :, 0] = 255
    pixels[20:40, 20:40] = (0, 0, 255, 255)
    assert [s.hex for s in extract_palette(pixels).swatches] == ["#0000ff"]


def test_a_masked_part_does_not_count():
    pixels = np.full((60, 60, 3), (255, 0, 0), np.uint8)
    pixels[:, 30:] = (0, 0, 255)
    mask = np.zeros((60, 60), bool)
    mask[:, 32:] = True
    assert [s.hex for s in extract_palette(pixels, mask=mask).swatches] == ["#0000ff"]


@pytest.mark.parametrize(
    ("pixels", "code"),
    [
        (np.full((80, 80, 3), 255, np.uint8), "palette-blank"),
        (np.tile(np.arange(256, dtype=np.uint8)[:, None], (2, 256)), "palette-monochrome"),
        (np.array([[[10, 200, 30]]], np.uint8), "palette-few-pixels"),
    ],
)
def test_little_to_go_by_is_said_plainly(pixels, code):
    palette = extract_palette(pixels)
    assert code in [f.code for f in palette.findings]
    assert not palette.trusted


@pytest.mark.parametrize(
    "pixels",
    [np.zeros((0, 5, 3), np.uint8), np.zeros((40, 40, 4), np.uint8)],
    ids=["no pixels", "fully transparent"],
)
def test_nothing_to_see_is_refused(pixels):
    with pytest.raises(ColourError, match="No pixel"):
        extract_palette(pixels)


@pytest.mark.parametrize(
    "pixels", [np.zeros((4, 4, 3)), np.zeros((4, 4, 2), np.uint8), np.zeros(9, np.uint8)]
)
def test_no_picture_is_a_programmers_mistake(pixels):
    with pytest.raises(ValueError, match="expected"):
        extract_palette(pixels)


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 40), st.integers(1, 40), st.integers(0, 2**32 - 1))
def test_any_picture_gives_a_palette(height, width, seed):
    rng = np.random.default_rng(seed)
    pixels = rng.integers(0, 256, (height, width, 3), dtype=np.uint8)
    palette = extract_palette(pixels)
    assert 1 <= len(palette.swatches) <= 8
    assert palette.shares.sum() == pytest.approx(1)
