"""The wall straight on and to scale, with frames, mats and pictures, on paper."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement
from visualiser.colour.finishes import FINISHES
from visualiser.geometry import Rect
from visualiser.inventory.piece import Piece
from visualiser.printing.drawing_scale import Frame
from visualiser.printing.page import FAINT, SOFT, TINT, Page
from visualiser.survey.survey import Survey


def draw_straight_on(page: Page, frame: Frame, arrangement: Arrangement, survey: Survey) -> None:
    """Draw the wall straight on: furniture, frames, mats and pictures, to the frame's scale."""
    x, y, width, height = frame.box(survey.outline.bounds)
    page.box(x, y, width, height, 0.4, colour=FAINT, fill=TINT)
    with page.clipped(x, y, width, height):
        for item in survey.furniture:
            page.box(*frame.box(item.rect), 0.3, colour=FAINT, fill="#d9d4cb")
    for piece_id, rect in arrangement.rects().items():
        _draw_piece(page, frame, arrangement.piece(piece_id), rect)


def _draw_piece(page: Page, frame: Frame, piece: Piece, rect: Rect) -> None:
    moulding = piece.moulding
    colour = "#e8e4da"
    rail = 0.0
    if moulding is not None:
        colour = moulding.colour or FINISHES.get(moulding.finish, "#8a7a66")
        rail = moulding.width_mm
    page.box(*frame.box(rect), 0.25, colour=SOFT, fill=colour)
    inside = rect.grown(-rail)
    mat = piece.mat
    window = inside
    if mat is not None:
        page.box(*frame.box(inside), 0, fill=mat.colour)
        window = Rect(
            inside.x_mm + mat.sides_mm,
            inside.y_mm + mat.bottom_mm,
            inside.width_mm - 2 * mat.sides_mm,
            inside.height_mm - mat.top_mm - mat.bottom_mm,
        )
    left, low, width, height = frame.box(window)
    if piece.artwork is None:
        page.box(left, low, width, height, 0.2, colour=SOFT, fill="#cfd4d4")
        return
    name = piece.name or piece.id
    page.picture(_cropped(piece.artwork.pixels, width / height), left, low, width, name, dpi=300)


def _cropped(pixels: NDArray[np.uint8], aspect: float) -> NDArray[np.uint8]:
    """Middle of a picture that fills a window of another shape."""
    height, width = pixels.shape[:2]
    keep_w = min(width, max(round(height * aspect), 1))
    keep_h = min(height, max(round(width / aspect), 1))
    left, top = (width - keep_w) // 2, (height - keep_h) // 2
    return pixels[top : top + keep_h, left : left + keep_w]
