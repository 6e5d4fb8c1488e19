"""A photo of pieces laid on the floor, read beside the page: their sizes, pictures and layout."""

from __future__ import annotations

from dataclasses import dataclass

from visualiser.laid_out.layout import Layout
from visualiser.laid_out.reading import Surface, read_layout
from visualiser.photo.decoding import load_photo
from visualiser.rectification.finder.find import find_references


@dataclass(frozen=True, slots=True, eq=False)
class LaidPhoto:
    """What was found, with the photo as the browser shows it and the size its points are in."""

    layout: Layout
    jpeg: bytes
    width_px: int
    height_px: int


def read_laid_photo(data: bytes, kind: str, surface: Surface = "floor") -> LaidPhoto:
    """Find the pieces in a photo of them on a floor or a wall, beside a sheet of a kind."""
    from visualiser.app.results import reduced_jpeg

    photo = load_photo(data)
    layout = read_layout(photo, find_references(photo, kind), surface=surface)
    return LaidPhoto(layout, reduced_jpeg(photo.pixels), photo.width_px, photo.height_px)
