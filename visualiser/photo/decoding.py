"""A picture file to upright sRGB pixels, or a sentence saying why not."""

from __future__ import annotations

import dataclasses
import hashlib
import io
import warnings
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, JpegImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin

from visualiser.errors import PhotoError
from visualiser.findings import Finding
from visualiser.photo.camera import LensTags, focal_prior
from visualiser.photo.colour_space import to_srgb
from visualiser.photo.limits import (
    FileKind,
    PhotoLimits,
    check_file_size,
    check_picture_size,
    recognise,
    webp_size,
)
from visualiser.photo.photo import Photo

_MAKE, _MODEL, _ORIENTATION, _EXIF_IFD, _DNG_VERSION = 0x010F, 0x0110, 0x0112, 0x8769, 0xC612

_DAMAGED = "Copy it from the phone or camera again, or export it as a JPEG."


def load_photo(data: bytes, limits: PhotoLimits | None = None) -> Photo:
    """Decode a photo: upright, in sRGB, with what the file says of its focal length.

    Reads JPEG (of a multi-picture file the first), PNG, WebP, TIFF and HEIC/HEIF. The Exif
    orientation is applied, an embedded colour profile converted to sRGB; sixteen bits are
    rounded to eight and transparent parts are laid over white.

    Parameters
    ----------
    data
        The whole file.
    limits
        Largest file and picture to decode; by default 60 MB and 200 million pixels.

    Returns
    -------
    The photo; its ``findings`` say what had to be assumed.

    Raises
    ------
    PhotoError
        If the file is not a picture, is damaged or cut short, or is too large.
    """
    if not isinstance(data, bytes | bytearray | memoryview):
        raise TypeError(f"expected the bytes of a file, got {type(data).__name__}")
    return _guarded(bytes(data), limits or PhotoLimits(), None)


def load_reduced(data: bytes, least_side_px: int, limits: PhotoLimits | None = None) -> Photo:
    """Decode a photo smaller where its file makes that cheap: for its colours, not for measuring.

    A JPEG is decoded at a half, a quarter or an eighth of its size, which its blocks of 8 x 8
    give as their low frequencies, as long as no side becomes shorter than asked for. Other kinds
    are decoded whole.

    Parameters
    ----------
    data
        The whole file.
    least_side_px
        The shorter side keeps at least this many pixels, if it has them.
    limits
        As in `load_photo`.

    Raises
    ------
    PhotoError
        As in `load_photo`.
    """
    return _guarded(data, limits or PhotoLimits(), least_side_px)


def _guarded(data: bytes, limits: PhotoLimits, least_side_px: int | None) -> Photo:
    """Decode a file that may hold anything; what goes wrong becomes a sentence."""
    check_file_size(data, limits)
    kind = recognise(data)
    try:
        # Decoders warn about oddities of metadata that a person can do nothing about.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _decode(data, kind, limits, least_side_px)
    except PhotoError:
        raise
    except MemoryError:
        raise PhotoError(
            "There is not enough memory for this picture.", hint="Save it at a smaller size."
        ) from None
    except Exception as reason:  # hostile bytes make decoders raise nearly anything
        raise PhotoError(f"The {kind} file is damaged or cut short.", hint=_DAMAGED) from reason


def _decode(data: bytes, kind: FileKind, limits: PhotoLimits, least_side_px: int | None) -> Photo:
    if kind == "WebP":
        check_picture_size(*webp_size(data), kind, len(data), limits)
    with _OPEN[kind](io.BytesIO(data)) as image:
        check_picture_size(image.width, image.height, kind, len(data), limits)
        if kind == "TIFF" and _DNG_VERSION in image.getexif():
            raise PhotoError(
                "The file is a raw camera file.", hint="Develop it and export a JPEG or TIFF."
            )
        if least_side_px is not None:
            image.draft(None, (least_side_px, least_side_px))
        image.load()
        check_picture_size(image.width, image.height, kind, len(data), limits)
        # After loading: some decoders turn the picture themselves and clear the tag.
        tags, lens = _exif(image)
        converted, findings = to_srgb(image)
        pixels = upright(np.asarray(converted), _whole(tags.get(_ORIENTATION)))
        del converted
    return _photo(np.ascontiguousarray(pixels), tags, lens, findings, data)


def _photo(
    pixels: NDArray[np.uint8],
    tags: Mapping[int, Any],
    lens: LensTags,
    findings: tuple[Finding, ...],
    data: bytes,
) -> Photo:
    photo = Photo(
        pixels,
        camera=_camera_name(tags),
        digest=hashlib.sha256(data).hexdigest(),
        findings=findings,
    )
    prior = focal_prior(lens, photo.width_px, photo.height_px)
    if prior is None:
        return photo
    return dataclasses.replace(
        photo, focal_px=prior.focal_px, focal_relative_sigma=prior.relative_sigma
    )


def upright(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Turn stored pixels the right way up; a view.

    Parameters
    ----------
    pixels
        (H, W, 3) as stored.
    orientation
        Exif orientation 1 to 8; anything else is taken as 1.

    References
    ----------
    Exif 2.3 (CIPA DC-008), tag 0x0112: where the stored first row and first column belong.
    """
    if orientation in (5, 6, 7, 8):
        pixels = pixels.swapaxes(0, 1)  # 5: first row is the visual left, first column the top
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    return pixels


def _exif(image: Image.Image) -> tuple[Mapping[int, Any], LensTags]:
    """Read main tags and lens tags; a damaged Exif block costs the tags, not the photo."""
    try:
        exif = image.getexif()
        return dict(exif), LensTags.from_exif(exif.get_ifd(_EXIF_IFD))
    except Exception:  # parsers of damaged blocks raise nearly anything
        return {}, LensTags()


def _whole(value: Any) -> int:
    return value if isinstance(value, int) else 1


def _camera_name(tags: Mapping[int, Any]) -> str:
    """Make and model as one line of at most 80 printable characters."""
    words = [str(tags[tag]) for tag in (_MAKE, _MODEL) if tag in tags]
    line = " ".join(" ".join(words).replace("\x00", " ").split())
    return "".join(c for c in line if c.isprintable())[:80]


def _open_heic(file: io.BytesIO) -> Image.Image:
    import pillow_heif  # 60 ms, and most photos are JPEG

    image: Image.Image = pillow_heif.HeifImageFile(file)  # type: ignore[no-untyped-call]
    return image


# The plug-ins' own classes: Image.open would add a limit of its own, and guesses the kind.
# JpegImageFile takes the first picture of a multi-picture (MPO) file.
_OPEN: dict[FileKind, Callable[[io.BytesIO], Image.Image]] = {
    "JPEG": JpegImagePlugin.JpegImageFile,
    "PNG": PngImagePlugin.PngImageFile,
    "WebP": WebPImagePlugin.WebPImageFile,
    "TIFF": TiffImagePlugin.TiffImageFile,
    "HEIC": _open_heic,
}
