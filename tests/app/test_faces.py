import io

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from visualiser.app.faces import LONGEST_PX, face_picture
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece

SIDES = st.integers(1, 900)


@settings(max_examples=60, deadline=None)
@given(st.floats(60, 3000), st.floats(60, 3000), SIDES, SIDES, st.booleans())
def test_any_piece_with_any_picture_has_a_face(width_mm, height_mm, wide, high, framed):
    artwork = Artwork(np.zeros((high, wide, 3), np.uint8))
    rail, mat = (Moulding(10), Mat(5, 5, 5)) if framed else (None, None)
    piece = Piece("a", width_mm, height_mm, moulding=rail, mat=mat, artwork=artwork)
    assert max(Image.open(io.BytesIO(face_picture(piece))).size) == LONGEST_PX


def test_the_artwork_fills_the_window_and_the_moulding_the_rest():
    artwork = Artwork(np.full((50, 50, 3), (200, 30, 30), np.uint8))
    piece = Piece("a", 400, 400, moulding=Moulding(40, finish="black"), artwork=artwork)
    face = np.asarray(Image.open(io.BytesIO(face_picture(piece)))).astype(int)
    np.testing.assert_allclose(face[240, 240], (200, 30, 30), atol=6)
    np.testing.assert_allclose(face[240, 20], (35, 35, 36), atol=6)
