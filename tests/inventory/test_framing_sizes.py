import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from visualiser.errors import PieceError
from visualiser.inventory.framing_sizes import (
    mat_to_fit,
    outside_of_frame,
    padded,
    print_findings,
    print_in_frame,
)
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece

INCH = 25.4
sides = st.floats(50, 2000)


def picture(width, height):
    return Artwork(np.zeros((height, width, 3), np.uint8))


def test_eighteen_by_twenty_four_in_a_twenty_four_by_thirty():
    """Worked by hand: 3 in of paper a side, less 6 mm under the lip, plus 3 mm of overlap."""
    size = print_in_frame((18 * INCH, 24 * INCH), (24 * INCH, 30 * INCH), Moulding(20, rebate_mm=6))
    assert size.mat is not None
    assert size.mat.sides_mm == pytest.approx(3 * INCH - 6 + 3)
    assert size.mat.top_mm == pytest.approx(size.mat.bottom_mm)
    assert size.outside_mm == pytest.approx((24 * INCH + 28, 30 * INCH + 28))


@given(sides, sides, st.floats(10, 300), st.floats(8, 60), st.booleans())
def test_the_sizes_agree_with_the_piece_made_of_them(width, height, spare, rail, weighted):
    moulding = Moulding(rail, rebate_mm=6)
    frame = (width + 2 * spare, height + 2 * spare)
    size = print_in_frame((width, height), frame, moulding, bottom_weighted=weighted)
    piece = Piece("a", *size.outside_mm, moulding=moulding, mat=size.mat)
    assert piece.window_mm == pytest.approx(size.window_mm)
    if weighted:
        assert size.mat.bottom_mm == pytest.approx(1.2 * size.mat.top_mm)


def test_a_print_of_the_frames_size_needs_no_mat():
    size = print_in_frame((300, 400), (300, 400), Moulding(20, rebate_mm=6))
    assert size.mat is None
    assert size.window_mm == (288, 388)
    assert size.outside_mm == outside_of_frame((300, 400), Moulding(20, rebate_mm=6))


@pytest.mark.parametrize(
    ("print_mm", "frame_mm", "message"),
    [
        ((500, 700), (400, 500), "does not go into"),
        ((700, 500), (500, 700), "turned by a quarter"),
        ((-3, 500), (500, 700), "The print is -3 x 500 mm"),
        ((300, 400), (304, 420), "wholly under the lip"),
    ],
)
def test_mismatches_are_named(print_mm, frame_mm, message):
    with pytest.raises(PieceError, match=message):
        print_in_frame(print_mm, frame_mm, Moulding(20, rebate_mm=6))


@given(st.integers(20, 400), st.integers(20, 400))
def test_a_mat_made_to_fit_leaves_nothing_to_crop(width, height):
    piece = Piece("a", 500, 400, mat=Mat(30, 30, 40), artwork=picture(width, height))
    fitting = mat_to_fit(piece)
    assert fitting.window_mm[0] / fitting.window_mm[1] == pytest.approx(width / height)
    assert (fitting.width_mm, fitting.height_mm) == (500, 400)


@settings(deadline=None)
@given(st.integers(1, 300), st.integers(1, 300), st.floats(0.2, 5))
def test_padding_keeps_every_pixel(width, height, aspect):
    art = Artwork(np.full((height, width, 3), 7, np.uint8))
    sheet = padded(art, aspect)
    assert (sheet.pixels == 7).all(axis=2).sum() == width * height
    assert sheet.aspect == pytest.approx(aspect, abs=1.0 / sheet.pixels.shape[0] + 0.02 * aspect)


def test_what_to_look_at_is_told():
    piece = Piece("a", 500, 400, artwork=picture(40, 100))
    assert [f.code for f in print_findings(piece)] == ["print-aspect", "print-coarse"]
    assert print_findings(Piece("b", 500, 400)) == ()
