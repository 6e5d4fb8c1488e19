"""Position error, level and coverage on path-traced rooms with known truth.

``VISUALISER_ROOMS`` names a folder of ``*.json`` truths beside their pictures, as the sample
renderer writes them. The reference's true corners, a pixel off, stand in for the finder's. White
sheets on white walls that nothing shows are among them; so a further row is of those alone that the
finder finds without a click.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest

from tests.synthetic.scoring import format_table, score
from visualiser import MeasurementError, Reference, fit_wall_plane, load_photo
from visualiser.errors import ReferenceNotFound
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.finder.acceptance import ACCEPTANCE
from visualiser.rectification.finder.find import convincing, find_references

FOLDER = os.environ.get("VISUALISER_ROOMS", "")
SHEETS = ("a4", "letter")
OUR_NAMES = {"id1": "card"}
FLAT_WALL = ModelTerms(flatness_sigma_mm=0.0)


def is_found(photo, reference, count):
    """Whether the finder finds it without a click, or both of a pair, which are fitted together."""
    candidates = find_references(photo, reference.kind)
    try:
        convincing(candidates)
    except ReferenceNotFound:
        alike = candidates[:count]
        return count > 1 and len(alike) == count and alike[-1].confidence >= ACCEPTANCE
    return True


def room_scores(kinds):
    scores = {"with lines": [], "without": [], "found, with lines": []}
    refused = []
    for path in sorted(Path(FOLDER).glob("*.json")):
        truth = json.loads(path.read_text())
        picture = path.with_name(truth.get("image", ""))
        sheets = [r for r in truth.get("references", []) if r["kind"] in kinds]
        if not sheets or not picture.is_file():
            continue
        one = sheets[0]
        photo = load_photo(picture.read_bytes())
        corners = np.array(one["corners_px"])
        rng = np.random.default_rng([11, truth["seed"]])
        reference = Reference(
            OUR_NAMES.get(one["kind"], one["kind"]),
            corners + rng.uniform(-1, 1, (4, 2)),
            one["width_mm"],
            one["height_mm"],
            size_sigma_mm=0.0,
        )
        try:
            plane = fit_wall_plane(photo, [reference], terms=FLAT_WALL)
        except MeasurementError as error:
            refused.append(f"{picture.name}: {error}")
            continue
        seen = np.array(truth["grid"]["px"])
        size = [photo.width_px, photo.height_px]
        inside = ((seen > 0) & (seen < size)).all(axis=1)
        centre = np.array(one["centre_mm"])
        lines = "level-from-sheet" not in {f.code for f in plane.findings}
        judged = score(
            plane,
            np.array(truth["grid"]["wall_mm"])[inside] - centre,
            seen[inside],
            one["rotation_deg"],
            np.array(one["corners_wall_mm"]) - centre,
            corners + rng.normal(0, 0.3, (4, 2)),
            frame="level" if lines else "reference",
        )
        scores["with lines" if lines else "without"].append(judged)
        if lines and kinds == SHEETS and is_found(photo, reference, len(sheets)):
            scores["found, with lines"].append(judged)
    return scores, refused


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("kinds", [SHEETS, ("id1",), ("aruco",)], ids=["sheets", "card", "target"])
def test_rooms(kinds, capsys):
    if not FOLDER:
        pytest.skip("VISUALISER_ROOMS names no folder")
    scores, refused = room_scores(kinds)
    with capsys.disabled():
        for name, some in scores.items():
            if some:
                print(format_table(f"{' and '.join(kinds)}, {name}", some))
        print("\n".join(refused))
    assert not refused
