"""One piece straight on, small and plain, to be dragged about before the true picture follows."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw

from visualiser.inventory.piece import Finish, Piece

LONGEST_PX = 480
_RAILS: dict[Finish, str] = {
    "oak": "#b98d5b",
    "walnut": "#5c4030",
    "black": "#232324",
    "white": "#eeece7",
    "brass": "#b59a55",
    "silver": "#b9bbbd",
    "natural": "#d6bd94",
    "custom": "#8a8a8a",
}


def face_picture(piece: Piece) -> bytes:
    """Draw moulding, mat and artwork of a piece as a JPEG."""
    scale = LONGEST_PX / max(piece.width_mm, piece.height_mm)
    width, height = (max(round(v * scale), 1) for v in (piece.width_mm, piece.height_mm))
    image = Image.new("RGB", (width, height), "#dcd8cf")
    draw = ImageDraw.Draw(image)
    left = top = 0.0
    if piece.moulding:
        colour = piece.moulding.colour or _RAILS[piece.moulding.finish]
        draw.rectangle((0, 0, width, height), fill=colour)
        left = top = piece.moulding.width_mm
    if piece.mat:
        box = (left * scale, top * scale, width - left * scale - 1, height - top * scale - 1)
        draw.rectangle(box, fill=piece.mat.colour)
        left, top = left + piece.mat.sides_mm, top + piece.mat.top_mm
    window_mm = piece.window_mm
    size = tuple(max(round(v * scale), 1) for v in window_mm)
    place = (round(left * scale), round(top * scale))
    if piece.artwork is None:
        draw.rectangle((*place, place[0] + size[0] - 1, place[1] + size[1] - 1), fill="#dcd8cf")
        words = (piece.name or piece.id)[:24]
        draw.text((place[0] + size[0] / 2, place[1] + size[1] / 2), words, "#4a4a46", anchor="mm")
    else:
        picture = Image.fromarray(piece.artwork.pixels)
        if piece.artwork_fit == "whole":
            picture.thumbnail((size[0], size[1]), Image.Resampling.BICUBIC)
            draw.rectangle((*place, place[0] + size[0] - 1, place[1] + size[1] - 1), fill="#fbfaf6")
            middle = [
                p + (s - own) // 2 for p, s, own in zip(place, size, picture.size, strict=True)
            ]
            image.paste(picture, (middle[0], middle[1]))
        else:
            image.paste(_filling(picture, (size[0], size[1])), place)
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=82)
    return buffer.getvalue()


def _filling(picture: Image.Image, size: tuple[int, int]) -> Image.Image:
    """Cut the middle of a picture to the window's shape, as a mat would."""
    wide, high = picture.size
    share = min(wide / size[0], high / size[1])
    # Rounding may carry a cut that takes everything a hair beyond the picture's edge.
    x = max((wide - size[0] * share) / 2, 0.0)
    y = max((high - size[1] * share) / 2, 0.0)
    box = (x, y, wide - x, high - y)
    return picture.resize(size, Image.Resampling.BICUBIC, box=box, reducing_gap=2.0)
