"""What of a group laid out is not read is said, and where it lies: top views drawn here."""

import cv2
import numpy as np
import pytest

from visualiser.laid_out.choosing import choose_outlines
from visualiser.laid_out.leftover import place_in_words
from visualiser.laid_out.support import EdgeField
from visualiser.laid_out.top_view import TopView

STEP_MM = 2.0
SHEET = (420, 150, 105, 148)


def drawn_view(*pieces):
    """A carpet seen from above with pieces (left, top, width, height, rim, inner), in samples."""
    rng = np.random.default_rng(4)
    grain = cv2.GaussianBlur(rng.normal(0, 9, (420, 600)).astype(np.float32), (0, 0), 1.0)
    image = np.clip(np.float32([140, 130, 118]) + grain[..., None], 0, 255)
    for left, top, width, height, rim, inner in [(*SHEET, (246, 246, 246), None), *pieces]:
        cv2.rectangle(image, (left, top), (left + width - 1, top + height - 1), rim, -1)
        if inner is not None:
            ends = (left + 12, top + 12), (left + width - 13, top + height - 13)
            cv2.rectangle(image, *ends, inner, -1)
    pixels = cv2.GaussianBlur(image, (0, 0), 0.8).astype(np.uint8)
    return TopView(pixels, np.ones((420, 600), bool), 0.0, 0.0, STEP_MM, 20.0)


def read(view):
    field = EdgeField(np.asarray(cv2.cvtColor(view.pixels, cv2.COLOR_RGB2LAB), np.uint8))
    left, top, width, height = SHEET
    sheet = np.array([[left, top], [left + width, top], [left + width, top + height],
                      [left, top + height]], float)  # fmt: skip
    return choose_outlines(view, field, sheet)


WHOLE = (250, 160, 120, 100, (40, 38, 36), (200, 90, 80))


def test_whole_pieces_leave_nothing_to_be_said():
    chosen = read(drawn_view(WHOLE))
    assert len(chosen.outlines) == 1
    assert not chosen.findings


def test_a_piece_that_the_photo_cuts_is_left_out_and_named():
    chosen = read(drawn_view(WHOLE, (-40, 40, 130, 150, (52, 74, 110), (235, 230, 220))))
    assert len(chosen.outlines) == 1
    (finding,) = chosen.findings
    assert finding.code == "piece-cut-off"
    assert "left" in finding.text


def test_a_piece_under_another_is_left_out_and_named():
    under = (180, 60, 130, 150, (178, 146, 84), (235, 230, 220))
    chosen = read(drawn_view(under, WHOLE))
    assert [finding.code for finding in chosen.findings] == ["pieces-overlap"]
    inner = chosen.outlines.mean(axis=1)
    assert all(abs(x - 310) < 12 and abs(y - 210) < 12 for x, y in inner)


def test_a_bare_patch_that_edges_do_not_bear_out_is_named():
    rng = np.random.default_rng(1)
    view = drawn_view(WHOLE)
    soft = np.zeros(view.pixels.shape, np.float32)
    soft[60:150, 60:170] = (-60, 20, -30)
    soft = cv2.GaussianBlur(soft, (0, 0), 3.0) + rng.normal(0, 1, soft.shape)
    pixels = np.clip(view.pixels + soft, 0, 255).astype(np.uint8)
    blurred = TopView(pixels, view.inside, 0.0, 0.0, STEP_MM, 20.0)
    chosen = read(blurred)
    codes = [finding.code for finding in chosen.findings]
    assert codes == ["piece-unclear"]


@pytest.mark.parametrize(
    ("at", "words"),
    [((300, 210), "in the middle"), ((5, 210), "at the left"), ((590, 400), "at the lower right"),
     ((300, 10), "in the upper middle")],
)  # fmt: skip
def test_a_place_is_named_by_its_part_of_the_photo(at, words):
    assert place_in_words(drawn_view(), np.array(at, float)) == words
