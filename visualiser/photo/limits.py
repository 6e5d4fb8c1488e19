"""What a picture file may ask for before a single pixel of it is decoded."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

from visualiser.errors import PhotoError

FileKind = Literal["JPEG", "PNG", "WebP", "TIFF", "HEIC"]

_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"heif"}

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


@dataclass(frozen=True, slots=True)
class PhotoLimits:
    """Largest file and picture that are decoded.

    Decoding takes about 7 bytes of memory a pixel at its peak.

    Parameters
    ----------
    file_bytes
        Longest file.
    pixels
        Pictures of this many pixels and more are refused.
    """

    file_bytes: int = 60_000_000
    pixels: int = 200_000_000


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
