"""The segments of a JPEG file: what it holds, told without decoding it.

References
----------
ITU-T T.81 (1992), annex B: markers, segments and the order in which they stand.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

START, SCAN, END = 0xD8, 0xDA, 0xD9
_FRAMES = frozenset({*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC})
"""Start of frame, of every process; the three left out are tables and reserved."""
TABLES = frozenset({0xC4, 0xCC, 0xDB, 0xDC, 0xDD})
"""Tables of codes, conditioning and quantisation, number of lines, restart interval."""
PICTURE = _FRAMES | TABLES | {SCAN}
"""What a decoder needs to draw the picture."""
_PROGRESSIVE = frozenset({0xC2, 0xC6, 0xCA, 0xCE})
# In entropy-coded data FF is followed by 00, or by a restart marker; anything else ends it.
_AFTER_SCAN = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")


@dataclass(frozen=True, slots=True)
class Segment:
    """A marker and what stands behind it; the entropy-coded data of a scan belong to it."""

    marker: int
    start: int
    body: int
    end: int


@dataclass(frozen=True, slots=True)
class JpegLayout:
    """What the frame's header declares, and how many scans the picture is drawn in."""

    width: int
    height: int
    coefficients: float
    """For each pixel of the picture, of all its components."""
    buffered: bool
    """Whether the decoder has to keep all coefficients until the last scan."""
    scans: int


def segments(data: bytes) -> Iterator[Segment]:
    """Walk the segments of a JPEG file behind its first marker, up to the end of the picture.

    A file that is cut off ends the walk; the last segment then reaches to its end.

    Raises
    ------
    ValueError
        Where no marker stands although one must.
    """
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            raise ValueError(f"no JPEG marker at byte {at}")
        marker = data[at + 1]
        if marker == 0xFF:  # fill bytes may stand before a marker
            at += 1
            continue
        if marker == END:
            return
        if 0xD0 <= marker <= START or marker == 0x01:  # stand alone
            at += 2
            continue
        body = at + 4
        end = at + 2 + int.from_bytes(data[at + 2 : body], "big")
        if end < body:
            raise ValueError(f"a JPEG segment at byte {at} has no length")
        if marker == SCAN:
            found = _AFTER_SCAN.search(data, end)
            end = found.end() - 2 if found else len(data)
        yield Segment(marker, at, min(body, len(data)), min(end, len(data)))
        at = end


def layout(data: bytes) -> JpegLayout:
    """Read how large a JPEG is and how it is drawn.

    Raises
    ------
    ValueError
        If it has no frame header that can be read.
    """
    frame: bytes | None = None
    progressive, scans = False, 0
    for segment in segments(data):
        if segment.marker in _FRAMES and frame is None:
            frame = data[segment.body : segment.end]
            progressive = segment.marker in _PROGRESSIVE
        scans += segment.marker == SCAN
    if frame is None or len(frame) < 6 or len(frame) < 6 + 3 * frame[5] or not frame[5]:
        raise ValueError("no JPEG frame")
    sampling = [(frame[7 + 3 * n] >> 4, frame[7 + 3 * n] & 15) for n in range(frame[5])]
    widest = max(across for across, _ in sampling) * max(down for _, down in sampling)
    return JpegLayout(
        width=int.from_bytes(frame[3:5], "big"),
        height=int.from_bytes(frame[1:3], "big"),
        coefficients=sum(across * down for across, down in sampling) / max(widest, 1),
        buffered=progressive or scans > 1,
        scans=scans,
    )
