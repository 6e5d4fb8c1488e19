"""A picture file to upright sRGB pixels, or a sentence saying why not."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from visualiser.findings import Finding
from visualiser.photo.camera import LensTags, focal_prior
from visualiser.photo.colour_space import Convert, srgb_conversion
from visualiser.photo.frame import frame_evidence
from visualiser.photo.jpeg_segments import layout
from visualiser.photo.limits import PhotoLimits, check_picture_size, recognise
from visualiser.photo.opening import opened
from visualiser.photo.photo import Photo

_MAKE, _MODEL, _ORIENTATION, _EXIF_IFD = 0x010F, 0x0110, 0x0112, 0x8769
_BACK = {6: 8, 8: 6}
"""The two turns by a quarter undo each other; every other orientation undoes itself."""
_STRIP_PX = 1 << 20


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
        Largest file and picture to decode, and the memory for it; by default 60 MB, 200 million
        pixels and 0.8 GB. A JPEG beyond that memory is decoded at half its size or less.

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
    data = bytes(data)
    photo = _decoded(data, limits, None)
    if recognise(data) != "JPEG" or (full := max(_full_size(data))) == max(photo.pixels.shape):
        return photo
    return dataclasses.replace(
        photo,
        findings=(
            *photo.findings,
            Finding(
                "note",
                f"The photo is {full} pixels long; to keep memory in bounds it is read at "
                f"{max(photo.pixels.shape)}, averaged.",
                code="photo-reduced",
            ),
        ),
    )


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
    return _decoded(data, limits, least_side_px)


def _decoded(data: bytes, limits: PhotoLimits | None, least_side_px: int | None) -> Photo:
    with opened(data, limits, least_side_px) as picture:
        image = picture.image
        full_px = image.size if picture.reduced == 1 else _full_size(data)
        image.load()
        check_picture_size(
            image.width, image.height, picture.kind, len(data), limits or PhotoLimits()
        )
        # After loading: some decoders turn the picture themselves and clear the tag.
        tags, lens = _exif(image)
        convert, findings = srgb_conversion(image)
        pixels = _upright_pixels(image, convert, _whole(tags.get(_ORIENTATION)))
    photo = Photo(
        pixels,
        camera=_camera_name(tags),
        digest=hashlib.sha256(data).hexdigest(),
        findings=findings,
    )
    prior = focal_prior(lens, *full_px)
    reduced = max(image.size) / max(full_px)
    turned = photo.width_px != image.width
    evidence = frame_evidence(
        *(full_px[::-1] if turned else full_px),
        lens.pixel_dimensions,
        prior is None or prior.from_size,
    )
    photo = dataclasses.replace(photo, frame=evidence.scaled(reduced))
    if prior is None:
        return photo
    return dataclasses.replace(
        photo,
        focal_px=prior.focal_px * reduced,
        focal_relative_sigma=prior.relative_sigma,
        focal_35mm=prior.focal_35mm,
    )


def _full_size(data: bytes) -> tuple[int, int]:
    """Size of a JPEG before it was reduced."""
    jpeg = layout(data)
    return jpeg.width, jpeg.height


def _upright_pixels(image: Image.Image, convert: Convert, orientation: int) -> NDArray[np.uint8]:
    """Convert a picture strip by strip, each put where it belongs in the upright one.

    So the memory at the peak is that of the decoded picture and of the one that is returned.
    """
    turned = orientation in (5, 6, 7, 8)
    width, height = (image.height, image.width) if turned else image.size
    pixels = np.empty((height, width, 3), np.uint8)
    as_stored = upright(pixels, _BACK.get(orientation, orientation))
    step = max(1, _STRIP_PX // image.width)
    for top in range(0, image.height, step):
        strip = image.crop((0, top, image.width, min(top + step, image.height)))
        as_stored[top : top + step] = np.asarray(convert(strip))
    return pixels


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
