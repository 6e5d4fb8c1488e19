"""The one door through which a stranger's picture comes in.

Only the decoders of the kinds that are read here are ever started. `PIL.Image.open` would try
every plug-in there is, among them one that hands PostScript to an interpreter.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PIL import Image, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

from visualiser.errors import PhotoError
from visualiser.photo.jpeg_segments import JpegLayout, layout
from visualiser.photo.limits import (
    FileKind,
    PhotoLimits,
    check_file_size,
    check_memory,
    check_picture_size,
    check_scans,
    decoding_bytes,
    recognise,
    webp_size,
)

_DNG_VERSION, _TILE_WIDTH, _TILE_LENGTH = 0xC612, 0x0142, 0x0143
_DAMAGED = "Copy it from the phone or camera again, or export it as a JPEG."
_HALVES = (1, 2, 4, 8)
"""What a JPEG's size can be divided by while it is decoded: its blocks are 8 x 8."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A picture whose header has been read and checked, its pixels not decoded yet."""

    kind: FileKind
    image: Image.Image
    reduced: int = 1
    """By how much decoding makes it smaller, for the memory's sake."""


@contextmanager
def opened(
    data: bytes, limits: PhotoLimits | None = None, least_side_px: int | None = None
) -> Iterator[Opened]:
    """Open a picture file that may hold anything; what goes wrong inside becomes a sentence.

    Parameters
    ----------
    data
        The whole file.
    limits
        Largest file and picture.
    least_side_px
        Decode a JPEG smaller, as long as its shorter side keeps this many pixels.

    Yields
    ------
    The picture; load it inside.

    Raises
    ------
    PhotoError
        If the file is not a picture, is damaged or cut short, or is too large; also where that
        shows only once it is loaded.
    """
    limits = limits or PhotoLimits()
    check_file_size(data, limits)
    kind = recognise(data)
    try:
        # Decoders warn about oddities of metadata that a person can do nothing about.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with _checked(data, kind, limits, least_side_px) as picture:
                yield picture
    except PhotoError:
        raise
    except (MemoryError, Image.DecompressionBombError):
        raise PhotoError(
            "There is not enough memory for this picture.", hint="Save it at a smaller size."
        ) from None
    except Exception as reason:  # hostile bytes make decoders raise nearly anything
        raise PhotoError(f"The {kind} file is damaged or cut short.", hint=_DAMAGED) from reason


def check_picture(data: bytes, limits: PhotoLimits | None = None) -> FileKind:
    """Find what kind of picture a file is by its header, without decoding its pixels.

    Raises
    ------
    PhotoError
        If it is none that is read here.
    """
    with opened(data, limits) as picture:
        return picture.kind


@contextmanager
def _checked(
    data: bytes, kind: FileKind, limits: PhotoLimits, least_side_px: int | None
) -> Iterator[Opened]:
    """Open one kind of file, and check all that its header states before memory is taken."""
    jpeg: JpegLayout | None = None
    if kind == "WebP":  # its decoder takes memory for the whole picture when it opens the file
        _check_size(*webp_size(data), kind, data, limits)
    elif kind == "JPEG":
        jpeg = layout(data)
        _check_size(jpeg.width, jpeg.height, kind, data, limits, jpeg)
    with _OPEN[kind](io.BytesIO(data)) as image:
        reduced = _check_size(image.width, image.height, kind, data, limits, jpeg)
        if isinstance(image, TiffImagePlugin.TiffImageFile):
            _check_tiff(image, limits)
        if least_side_px is not None:
            reduced = max(reduced, _spare(image, least_side_px))
        if reduced > 1:
            image.draft(None, (image.width // reduced, image.height // reduced))
        yield Opened(kind, image, reduced if jpeg else 1)


def _check_size(
    width: int,
    height: int,
    kind: FileKind,
    data: bytes,
    limits: PhotoLimits,
    jpeg: JpegLayout | None = None,
) -> int:
    """Check a declared size; by how much a JPEG is to be reduced so that memory suffices."""
    check_picture_size(width, height, kind, len(data), limits)
    if jpeg is not None:
        check_scans(jpeg)
        for reduced in _HALVES:
            needed = decoding_bytes(-(-width // reduced), -(-height // reduced), kind, jpeg)
            if needed <= limits.memory_bytes:
                return reduced
    check_memory(decoding_bytes(width, height, kind, jpeg), width, height, limits)
    return 1


def _spare(image: Image.Image, least_side_px: int) -> int:
    """By how much a JPEG may become smaller without a side shorter than asked for."""
    shorter = min(image.size)
    return max((h for h in _HALVES if shorter >= h * least_side_px), default=1)


def _check_tiff(image: TiffImagePlugin.TiffImageFile, limits: PhotoLimits) -> None:
    """Refuse raw files, and tiles far larger than their picture, which are decoded whole."""
    tags = image.tag_v2
    if _DNG_VERSION in tags:
        raise PhotoError(
            "The file is a raw camera file.", hint="Develop it and export a JPEG or TIFF."
        )
    across, down = int(tags.get(_TILE_WIDTH, 1)), int(tags.get(_TILE_LENGTH, 1))
    check_memory(decoding_bytes(across, down, "TIFF", None), across, down, limits)


def _open_heic(file: io.BytesIO) -> Image.Image:
    import pillow_heif  # 60 ms, and most photos are JPEG

    image: Image.Image = pillow_heif.HeifImageFile(file)  # type: ignore[no-untyped-call]
    return image


# The plug-ins' own classes; JpegImageFile takes the first picture of a multi-picture (MPO) file.
_OPEN: dict[FileKind, Callable[[io.BytesIO], Image.Image]] = {
    "JPEG": JpegImagePlugin.JpegImageFile,
    "PNG": PngImagePlugin.PngImageFile,
    "WebP": WebPImagePlugin.WebPImageFile,
    "TIFF": TiffImagePlugin.TiffImageFile,
    "HEIC": _open_heic,
}
