"""What a picture file may ask for before a single pixel of it is decoded."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

from visualiser.errors import PhotoError
from visualiser.photo.jpeg_segments import JpegLayout

FileKind = Literal["JPEG", "PNG", "WebP", "TIFF", "HEIC"]

# ISO/IEC 23008-12, annex B: brands of HEVC pictures, and those of any picture in such a box.
_HEVC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx"}
_HEIC_BRANDS = _HEVC_BRANDS | {b"mif1", b"msf1", b"heif"}
_AVIF_BRANDS = {b"avif", b"avis"}

# What people drop in by mistake, by its first bytes, and what to do instead.
_OTHERS: tuple[tuple[bytes, str, str], ...] = (
    (b"%PDF", "a PDF", "Export the page as a JPEG or PNG picture."),
    (b"GIF8", "a GIF", "Save it as a JPEG or PNG."),
    (b"BM", "a BMP picture", "Save it as a JPEG or PNG."),
    (b"PK\x03\x04", "a zip archive or an office document", "Unpack it and choose the picture."),
    (b"<svg", "an SVG drawing", "Export it as a PNG."),
    (b"<?xml", "an XML or SVG document", "Export it as a PNG."),
    (b"8BPS", "a layered image document", "Export it as a TIFF, PNG or JPEG."),
    (b"\x1aE\xdf\xa3", "a video", "Take a still photo instead."),
)

# The most pixels that one byte of file can stand for. JPEG: a block of 8 x 8 takes at least one
# bit (ITU-T T.81, F.1.2). PNG: deflate repeats at most 258 bytes for 2 bits, about 1032 to 1
# (RFC 1951, 3.2.5), of up to 8 pixels each. TIFF: its LZW gives at most 4096 bytes for 12 bits,
# about 2731 to 1 (TIFF 6.0, section 13), of up to 8 pixels each. Other kinds have no such bound.
_MOST_PIXELS_PER_BYTE: dict[FileKind, int] = {"JPEG": 64 * 8, "PNG": 1040 * 8, "TIFF": 2731 * 8}


# Bytes of memory a pixel at the peak of decoding, measured on pictures of 9 and 36 million pixels
# as what the process grew by (tests/photo/test_costs.py measures it again). The first part is what
# the decoder and the picture library hold, the second what is handed on, 3 bytes.
_BYTES_PER_PIXEL: dict[FileKind, float] = {
    "JPEG": 7,
    "PNG": 8,
    "WebP": 18,
    "TIFF": 8,
    "HEIC": 12,
}
_LIBRARY_BYTES = 4
"""Of one pixel in the picture library, which pads three colours to four bytes."""
_COEFFICIENT_BYTES = 2
"""Of one coefficient that a decoder of progressive JPEGs keeps (libjpeg's JCOEF, a short)."""

MOST_SCANS = 100
"""A progressive JPEG is written in about 10 scans; nothing that draws pictures uses 100."""
_MOST_SCANNED_PIXELS = 3_000_000_000
"""Pixels times scans: each scan walks over every block again, in about 2 ns a pixel."""


@dataclass(frozen=True, slots=True)
class PhotoLimits:
    """Largest file and picture that are decoded, and how much memory that may take.

    Parameters
    ----------
    file_bytes
        Longest file.
    pixels
        Pictures of this many pixels and more are refused.
    memory_bytes
        What decoding may take at its peak, file not counted. A JPEG that would take more is
        decoded at half its size or less; other kinds are refused.
    """

    file_bytes: int = 60_000_000
    pixels: int = 200_000_000
    memory_bytes: int = 800_000_000


def recognise(data: bytes) -> FileKind:
    """Tell the kind of picture from its first bytes; the file's name is not trusted.

    Raises
    ------
    PhotoError
        If it is empty, or no kind of picture that is read here.
    """
    if not data:
        raise PhotoError("The file is empty.", hint="Copy it from the phone or camera again.")
    if data.startswith(b"\xff\xd8"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WebP"
    if data.startswith((b"II*\x00", b"MM\x00*", b"II+\x00", b"MM\x00+")):
        return "TIFF"
    if data[4:8] == b"ftyp":
        # ISO/IEC 14496-12, 4.3: major brand, version, then compatible brands to the box's end.
        end = min(int.from_bytes(data[:4], "big"), 256)
        brands = {data[8:12], *(data[i : i + 4] for i in range(16, end, 4))}
        if brands & _AVIF_BRANDS and not brands & _HEVC_BRANDS:
            raise PhotoError("The file is an AVIF picture, which is not read.", hint=_SAVE_AS)
        if brands & _HEIC_BRANDS:
            return "HEIC"
        raise PhotoError("The file is a video or an unknown kind.", hint=_SAVE_AS)
    start = data[:64].lstrip()
    for signature, name, hint in _OTHERS:
        if start.startswith(signature):
            raise PhotoError(f"The file is {name}, not a photo.", hint=hint)
    raise PhotoError("The file is not a picture of a known kind.", hint=_SAVE_AS)


_SAVE_AS = "Use a JPEG, PNG, WebP, TIFF or HEIC file."


def check_file_size(data: bytes, limits: PhotoLimits) -> None:
    """Refuse a file that is too long.

    Raises
    ------
    PhotoError
        If it is longer than the limit.
    """
    if len(data) > limits.file_bytes:
        raise PhotoError(
            f"The file has {len(data) / 1e6:.0f} MB; at most {limits.file_bytes / 1e6:.0f} MB "
            "are read.",
            hint="Save the photo as a JPEG, or make it smaller.",
        )


def check_picture_size(
    width: int, height: int, kind: FileKind, n_bytes: int, limits: PhotoLimits
) -> None:
    """Refuse a declared size that is too large, or that so short a file cannot hold.

    Raises
    ------
    PhotoError
        In both cases, before memory is taken for the pixels.
    """
    if width < 1 or height < 1:
        raise PhotoError(
            f"The picture says that it is {width} x {height} pixels.",
            hint="It is damaged: export or copy it again.",
        )
    pixels = width * height
    if pixels >= limits.pixels:
        raise PhotoError(
            f"The picture has {width} x {height} = {pixels / 1e6:.0f} million pixels; fewer than "
            f"{limits.pixels / 1e6:.0f} million are read.",
            hint="Save it at a smaller size: 12 million are plenty.",
        )
    most = _MOST_PIXELS_PER_BYTE.get(kind)
    if most is not None and pixels > most * n_bytes:
        raise PhotoError(
            f"The file says {width} x {height} pixels but holds only {n_bytes} bytes.",
            hint="It is damaged: copy it from the phone or camera again.",
        )


def check_scans(jpeg: JpegLayout) -> None:
    """Refuse a JPEG that is drawn in so many scans that decoding it would not end.

    Raises
    ------
    PhotoError
        If no program that saves pictures writes so many.
    """
    scanned = jpeg.scans * jpeg.width * jpeg.height
    if jpeg.scans > MOST_SCANS or (jpeg.scans > 1 and scanned > _MOST_SCANNED_PIXELS):
        raise PhotoError(
            f"The JPEG is drawn in {jpeg.scans} passes over its {jpeg.width} x {jpeg.height} "
            "pixels, which takes too long.",
            hint="Export it again as an ordinary JPEG.",
        )


def decoding_bytes(width: int, height: int, kind: FileKind, jpeg: JpegLayout | None) -> float:
    """Tell the memory that decoding takes at its peak.

    Parameters
    ----------
    width, height
        Size that it is decoded at.
    kind
        Of the file.
    jpeg
        Of a JPEG, at its full size.
    """
    held = width * height * _BYTES_PER_PIXEL[kind]
    if jpeg is None or not jpeg.buffered:
        return held
    # The coefficients go before what is handed on is begun.
    kept = jpeg.width * jpeg.height * jpeg.coefficients * _COEFFICIENT_BYTES
    return max(held, kept + width * height * _LIBRARY_BYTES)


def check_memory(needed_bytes: float, width: int, height: int, limits: PhotoLimits) -> None:
    """Refuse a picture whose decoding would take too much memory.

    Raises
    ------
    PhotoError
        Saying how much it would take.
    """
    if needed_bytes > limits.memory_bytes:
        raise PhotoError(
            f"The picture has {width} x {height} = {width * height / 1e6:.0f} million pixels; "
            f"decoding it would take {needed_bytes / 1e9:.1f} GB of memory, and at most "
            f"{limits.memory_bytes / 1e9:.1f} GB are used.",
            hint="Save it at a smaller size, or as an ordinary JPEG: 12 million pixels are plenty.",
        )


LEAST_WALL_PX = 300
"""Shorter side below which no wall is measured: a sheet in it would be some 20 pixels wide."""


def check_wall_size(width: int, height: int) -> None:
    """Refuse a picture too small to measure a wall in.

    Raises
    ------
    PhotoError
        If it has too few pixels to measure by.
    """
    if min(width, height) < LEAST_WALL_PX:
        raise PhotoError(
            f"The picture is {width} x {height} pixels; a wall cannot be measured in so few.",
            hint="Choose the photo as the camera wrote it, not a small copy of it.",
        )


def webp_size(data: bytes) -> tuple[int, int]:
    """Width and height that a WebP file declares.

    Read here because its decoder takes memory for the whole picture when it opens the file.

    References
    ----------
    RFC 9649, 2.5 to 2.7 (VP8X, VP8 and VP8L headers).
    """
    try:
        chunk = data[12:16]
        if chunk == b"VP8X":
            return (
                1 + int.from_bytes(data[24:27], "little"),
                1 + int.from_bytes(data[27:30], "little"),
            )
        if chunk == b"VP8L":
            (bits,) = struct.unpack_from("<I", data, 21)
            return 1 + (bits & 0x3FFF), 1 + (bits >> 14 & 0x3FFF)
        width, height = struct.unpack_from("<HH", data, 26)
        return width & 0x3FFF, height & 0x3FFF
    except struct.error:
        return 0, 0
