"""Every option as one small picture, also on a wall without a photo; and the wall before."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image, ImageDraw

from visualiser.app import scene
from visualiser.app.results import Results
from visualiser.arrangement.arrangement import Arrangement
from visualiser.photo.opening import opened
from visualiser.survey.survey import Survey


def picture_key(results: Results, option_id: str) -> str:
    """All that the picture of an option depends on."""
    return results.option_key(option_id)


def option_picture(results: Results, option_id: str) -> bytes:
    """Draw an option: the mock-up, or its pieces on the wall drawn to scale."""
    if results.document.photo is not None:
        return results.preview(option_id)
    survey, arrangement = results.survey(), results.arrangement(option_id)
    key = f"drawn-option|{picture_key(results, option_id)}"
    return results.kept(key, lambda: _drawn_option(results, survey, arrangement))


def picture_before(results: Results) -> bytes | None:
    """Draw the wall as it is, without what it was measured by; None for one without a photo.

    Where every option paints the wall another colour, the photo itself.
    """
    document = results.document
    if document.photo is None:
        return None
    unpainted = next((o.id for o in document.options if o.wall_colour is None), None)
    return results.shown_photo() if unpainted is None else results.shown_bare_wall(unpainted)


def picture_size(results: Results) -> tuple[int, int]:
    """Width and height of these pictures, to a common scale."""
    if results.document.photo is None:
        return scene.straight_size(results.survey())
    photo = results.photo()
    return photo.width_px, photo.height_px


def drawn_wall(size: tuple[int, int]) -> bytes:
    """Draw a wall without a photo: its face and the floor below it, as a PNG."""
    buffer = io.BytesIO()
    _wall_to_scale(size).save(buffer, "PNG")
    return buffer.getvalue()


def _wall_to_scale(size: tuple[int, int]) -> Image.Image:
    width, height = size
    margin = round(scene.MARGIN_PX)
    image = Image.new("RGB", size, "#d9d5cc")
    draw = ImageDraw.Draw(image)
    draw.rectangle((margin, margin, width - margin, height - margin), fill="#efece4")
    draw.rectangle((0, height - margin, width, height), fill="#b7a78d")
    return image


def _drawn_option(results: Results, survey: Survey, arrangement: Arrangement) -> bytes:
    image = _wall_to_scale(scene.straight_size(survey))
    mapping = scene.straight_mapping(survey)
    faces = results.faces(arrangement)
    for placement in arrangement.placements:
        corners = scene.to_picture(mapping, arrangement.rect(placement.piece_id).corners())
        (left, top), (right, bottom) = np.round([corners.min(axis=0), corners.max(axis=0)])
        box = (max(int(right - left), 1), max(int(bottom - top), 1))
        with opened(faces[placement.piece_id]) as face:
            small = face.image.resize(box, Image.Resampling.BOX)
        image.paste(small, (int(left), int(top)))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=88)
    return buffer.getvalue()
