"""Sheets and cards found, wrong and refused in rendered rooms, beside the textbook way.

Folders of rooms (JPEG and truth JSON side by side) are named by ``VISUALISER_ROOMS``, joined by the
system's path separator; without it the benchmark is skipped.
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
from visualiser.rectification.finder.acceptance import ACCEPTANCE
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.sizes import paper_size

KINDS = {"a4": "a4", "letter": "letter", "id1": "card"}
RIGHT_SHARE, WRONG_SHARE = 0.005, 0.01
"""Largest corner error, as a share of the picture's diagonal: goal, and what counts as wrong."""


def rooms():
    folders = os.environ.get("VISUALISER_ROOMS", "").split(os.pathsep)
    return sorted(
        truth
        for folder in folders
        if folder
        for truth in Path(folder).glob("*.json")
        if truth.with_suffix(".jpg").exists()
    )


def textbook(pixels, size):
    """Canny, contours, the largest plausible quadrilateral: corners (4, 2), or None."""
    grey = cv2.GaussianBlur(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), (5, 5), 0)
    edges = cv2.dilate(cv2.Canny(grey, 50, 150), np.ones((3, 3), np.uint8))
    contours, _ = cv2.findContours(edges, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    wanted = max(size.aspect, 1 / size.aspect)
    best, best_area = None, 0.0005 * grey.size
    for contour in contours:
        corners = cv2.approxPolyDP(contour, 0.02 * cv2.arcLength(contour, True), True)
        area = cv2.contourArea(corners)
        if len(corners) != 4 or not cv2.isContourConvex(corners) or area < best_area:
            continue
        quad = corners.reshape(4, 2).astype(float)
        sides = np.linalg.norm(np.roll(quad, -1, axis=0) - quad, axis=1)
        along, across = sides[0] + sides[2], sides[1] + sides[3]
        if 0.75 < max(along, across) / min(along, across) / wanted < 1.33:
            best, best_area = quad, area
    return best


def error_share(corners, references, diagonal):
    """Largest corner error against the nearest reference, whichever corner is named first."""
    return min(
        np.abs(np.roll(np.array(corners)[::way], turn, axis=0) - truth).max() / diagonal
        for truth in references
        for turn in range(4)
        for way in (1, -1)
    )


def outcome(corners, references, diagonal):
    if corners is None:
        return "refused" if references else "nothing there, nothing found"
    if not references:
        return "wrong"
    return "found" if error_share(corners, references, diagonal) <= WRONG_SHARE else "wrong"


def found_by_us(photo, kind, references, diagonal):
    """The convincing one; of two equal sheets the first, if both are right."""
    candidates = find_references(photo, kind)
    try:
        return convincing(candidates).corners_px
    except ReferenceNotFound:
        first = candidates[: len(references)]
        pair = len(references) > 1 and all(
            c.confidence >= ACCEPTANCE
            and error_share(c.corners_px, references, diagonal) <= WRONG_SHARE
            for c in first
        )
        return first[0].corners_px if pair and len(first) > 1 else None


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
@pytest.mark.skipif(not rooms(), reason="VISUALISER_ROOMS names no folder with rendered rooms")
def test_sheets_found_in_rooms_against_the_textbook_way(capsys):
    ours, theirs, errors, lines = Counter(), Counter(), [], []
    for path in rooms():
        truth = json.loads(path.read_text())
        photo = load_photo(path.with_suffix(".jpg").read_bytes())
        diagonal = float(np.hypot(photo.width_px, photo.height_px))
        shown = truth["references"]
        kinds = {KINDS[r["kind"]] for r in shown if r["kind"] in KINDS} or {"a4"}
        for kind in sorted(kinds):
            references = [np.array(r["corners_px"]) for r in shown if KINDS.get(r["kind"]) == kind]
            mine = found_by_us(photo, kind, references, diagonal)
            result = outcome(mine, references, diagonal)
            plain = outcome(textbook(photo.pixels, paper_size(kind)), references, diagonal)
            ours[result] += 1
            theirs[plain] += 1
            if result == "found":
                errors.append(error_share(mine, references, diagonal))
            lines.append(f"{path.stem:>16} {kind:>7}: {result:>9}   textbook: {plain}")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
        print("ours:    ", dict(ours))
        print("textbook:", dict(theirs))
        if errors:
            print(
                f"corner error, share of the diagonal: median {np.median(errors):.4%}, "
                f"largest {max(errors):.4%}"
            )
    assert ours["wrong"] == 0
    assert ours["found"] >= 0.98 * (ours["found"] + ours["refused"])
