"""What people bring that cannot be framed: each is named, with what to do."""

import io

import numpy as np
import pytest
from PIL import Image

from visualiser.errors import PieceError
from visualiser.inventory.artwork import load_artwork
from visualiser.inventory.framing_sizes import mat_to_fit, padded, print_findings
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece


def encoded(image, kind, **options):
    data = io.BytesIO()
    image.save(data, kind, **options)
    return data.getvalue()


def said(reason):
    error = reason.value
    assert error.hint
    return f"{error.message} {error.hint}"


@pytest.mark.parametrize("size", [(1, 1), (1, 4000), (15, 15)])
def test_an_artwork_of_hardly_a_pixel_is_named(size):
    with pytest.raises(PieceError) as reason:
        load_artwork(encoded(Image.new("RGB", size, "red"), "PNG"), "dot")
    assert f"dot is only {size[0]} x {size[1]} px" in said(reason)


def test_a_transparent_picture_lies_on_white_paper():
    image = Image.new("RGBA", (60, 40), (200, 0, 0, 255))
    image.paste((0, 0, 0, 0), (0, 0, 30, 40))
    art = load_artwork(encoded(image, "PNG"))
    assert (art.pixels[:, :29] == 255).all()
    assert (art.pixels[:, 31:] == (200, 0, 0)).all()


def test_a_cmyk_picture_keeps_its_colours_roughly():
    """No ink at all is paper; full cyan is a blue green without red."""
    paper = load_artwork(encoded(Image.new("CMYK", (40, 30), (0, 0, 0, 0)), "JPEG"))
    cyan = load_artwork(encoded(Image.new("CMYK", (40, 30), (255, 0, 0, 0)), "JPEG"))
    assert paper.pixels.min() > 245
    red, green, blue = cyan.pixels.mean(axis=(0, 1))
    assert red < 60 < green < blue + 20


@pytest.mark.parametrize(
    ("width", "height", "lost"), [(600, 300, "50 %"), (300, 330, "9 %"), (300, 300, "")]
)
def test_a_shape_that_does_not_fit_is_told_with_the_three_answers(width, height, lost):
    art = Artwork(np.full((height, width, 3), 90, np.uint8))
    piece = Piece("a", 400, 400, moulding=None, artwork=art)
    found = [f for f in print_findings(piece) if f.code == "print-aspect"]
    assert bool(found) == bool(lost)
    for finding in found:
        assert lost in finding.text
        for answer in ("crop", "whole", "mat"):
            assert answer in finding.hint
    whole = Piece("a", 400, 400, moulding=None, artwork=art, artwork_fit="whole")
    for answered in (whole, mat_to_fit(piece)):
        assert "print-aspect" not in [f.code for f in print_findings(answered)]
    assert padded(art, 1.0).aspect == pytest.approx(1.0, abs=0.005)


@pytest.mark.parametrize("size", [(-400, 300), (400, 0), (float("nan"), 300), (float("inf"), 9)])
def test_impossible_outside_sizes_are_named(size):
    with pytest.raises(PieceError) as reason:
        Piece("shore", *size)
    assert "shore" in said(reason)
    assert "above 0" in said(reason)


@pytest.mark.parametrize("name", ["top_mm", "sides_mm", "bottom_mm", "overlap_mm"])
def test_negative_mat_borders_are_named(name):
    borders = {"top_mm": 40.0, "sides_mm": 40.0, "bottom_mm": 40.0, name: -1.0}
    with pytest.raises(PieceError) as reason:
        Mat(**borders)
    assert f"{name.removesuffix('_mm')} is -1 mm" in said(reason)


@pytest.mark.parametrize("name", ["width_mm", "depth_mm", "rebate_mm"])
def test_negative_mouldings_are_named(name):
    with pytest.raises(PieceError) as reason:
        Moulding(**{name: -3.0})
    assert "is -3 mm" in said(reason)


def test_a_mat_wider_than_its_frame_is_named():
    with pytest.raises(PieceError) as reason:
        Piece("shore", 300, 400, mat=Mat(60, 140, 60))
    assert "shore: moulding and mat leave no window in 300 x 400 mm" in said(reason)
    assert "narrower" in said(reason)
