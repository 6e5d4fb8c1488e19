"""Sheets and notes in photographs by others, corners annotated: found, wrong and refused.

A folder with photographs and a ``MANIFEST.json`` (a list of objects with ``image``, ``kind``
"sheet_or_card", ``corners_px`` and ``size_mm``, null where unknown) is named by
``VISUALISER_SHEETS``; without it the benchmark is skipped.

Where nobody noted a sheet's size, it is asked for as the size of note that shops sell (common
practice, no source) which is nearest in shape to the annotated corners. Such a photo is also asked
for A4, and must refuse.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest

from visualiser.errors import ReferenceNotFound
from visualiser.photo.decoding import load_photo
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.finder.shape import ViewPrior, fit_rectangles
from visualiser.rectification.kinds import reference_kind

FOLDER = os.environ.get("VISUALISER_SHEETS", "")
NOTES = ("51 x 76 mm", "76 x 76 mm", "3 x 5 in", "4 x 6 in", "4 x 5 1/2 in", "5 x 8 in")
RIGHT_SHARE = 0.005


def nearest_note(photo, corners):
    fit = fit_rectangles(corners[None], (210.0, 297.0), ViewPrior.of(photo), 1.0)
    seen = abs(float(np.log(fit.ratio[0])))
    return min(NOTES, key=lambda note: abs(np.log(reference_kind(note).size.aspect) - seen))


def error_share(corners, truth, diagonal):
    return min(np.abs(np.roll(truth, turn, axis=0) - corners).max() for turn in range(4)) / diagonal


@pytest.mark.benchmark
@pytest.mark.timeout(1200)
@pytest.mark.skipif(not FOLDER, reason="VISUALISER_SHEETS names no folder with annotated sheets")
def test_annotated_sheets_are_found(capsys):
    lines, errors = [], []
    for entry in json.loads((Path(FOLDER) / "MANIFEST.json").read_text()):
        if entry["kind"] != "sheet_or_card":
            continue
        photo = load_photo((Path(FOLDER) / entry["image"]).read_bytes())
        truth = np.array(entry["corners_px"])
        diagonal = float(np.hypot(photo.width_px, photo.height_px))
        kind = "a4"
        if entry["size_mm"] is None:
            with pytest.raises(ReferenceNotFound):
                convincing(find_references(photo, "a4"))
            kind = nearest_note(photo, truth)
        found = convincing(find_references(photo, kind))
        errors.append(error_share(found.corners_px, truth, diagonal))
        lines.append(f"{entry['image']:>24} as {kind:>12}: {errors[-1]:.3%} of the diagonal")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
    assert max(errors) <= RIGHT_SHARE
