"""The road from a drawn photo of a floor to pieces.

One small photo by default, one of four pieces when slow tests are asked for;
tests/benchmarks/test_laid_out.py measures many.
"""

import cv2
import numpy as np
import pytest

import visualiser as vis
from tests.laid_out.drawn_floor import (
    DrawnPiece,
    camera_over,
    draw_floor,
    floor_texture,
    random_art,
    sheet_reference,
)
from visualiser.colour.colorimetry import srgb_to_lab


@pytest.fixture(scope="module")
def small():
    """Two pieces from 90 cm above, small enough to be read in a second or two."""
    rng = np.random.default_rng(5)
    pieces = [
        DrawnPiece(200, 250, 24, 20, 30, -260, 0, 1.2, (92, 64, 45), random_art(rng, 100, 150)),
        DrawnPiece(250, 200, 18, 16, 0, 20, 10, -0.8, (28, 27, 27), random_art(rng, 218, 168)),
    ]
    camera = camera_over(np.zeros(2), 900, 10, 1.0, 900, k1=0.01)
    texture = floor_texture(rng, "carpet", 1500)
    return draw_floor(
        rng, pieces, camera, "carpet", sheet_at=(290, 0, 5), person=False, texture=texture
    )


def test_two_pieces_are_found_and_measured_within_what_is_stated(small):
    """The truth is what was drawn; the half-widths hold 95 of 100, so twice them holds all."""
    found = vis.read_layout(small.photo, [sheet_reference(small)]).pieces
    assert len(found) == len(small.pieces)
    for piece, true in zip(found, small.pieces, strict=True):
        wide, high = piece.size_half_width_mm
        assert abs(piece.width_mm - true.width_mm) < 2 * wide < 20
        assert abs(piece.height_mm - true.height_mm) < 2 * high < 20
        assert piece.rail_mm == pytest.approx(true.rail_mm, abs=2)
        assert np.mean(piece.mat_mm) == pytest.approx(true.mat_mm, abs=3)
        front = small.camera.project(np.c_[true.corners(), np.full(4, true.depth_mm)])
        assert np.abs(piece.corners_px - front).max() < 6


@pytest.fixture(scope="module")
def drawn():
    rng = np.random.default_rng(5)
    pieces = [
        DrawnPiece(300, 400, 24, 20, 45, -330, 180, 1.2, (92, 64, 45), random_art(rng, 170, 270)),
        DrawnPiece(400, 300, 30, 25, 0, 110, 200, -0.8, (28, 27, 27), random_art(rng, 350, 250)),
        DrawnPiece(250, 250, 18, 15, 40, -300, -200, 0.5, (52, 74, 110), random_art(rng, 140, 140)),
        DrawnPiece(500, 320, 35, 22, 50, 150, -210, 0.0, (178, 146, 84), random_art(rng, 356, 176)),
    ]  # fmt: skip
    camera = camera_over(np.array([80.0, 0.0]), 1750, 14, 1.0, 1400, k1=0.01)
    return draw_floor(rng, pieces, camera, "carpet", sheet_at=(560, 30, 5))


@pytest.fixture(scope="module")
def layout(drawn):
    return vis.read_layout(drawn.photo, [sheet_reference(drawn)])


@pytest.mark.slow
def test_every_piece_is_found_and_none_invented(drawn, layout):
    assert len(layout.pieces) == len(drawn.pieces)
    for piece, true in zip(layout.pieces, drawn.pieces, strict=True):
        front = drawn.camera.project(np.c_[true.corners(), np.full(4, true.depth_mm)])
        assert np.abs(piece.corners_px - front).max() < 6


@pytest.mark.slow
def test_sizes_are_right_within_what_is_stated(drawn, layout):
    """The truth is what was drawn; the half-widths hold 95 of 100, so twice them holds all."""
    off = []
    for piece, true in zip(layout.pieces, drawn.pieces, strict=True):
        wide, high = piece.size_half_width_mm
        assert abs(piece.width_mm - true.width_mm) < 2 * wide
        assert abs(piece.height_mm - true.height_mm) < 2 * high
        off += [abs(piece.width_mm - true.width_mm), abs(piece.height_mm - true.height_mm)]
        assert max(wide, high) < 10
    assert np.median(off) < 3


@pytest.mark.slow
def test_places_in_the_group_are_right(drawn, layout):
    found = np.array([[p.x_mm, p.y_mm] for p in layout.pieces])
    true = np.array([[p.x_mm, p.y_mm] for p in drawn.pieces])
    found, true = found - found.mean(axis=0), true - true.mean(axis=0)
    u, _, vt = np.linalg.svd(true.T @ found)
    assert np.hypot(*(true @ (u @ vt) - found).T).max() < 6


@pytest.mark.slow
def test_pictures_are_squared_up_in_neutral_light(drawn, layout):
    """CIE 142-2001 colour difference to the picture that was drawn into the frame."""
    for piece, true in zip(layout.pieces, drawn.pieces, strict=True):
        both = [
            cv2.resize(image, (24, 24), interpolation=cv2.INTER_AREA)
            for image in (piece.artwork.pixels, true.art)
        ]
        labs = [srgb_to_lab(image).reshape(-1, 3) for image in both]
        assert np.median(vis.delta_e_2000(*labs)) < 4


@pytest.mark.slow
def test_mouldings_and_mats_are_read(drawn, layout):
    for piece, true in zip(layout.pieces, drawn.pieces, strict=True):
        assert piece.rail_mm == pytest.approx(true.rail_mm, abs=3)
        assert np.mean(piece.mat_mm) == pytest.approx(true.mat_mm, abs=3)


def test_a_floor_without_pieces_is_said_to_be_one():
    rng = np.random.default_rng(2)
    camera = camera_over(np.zeros(2), 1300, 5, 0.0, 640)
    texture = floor_texture(rng, "carpet", 2000)
    drawn = draw_floor(rng, [], camera, "carpet", sheet_at=(0, 0, 3), person=False, texture=texture)
    with pytest.raises(vis.MeasurementError, match="No framed piece"):
        vis.read_layout(drawn.photo, [sheet_reference(drawn)])


def test_without_a_sheet_nothing_is_measured(small):
    with pytest.raises(vis.ReferenceNotFound):
        vis.read_layout(small.photo, [])
