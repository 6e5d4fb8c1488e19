"""Where the floor is taken to be in path-traced rooms, against where it is.

``VISUALISER_ROOMS`` names folders of ``*.json`` truths beside their pictures, joined by the
system's path separator. The reference's true corners stand in for the finder's. Beside it, the
way that only looks at lines: two level ones, one above the other by a skirting's height.
"""

import json
import os
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from visualiser import MeasurementError, Reference, fit_wall_plane, load_photo
from visualiser.survey.floor import REFERENCE_HEIGHT_MM, skirting_floor
from visualiser.survey.skirting import HEIGHTS_MM
from visualiser.survey.surveying import whole_wall

WRONG_MM = 40.0
"""A centre line this far off is seen by anyone."""


def truths():
    for folder in os.environ.get("VISUALISER_ROOMS", "").split(os.pathsep):
        for path in sorted(Path(folder).glob("*.json")) if folder else ():
            truth = json.loads(path.read_text())
            if truth.get("references") and path.with_name(truth["image"]).exists():
                yield path.with_name(truth["image"]), truth


def by_lines(plane):
    """Foot of the longest pair of level lines as far apart as a skirting is high, or None."""
    level = [plane.to_wall(line.ends_px) for line in plane.lines if line.direction == "level"]
    best = None
    for lower, upper in permutations(level, 2):
        rise = upper[:, 1].mean() - lower[:, 1].mean()
        height = -lower[:, 1].mean()
        if HEIGHTS_MM[0] < rise < HEIGHTS_MM[1] and abs(height - REFERENCE_HEIGHT_MM) < 600:
            length = np.ptp(lower[:, 0]) + np.ptp(upper[:, 0])
            if best is None or length > best[0]:
                best = length, float(lower[:, 1].mean())
    return None if best is None else best[1]


@pytest.mark.benchmark
@pytest.mark.timeout(3600)
def test_floors(capsys):
    errors, held, lines, seen = [], [], [], 0
    for picture, truth in truths():
        one = truth["references"][0]
        photo = load_photo(picture.read_bytes())
        kind = {"id1": "card"}.get(one["kind"], one["kind"])
        reference = Reference(kind, np.array(one["corners_px"]), one["width_mm"], one["height_mm"])
        try:
            plane = fit_wall_plane(photo, [reference])
        except MeasurementError:
            continue
        shift = float(one["centre_mm"][1])
        seen += 1
        floor, other = skirting_floor(whole_wall(photo, plane), plane), by_lines(plane)
        if other is not None:
            lines.append(abs(other + shift))
        if floor is not None:
            errors.append(abs(floor.y_mm + shift))
            held.append(errors[-1] < 1.96 * floor.sigma_mm)
    if not seen:
        pytest.skip("name a folder of rendered rooms in VISUALISER_ROOMS")
    with capsys.disabled():
        print(f"\n{seen} rooms; floor told, median mm, 95th, off by more than {WRONG_MM:.0f} mm:")
        for name, off in (("ours", errors), ("pairs of lines", lines)):
            wrong = sum(e > WRONG_MM for e in off)
            print(
                f"  {name:15s} {len(off):3d} {np.median(off):6.1f} {np.percentile(off, 95):6.1f} "
                f"{wrong:3d}"
            )
        print(f"  stated 95 % held in {np.mean(held):.1%}")
    assert sum(e > WRONG_MM for e in errors) <= 0.02 * len(errors)
    assert np.median(errors) < 10
