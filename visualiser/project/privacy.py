"""Picture files without what they tell of the person, the camera and the place.

Of the Exif data only what the measurement needs is kept: orientation, make and model, focal
lengths and the sensor's resolution. Position, serial numbers, dates, names, maker's notes,
thumbnails, XMP, IPTC and comments go.

References
----------
CIPA DC-008-2023 (Exif 3.0), tables 4 and 8, for the tag numbers; ITU-T T.81 (1992), annex B, for
the segments of a JPEG file.
"""

from __future__ import annotations

import io
import struct
import warnings

from PIL import Image

_KEPT = (0x010F, 0x0110, 0x0112)  # make, model, orientation
_KEPT_OF_CAMERA = (0x920A, 0xA405, 0xA20E, 0xA20F, 0xA210, 0xA002, 0xA003)  # focal, sensor, size
_EXIF_IFD = 0x8769
_START, _SCAN, _END, _COMMENT = 0xD8, 0xDA, 0xD9, 0xFE
_APPLICATION = range(0xE0, 0xF0)
_KEPT_SEGMENTS = ((0xE0, b"JFIF\0"), (0xE2, b"ICC_PROFILE\0"), (0xEE, b"Adobe"))


def strip_private(data: bytes) -> tuple[bytes, str]:
    """Rewrite a picture file without its private data.

    Parameters
    ----------
    data
        Any picture file that Pillow opens.

    Returns
    -------
    The new file, and the ending that suits it: a JPEG stays one, its pixels the same bit for bit;
    any other kind becomes a PNG, without loss.

    Raises
    ------
    ValueError
        If it is not a picture.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of broken Exif data, which goes in any case
            return _rewritten(data)
    except Exception as error:  # Pillow raises much of what Python has for a broken file
        raise ValueError("the picture cannot be read") from error


def _rewritten(data: bytes) -> tuple[bytes, str]:
    with Image.open(io.BytesIO(data)) as image:
        if image.format in ("JPEG", "MPO"):
            return _jpeg_without(data, _kept_exif(image.getexif())), ".jpg"
        image.load()
        exif = _kept_exif(image.getexif())  # after loading, which turns a TIFF upright
        known = image.mode in ("1", "L", "LA", "P", "RGB", "RGBA", "I;16")
        plain = image if known else image.convert("RGB")
        clean = Image.frombytes(plain.mode, plain.size, plain.tobytes())
        if plain.mode == "P" and (palette := plain.getpalette()):
            clean.putpalette(palette)
        profile = image.info.get("icc_profile") if known else None
        buffer = io.BytesIO()
        clean.save(buffer, "PNG", exif=exif, icc_profile=profile)
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
    """Copy a JPEG segment by segment, leaving out private ones and what follows the picture."""
    out = bytearray(data[:2])
    header = exif if exif.startswith(b"Exif\0\0") else b"Exif\0\0" + exif
    segment = b"\xff\xe1" + struct.pack(">H", len(header) + 2) + header
    at, written = 2, False
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise ValueError("not a JPEG segment")
        marker = data[at + 1]
        if marker == 0xFF:  # fill bytes may stand before a marker
            at += 1
            continue
        if marker == _SCAN:
            if not written:
                out += segment
            return bytes(out + _until_end(data, at))
        (length,) = struct.unpack(">H", data[at + 2 : at + 4])
        body = data[at + 4 : at + 2 + length]
        private = marker == _COMMENT or (
            marker in _APPLICATION
            and not any(marker == m and body.startswith(tag) for m, tag in _KEPT_SEGMENTS)
        )
        if marker != 0xE0 and not written:
            out += segment
            written = True
        if not private:
            out += data[at : at + 2 + length]
        at += 2 + length
    raise ValueError("the JPEG ends before its picture")


def _until_end(data: bytes, at: int) -> bytes:
    """From the first scan to the end of the picture; second pictures after it are left out."""
    start = at
    while True:
        at = data.find(b"\xff", at + 1)
        if at < 0 or at + 1 >= len(data):
            return data[start:] + b"\xff\xd9"
        if data[at + 1] == _END:
            return data[start : at + 2]
        if 0xC0 <= data[at + 1] < 0xFF and not 0xD0 <= data[at + 1] <= 0xD7:
            at += 1 + int.from_bytes(data[at + 2 : at + 4], "big")  # a table between two scans
