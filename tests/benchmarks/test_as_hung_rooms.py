"""The as-hung check on path-traced photographs of hung groups, beside ignoring the frames' depth.

Render a folder of them first (sample_photos/renderer, family ``hung``) and name it::

    VISUALISER_HUNG=folder python -m pytest -m benchmark -s tests/benchmarks/test_as_hung_rooms.py
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import VisualiserError
from visualiser.inventory.piece import Mat, Moulding, Piece

FOLDER = os.environ.get("VISUALISER_HUNG", "")
KINDS = {"a4": "a4", "letter": "letter", "id1": "card"}


def plan_of(truth, *, depth_known=True):
    pieces, places = [], []
    for k, frame in enumerate(truth["frames"]):
        mat = frame["mat_mm"]
        depth = frame["depth_mm"] if depth_known else 0.0
        pieces.append(
            Piece(
                f"P{k}",
                frame["width_mm"],
                frame["height_mm"],
                moulding=Moulding(frame["moulding_mm"], depth),
                mat=Mat(mat, mat, mat) if mat else None,
            )
        )
        places.append(Placement(f"P{k}", *frame["plan_centre_mm"]))
    return Arrangement(tuple(pieces), tuple(places))


def errors(report, truth):
    """Offsets, tilts and whether the half-widths hold them, against what was rendered."""
    found = [k for k, p in enumerate(report.pieces) if np.isfinite(p.dx_mm)]
    pieces = [report.pieces[k] for k in found]
    drawn = np.array(
        [[*truth["frames"][k]["offset_mm"], truth["frames"][k]["tilt_deg"]] for k in found]
    )
    measured = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in pieces])
    widths = np.array(
        [[p.dx_half_width_mm, p.dy_half_width_mm, p.tilt_half_width_deg] for p in pieces]
    )
    off = measured - drawn
    off[:, :2] -= off[:, :2].mean(axis=0)
    return off, widths


@pytest.mark.benchmark
@pytest.mark.skipif(not FOLDER, reason="VISUALISER_HUNG names no folder of rendered groups")
def test_as_hung_on_path_traced_groups():
    with_depth, without_depth, widths = [], [], []
    refused = missing = pieces = 0
    for place in sorted(Path(FOLDER).glob("*.json")):
        truth = json.loads(place.read_text())
        picture = place.with_suffix(".jpg")
        if not truth.get("frames") or not picture.exists():
            continue
        photo = vis.load_photo(picture.read_bytes())
        reference = KINDS.get(truth["references"][0]["kind"]) if truth["references"] else None
        try:
            report = vis.check_as_hung(photo, plan_of(truth), reference=reference)
        except VisualiserError as error:
            refused += 1
            print(f"{place.stem}: {error}")
            continue
        off, half = errors(report, truth)
        pieces += len(truth["frames"])
        missing += len(truth["frames"]) - len(off)
        with_depth.append(off)
        widths.append(half)
        try:
            flat = vis.check_as_hung(photo, plan_of(truth, depth_known=False), reference=reference)
            without_depth.append(errors(flat, truth)[0])
        except VisualiserError:
            pass
    off, half = np.vstack(with_depth), np.vstack(widths)
    flat = np.vstack(without_depth)
    print(f"\n{len(with_depth)} photos, {refused} refused; {missing} of {pieces} pieces not found")
    print(f"{'':24}median   95th percentile")
    for name, values in (
        ("offset, mm", np.abs(off[:, :2]).ravel()),
        ("offset, depth ignored", np.abs(flat[:, :2]).ravel()),
        ("tilt, degrees", np.abs(off[:, 2])),
        ("tilt, depth ignored", np.abs(flat[:, 2])),
    ):
        print(f"{name:24}{np.median(values):6.2f}   {np.percentile(values, 95):6.2f}")
    held = (np.abs(off) <= half).mean(axis=0)
    told = f"{100 * held[:2].mean():.0f} % of offsets, {100 * held[2]:.0f} % of tilts"
    print(f"95 % intervals hold {told}")
    assert np.median(np.abs(off[:, :2])) <= 1.5
    assert np.median(np.abs(off[:, 2])) <= 0.1
