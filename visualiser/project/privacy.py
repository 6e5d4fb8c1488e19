"""Picture files without what they reveal of the person, the camera and the place.

Of the Exif data only what the measurement needs is kept: orientation, make and model, focal
lengths and the sensor's resolution. Position, serial numbers, dates, names, maker's notes,
thumbnails, XMP, IPTC and comments go.

References
----------
CIPA DC-008-2023 (Exif 3.0), tables 4 and 8, for the tag numbers; ITU-T T.81 (1992), annex B, for
the segments of a JPEG file; ITU-T T.871 (2011), 10.1, for the JFIF segment; ITU-T T.872 (2012),
6.5.3, for the Adobe segment's 12 bytes.
"""

from __future__ import annotations

import io
import struct

from PIL import Image

from visualiser.photo.colour_space import srgb_conversion
from visualiser.photo.jpeg_segments import PICTURE, segments
from visualiser.photo.opening import opened

_KEPT = (0x010F, 0x0110, 0x0112)  # make, model, orientation
_KEPT_OF_CAMERA = (0x920A, 0xA405, 0xA20E, 0xA20F, 0xA210, 0xA002, 0xA003)  # focal, sensor, size
_EXIF_IFD = 0x8769
_START, _END = b"\xff\xd8", b"\xff\xd9"
_JFIF, _COLOUR, _ADOBE = (0xE0, b"JFIF\0"), (0xE2, b"ICC_PROFILE\0"), (0xEE, b"Adobe")
_JFIF_BYTES, _ADOBE_BYTES = 12, 12
"""Without the thumbnail's size and the thumbnail; without what some programs put behind."""


def strip_private(data: bytes) -> tuple[bytes, str]:
    """Rewrite a picture file without its private data.

    Parameters
    ----------
    data
        A picture file of a kind that `load_photo` reads.

    Returns
    -------
    The new file, and the ending that suits it: a JPEG stays one, its pixels the same bit for bit;
    any other kind, HEIC among them, becomes a PNG that holds the decoded pixels without loss.

    Raises
    ------
    PhotoError
        If it is not such a picture, or is damaged.
    """
    with opened(data) as picture:
        image = picture.image
        if picture.kind == "JPEG":
            return _jpeg_without(data, _kept_exif(image.getexif())), ".jpg"
        image.load()
        exif = _kept_exif(image.getexif())  # after loading, which turns TIFF and HEIC upright
        known = image.mode in ("1", "L", "LA", "P", "RGB", "RGBA", "I;16")
        profile = image.info.get("icc_profile") if known else None
        if "nclx_profile" in image.info and not profile:  # which a PNG has no place for
            image = srgb_conversion(image)[0](image)
        plain = image if known else image.convert("RGB")
        plain.info = {key: plain.info[key] for key in ("transparency",) if key in plain.info}
        buffer = io.BytesIO()
        plain.save(buffer, "PNG", exif=exif, icc_profile=profile, compress_level=4)
        return buffer.getvalue(), ".png"


def _kept_exif(exif: Image.Exif) -> bytes:
    """Serialise the tags that may stay."""
    kept = Image.Exif()
    for tag in _KEPT:
        if tag in exif:
            kept[tag] = exif[tag]
    camera = {
        tag: value for tag, value in exif.get_ifd(_EXIF_IFD).items() if tag in _KEPT_OF_CAMERA
    }
    if camera:
        kept[_EXIF_IFD] = camera
    return kept.tobytes()


def _jpeg_without(data: bytes, exif: bytes) -> bytes:
    """Copy what a JPEG's picture is made of, segment by segment, and nothing else.

    What follows the picture is left out too: a second one, a depth map, a film.
    """
    header = exif if exif.startswith(b"Exif\0\0") else b"Exif\0\0" + exif
    jfif, rest = b"", bytearray()
    for segment in segments(data):
        body = data[segment.body : segment.end]
        if segment.marker in PICTURE:
            rest += data[segment.start : segment.end]
        elif _is(segment.marker, body, _COLOUR):
            rest += _segment(segment.marker, body)
        elif _is(segment.marker, body, _ADOBE):
            rest += _segment(segment.marker, body[:_ADOBE_BYTES])
        elif _is(segment.marker, body, _JFIF) and not jfif:
            jfif = _segment(segment.marker, body[:_JFIF_BYTES] + b"\0\0")
    return b"".join((_START, jfif, _segment(0xE1, header), rest, _END))


def _is(marker: int, body: bytes, kind: tuple[int, bytes]) -> bool:
    return marker == kind[0] and body.startswith(kind[1])


def _segment(marker: int, body: bytes) -> bytes:
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body
