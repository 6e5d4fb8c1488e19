"""Sheets found in real photographs, and in what becomes of photographs on their way.

``VISUALISER_PHOTOGRAPHS`` names a folder with ``index.json``: a list of objects with ``file``,
``source``, and ``truth``: sheets with ``kind``, and ``corners`` (4, 2) px of the upright picture.
Without it the benchmark is skipped. Copies are drawn here: a messenger's (1,280 px, JPEG 65, no
Exif), small (800 px), by night (a sixth of the light, noise of 5), cropped by a seventh on every
side that shows no sheet, and a screenshot of it on a phone.
"""

import json
import os
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound
from visualiser.photo.decoding import load_photo
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.finder.questions import questions

RIGHT_SHARE, OF_ITS_SIZE = 0.006, 0.06
"""Largest corner error of a right find, as a share of the picture's and the sheet's diagonal."""


def coded(pixels, quality):
    _, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.ascontiguousarray(cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1])


def shrunk(photo, long_side, quality):
    scale = min(1.0, long_side / max(photo.pixels.shape[:2]))
    small = cv2.resize(photo.pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    return Photo(coded(small, quality)), scale, np.zeros(2)


def by_night(photo, _):
    rng = np.random.default_rng(5)
    light = (photo.pixels / 255.0) ** 2.2 / 6
    pixels = 255 * light ** (1 / 2.2) + rng.normal(0, 5, photo.pixels.shape)
    dark = coded(np.clip(pixels, 0, 255).astype(np.uint8), 80)
    return Photo(dark, photo.focal_px), 1.0, np.zeros(2)


def cropped(photo, sheets):
    size = np.array([photo.width_px, photo.height_px])
    every = np.concatenate(sheets)
    first = np.clip(np.floor(every.min(axis=0)) - 20, 0, size // 7).astype(int)
    last = np.clip(np.ceil(every.max(axis=0)) + 20, size - size // 7, size).astype(int)
    part = photo.pixels[first[1] : last[1], first[0] : last[0]]
    return Photo(coded(part, 85)), 1.0, -first.astype(float)


def on_a_phone(photo, _):
    width, height = 1080, 2340
    scale = min(width / photo.width_px, height / photo.height_px)
    small = cv2.resize(photo.pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    screen = np.full((height, width, 3), 12, np.uint8)
    y, x = (height - small.shape[0]) // 2, (width - small.shape[1]) // 2
    screen[y : y + small.shape[0], x : x + small.shape[1]] = small
    for row in (40, height - 60):
        cv2.rectangle(screen, (60, row), (width - 60, row + 14), (200, 200, 204), -1)
    return Photo(screen), scale, np.array([x, y], float)


COPIES = {
    "as taken": lambda photo, _: (photo, 1.0, np.zeros(2)),
    "messenger": lambda photo, _: shrunk(photo, 1280, 65),
    "small": lambda photo, _: shrunk(photo, 800, 80),
    "night": by_night,
    "crop": cropped,
    "screenshot": on_a_phone,
}


def photographs():
    folder = os.environ.get("VISUALISER_PHOTOGRAPHS", "")
    if not folder:
        return []
    index = json.loads((Path(folder) / "index.json").read_text())
    return [(Path(folder) / entry["file"], entry) for entry in index]


def is_right(corners_px, sheets, diagonal):
    for truth in sheets:
        off = min(np.abs(np.roll(truth, k, axis=0) - corners_px).max() for k in range(4))
        own = np.hypot(*np.ptp(truth, axis=0))
        if off < min(RIGHT_SHARE * diagonal, OF_ITS_SIZE * own):
            return True
    return False


def outcome(photo, kind, sheets, diagonal):
    """What became of one ask, and whether it is right to a share of the whole photo's diagonal."""
    candidates = find_references(photo, kind)
    try:
        found = convincing(candidates)
    except ReferenceNotFound:
        shown = any(is_right(one.corners_px, sheets, diagonal) for one in questions(candidates))
        return "right one asked about" if shown else "not found"
    return "taken, right" if is_right(found.corners_px, sheets, diagonal) else "taken, wrong"


@pytest.mark.benchmark
@pytest.mark.timeout(36_000)
@pytest.mark.skipif(not photographs(), reason="VISUALISER_PHOTOGRAPHS names no folder")
def test_sheets_found_in_copies_of_photographs(capsys):
    counts = {name: Counter() for name in COPIES}
    for path, entry in photographs():
        photo = load_photo(path.read_bytes())
        kinds = sorted({truth["kind"] for truth in entry["truth"]})
        every = [np.array(truth["corners"], float) for truth in entry["truth"]]
        for name, copy in COPIES.items():
            if not every and name != "as taken":
                continue
            changed, scale, shift = copy(photo, every)
            for kind in kinds or ["a4"]:
                sheets = [
                    (np.array(truth["corners"], float) + 0.5) * scale - 0.5 + shift
                    for truth in entry["truth"]
                    if truth["kind"] == kind
                ]
                whole = scale * np.hypot(photo.width_px, photo.height_px)
                counts[name][outcome(changed, kind, sheets, whole)] += 1
                with capsys.disabled():
                    print(path.name, name, kind, dict(counts[name]), flush=True)
    assert not sum(count["taken, wrong"] for count in counts.values())
