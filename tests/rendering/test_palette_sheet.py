"""Pictures of palettes: what is drawn is what was given, and it can be read in grey."""

import numpy as np
import pytest

from visualiser.colour.colorimetry import contrast_ratio, from_hex
from visualiser.colour.palette import palette_from_lab
from visualiser.errors import ColourError
from visualiser.rendering.palette_sheet import (
    _ink_on,
    distance_table,
    hue_plane,
    palette_strips,
    room_against_art,
)

WARM = palette_from_lab([[70, 20, 40], [40, 30, 30], [90, 2, 8]], [0.5, 0.3, 0.2])
COOL = palette_from_lab([[50, -5, -35], [85, -2, -8]], [0.7, 0.3])
ALL = ([WARM, COOL, WARM], ["Kiln", "Harbour", "Kiln again, with a rather long title"])


def colour_share(pixels, code):
    return float((np.abs(pixels.astype(int) - from_hex(code)).max(axis=2) <= 2).mean())


def test_strips_are_as_wide_as_the_shares():
    pixels = palette_strips([WARM], ["Kiln"], width=900)
    row = pixels[14 + 8]  # above the letters
    widths = [
        int((np.abs(row.astype(int) - from_hex(s.hex)).max(axis=1) <= 2).sum())
        for s in WARM.swatches
    ]
    assert np.array(widths) / sum(widths) == pytest.approx(WARM.shares, abs=0.01)


def test_every_swatch_is_on_the_plane():
    pixels = hue_plane([WARM, COOL], ["Kiln", "Harbour"])
    assert pixels.dtype == np.uint8
    for swatch in (*WARM.swatches, *COOL.swatches):
        assert colour_share(pixels, swatch.hex) > 5e-5


def test_the_same_pieces_are_white_and_the_furthest_is_darkest():
    pixels = distance_table(*ALL)
    corner = pixels[40 + 8, 190 + 8].astype(int)  # first piece against itself
    far = pixels[40 + 8, 190 + 62 + 8].astype(int)  # against the second
    same = pixels[40 + 8, 190 + 2 * 62 + 8].astype(int)  # against its double
    assert corner.min() >= 250
    assert same.min() >= 250
    assert far.max() < 90
    assert np.ptp(far) == 0  # grey: read without hue


def test_room_against_art_holds_both():
    pixels = room_against_art(WARM, [COOL], ["Harbour"])
    assert colour_share(pixels, WARM.swatches[0].hex) > 0.02
    assert colour_share(pixels, COOL.swatches[0].hex) > 0.02


@pytest.mark.parametrize("lightness", range(0, 101, 10))
def test_labels_can_be_read_on_any_swatch(lightness):
    """W3C, WCAG 2.2, success criterion 1.4.3: 3 for large type, 4.5 for small.

    No ink reaches 4.5 on every mid grey: black and white meet at 4.58, near-black a little lower.
    """
    code = palette_from_lab([[lightness, 10, -10]], [1]).swatches[0].hex
    assert contrast_ratio(from_hex(code), from_hex(_ink_on(code))) >= 4.2


@pytest.mark.parametrize("draw", [palette_strips, hue_plane, distance_table])
def test_nothing_or_too_much_to_draw(draw):
    with pytest.raises(ColourError, match="no palettes"):
        draw([], [])
    with pytest.raises(ColourError, match="do not fit"):
        draw([WARM] * 40, ["x"] * 40)
    with pytest.raises(ValueError, match="name for each"):
        draw([WARM], [])
