"""Pixels to picture files that say what colours they mean, and nothing of where they were made."""

from __future__ import annotations

import io
import struct
from functools import cache
from html import escape

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, PngImagePlugin

# XMP rather than Exif, whose texts are ASCII: ISO 16684-1, with the Dublin Core title.
_TITLE_PACKET = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
 xmlns:dc="http://purl.org/dc/elements/1.1/"><dc:title><rdf:Alt><rdf:li
 xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title></rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>"""

_FIRST_DAY = struct.pack(">6H", 2000, 1, 1, 0, 0, 0)


@cache
def srgb_profile() -> bytes:
    """ICC profile of sRGB, without the hour at which it was made: the same in every process.

    References
    ----------
    ICC.1:2022, 7.2: the header's bytes 24 to 35 are the date and time of making.
    """
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return profile[:24] + _FIRST_DAY + profile[36:]


def encode_jpeg(pixels: NDArray[np.uint8], quality: int = 92, title: str | None = None) -> bytes:
    """Write a JPEG with an sRGB profile.

    Nothing else of the original photo is carried over: no place, no camera, no serial number.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB, upright.
    quality
        1 to 95; colour is kept at full resolution from 90.
    title
        Written as the XMP title; any characters.

    Raises
    ------
    ValueError
        If the pixels have another shape or type, or the quality is out of range.
    """
    if not 1 <= quality <= 95:
        raise ValueError(f"a JPEG quality lies between 1 and 95, got {quality!r}")
    image = _image(pixels)
    packet = _TITLE_PACKET.format(title=escape(title)).encode() if title else b""
    buffer = io.BytesIO()
    image.save(
        buffer,
        "JPEG",
        quality=quality,
        subsampling=0 if quality >= 90 else 2,
        optimize=True,
        icc_profile=srgb_profile(),
        xmp=packet,
    )
    return buffer.getvalue()


def encode_png(pixels: NDArray[np.uint8], title: str | None = None) -> bytes:
    """Write a PNG with an sRGB profile and no other metadata than a title.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB, upright.
    title
        Written as the standard keyword ``Title``; any characters.

    Raises
    ------
    ValueError
        If the pixels have another shape or type.
    """
    notes = PngImagePlugin.PngInfo()
    if title:
        notes.add_itxt("Title", title)
    buffer = io.BytesIO()
    _image(pixels).save(buffer, "PNG", icc_profile=srgb_profile(), pnginfo=notes, compress_level=6)
    return buffer.getvalue()


def _image(pixels: NDArray[np.uint8]) -> Image.Image:
    if pixels.ndim != 3 or pixels.shape[2] != 3 or pixels.dtype != np.uint8:
        raise ValueError(f"expected (H, W, 3) uint8 pixels, got {pixels.shape} {pixels.dtype}")
    return Image.fromarray(np.ascontiguousarray(pixels))
