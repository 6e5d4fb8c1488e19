"""The as-hung check on path-traced photographs of hung groups, beside ignoring the frames' depth.

Render folders of them first (sample_photos/renderer, families ``group``, ``swapped``, ``missing``
and ``by-seed``) and name them, separated as in PATH::

    VISUALISER_HUNG=folder:folder python -m pytest -m benchmark -s \
        tests/benchmarks/test_as_hung_rooms.py

``VISUALISER_HUNG_SHEET=no`` leaves the reference out: the frames alone are then the measure.
"""

import contextlib
import json
import os
import signal
import time
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
import pytest

import visualiser as vis
from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.as_hung.judge import Tolerances
from visualiser.errors import VisualiserError
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece

FOLDERS = [Path(p) for p in os.environ.get("VISUALISER_HUNG", "").split(os.pathsep) if p]
SHEET = os.environ.get("VISUALISER_HUNG_SHEET", "yes") != "no"
KINDS = {"a4": "a4", "letter": "letter", "id1": "card"}
SECONDS = 120
"""A photo that takes longer is given up, and counted."""
CLEAR_MM, CLEAR_DEG = 1.5, 0.15
"""A verdict counts where both place and tilt are this far from their limits."""


@dataclass
class Score:
    """One photo's errors: offsets and tilts (N, 3), their half-widths, and verdicts."""

    name: str
    family: str
    planned: int = 0
    seconds: float = 0.0
    error: np.ndarray = field(default_factory=lambda: np.empty((0, 3)))
    half: np.ndarray = field(default_factory=lambda: np.empty((0, 3)))
    flat: np.ndarray = field(default_factory=lambda: np.empty((0, 3)))
    clear: int = 0
    verdict_right: int = 0
    swapped: int = 0
    swaps_named: int = 0
    false_swaps: int = 0
    absent: int = 0
    absent_told: int = 0
    lost: list[str] = field(default_factory=list)
    level_from_group: bool = False
    refused: str = ""


def pictures(folders):
    """Truth and picture of every photo of a hung group."""
    for folder in folders:
        for place in sorted(folder.glob("*.json")):
            truth = json.loads(place.read_text())
            if truth.get("frames") and place.with_suffix(".jpg").exists():
                yield place, truth


def plan_of(truth, folder, *, depth_known=True):
    pieces, places = [], []
    for k, frame in enumerate(truth["frames"]):
        mat = frame["mat_mm"]
        depth = frame["depth_mm"] if depth_known else 0.0
        shown = folder / (frame.get("print_file") or "nothing")
        artwork = None
        if shown.is_file():
            artwork = Artwork(np.ascontiguousarray(cv2.imread(str(shown))[..., ::-1]))
        profile = frame.get("profile", "flat") if depth_known else "flat"
        pieces.append(
            Piece(
                f"P{k}",
                frame["width_mm"],
                frame["height_mm"],
                moulding=Moulding(frame["moulding_mm"], depth, profile=profile),
                mat=Mat(mat, mat, mat) if mat else None,
                artwork=artwork,
            )
        )
        places.append(Placement(f"P{k}", *frame["plan_centre_mm"]))
    return Arrangement(tuple(pieces), tuple(places))


def hanging_at(truth):
    """For each planned place: index of the frame that hangs there (None: none), offset and tilt."""
    frames = truth["frames"]
    at = {
        (f.get("swapped_with") if f.get("swapped_with") is not None else k): k
        for k, f in enumerate(frames)
        if f.get("hung", True)
    }
    out = []
    for place, frame in enumerate(frames):
        index = at.get(place)
        if index is None:
            out.append((None, np.full(3, np.nan)))
            continue
        hung = frames[index]
        centre = np.add(hung["plan_centre_mm"], hung["offset_mm"])
        out.append((index, np.r_[centre - frame["plan_centre_mm"], hung["tilt_deg"]]))
    return out


def errors(report, truth):
    """Offsets within the group and tilts against what was rendered (N, 3), and half-widths.

    Swapped pieces are left out: another frame hangs there than the one that was measured for.
    """
    there = hanging_at(truth)
    found = [
        k
        for k, p in enumerate(report.pieces)
        if np.isfinite(p.dx_mm) and there[k][0] == k and p.verdict != "swapped"
    ]
    pieces = [report.pieces[k] for k in found]
    drawn = np.array([there[k][1] for k in found]).reshape(-1, 3)
    measured = np.array([[p.dx_mm, p.dy_mm, p.tilt_deg] for p in pieces]).reshape(-1, 3)
    widths = np.array(
        [[p.dx_half_width_mm, p.dy_half_width_mm, p.tilt_half_width_deg] for p in pieces]
    ).reshape(-1, 3)
    off = measured - drawn
    layout = off.mean(axis=0) if len(off) else np.zeros(3)
    off[:, :2] -= layout[:2]
    return off, widths, layout, found


def level_from_group(report):
    return any(f.code == "level-from-group" for f in report.findings)


def judge(score, report, truth):
    """Count verdicts, swaps and absent pieces against what was rendered."""
    limits = Tolerances()
    _, _, layout, found = errors(report, truth)
    there = hanging_at(truth)
    for k, piece in enumerate(report.pieces):
        index, drawn = there[k]
        score.false_swaps += index == k and piece.verdict == "swapped"
        if index is None:
            score.absent += 1
            score.absent_told += piece.verdict == "not found"
        elif index != k:
            score.swapped += 1
            score.swaps_named += piece.verdict == "swapped" and piece.seen_id == f"P{index}"
        elif k in found:
            # Where the report laid the group on the plan is not in question here.
            place = float(np.abs(drawn[:2] + layout[:2]).max())
            tilt = abs(float(drawn[2]))
            if (
                abs(place - limits.gap_mm) > CLEAR_MM
                and abs(tilt - limits.level_deg) > CLEAR_DEG
            ):  # fmt: skip
                right = place <= limits.gap_mm and tilt <= limits.level_deg
                score.clear += 1
                score.verdict_right += piece.verdict == ("right" if right else "nudge")
        elif piece.verdict != "swapped":
            score.lost.append(f"{piece.piece_id} ({piece.sentence})")


@contextlib.contextmanager
def at_most(seconds):
    def give_up(*_):
        raise TimeoutError(f"took more than {seconds} s")

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def scored(place, truth):
    """Check one photo; a photo that cannot be measured is told, not raised."""
    score = Score(place.stem, truth.get("family", "hung"), len(truth["frames"]))
    kind = KINDS.get(truth["references"][0]["kind"]) if truth["references"] else None
    try:
        photo = vis.load_photo(place.with_suffix(".jpg").read_bytes())
        plan = plan_of(truth, place.parent)
        options = sheet_of(photo, truth, kind)
        start = time.process_time()
        with at_most(SECONDS):
            report = vis.check_as_hung(photo, plan, **options)
        score.seconds = time.process_time() - start
    except (VisualiserError, TimeoutError) as error:
        score.refused = f"{type(error).__name__}: {error}"
        return score
    score.error, score.half, _, _ = errors(report, truth)
    score.level_from_group = level_from_group(report)
    judge(score, report, truth)
    with contextlib.suppress(VisualiserError, TimeoutError), at_most(SECONDS):
        flat_plan = plan_of(truth, place.parent, depth_known=False)
        score.flat = errors(vis.check_as_hung(photo, flat_plan, **options), truth)[0]
    return score


def sheet_of(photo, truth, kind):
    """How the scale is told: the sheet's kind, or the frames alone."""
    if not SHEET:
        return {"reference": "none"}
    if kind is None and truth["references"]:  # the renderer's own target: its corners are clicked
        sheet = truth["references"][0]
        corners = np.array(sheet["corners_px"])
        clicked = vis.Reference.from_corners(corners, sheet["width_mm"], sheet["height_mm"])
        return {"plane": vis.fit_wall_plane(photo, [clicked])}
    return {"reference": kind}


def spread(values):
    values = np.abs(values)
    if not len(values):
        return "     -        -"
    return f"{np.median(values):6.2f}   {np.percentile(values, 95):6.2f}"


def row(s):
    if s.refused:
        return f"{s.name:16}{s.family:9}{s.planned:3} refused: {s.refused}"
    held = (np.abs(s.error) <= s.half).sum(axis=0)
    count = len(s.error)
    told = f"{s.name:16}{s.family:9}{s.planned:3}{count:4}"
    told += f" {spread(s.error[:, :2].ravel())} {spread(s.error[:, 2])}"
    told += f"  {held[:2].sum():3}/{2 * count:<3}{held[2]:3}/{count:<3}"
    told += (
        f" {s.verdict_right:2}/{s.clear:<2} {s.swaps_named}/{s.swapped} {s.absent_told}/{s.absent}"
    )
    return told + f" {s.seconds:5.1f} s" + (" level from group" if s.level_from_group else "")


def total(scores):
    """Print the pooled table of a set of photos."""
    read = [s for s in scores if not s.refused]
    if not read:
        print("no photo could be measured")
        return
    off, half = np.vstack([s.error for s in read]), np.vstack([s.half for s in read])
    flat = np.vstack([s.flat for s in read])
    print(f"{len(read)} photos measured, {len(scores) - len(read)} refused; {len(off)} pieces")
    print(f"{'':26}median   95th percentile")
    for name, values in (
        ("offset, mm", off[:, :2].ravel()),
        ("offset, depth ignored", flat[:, :2].ravel()),
        ("tilt, degrees", off[:, 2]),
        ("tilt, depth ignored", flat[:, 2]),
    ):
        print(f"{name:26}{spread(values)}")
    held = 100 * (np.abs(off) <= half).mean(axis=0)
    print(
        f"95 % intervals hold         {held[:2].mean():.0f} % of offsets, {held[2]:.0f} % of tilts"
    )
    wide = np.median(half[:, :2]), np.median(half[:, 2])
    print(f"half-widths, median         {wide[0]:.2f} mm, {wide[1]:.2f} degrees")
    clear = sum(s.clear for s in read)
    right = sum(s.verdict_right for s in read)
    share = 100 * right / max(clear, 1)
    print(f"verdict right               {right} of {clear} clear ({share:.1f} %)")
    print(
        f"swapped pieces named        {sum(s.swaps_named for s in read)} of "
        f"{sum(s.swapped for s in read)}; wrongly called swapped {sum(s.false_swaps for s in read)}"
    )
    absent = sum(s.absent for s in read)
    told = sum(s.absent_told for s in read)
    print(f"absent pieces told          {told} of {absent}; found where none hangs {absent - told}")
    print(f"hung pieces not found       {sum(len(s.lost) for s in read)}")
    print(f"CPU seconds a photo, median {np.median([s.seconds for s in read]):.1f}")


@pytest.mark.benchmark
@pytest.mark.skipif(not FOLDERS, reason="VISUALISER_HUNG names no folder of rendered groups")
def test_as_hung_on_path_traced_groups():
    print(
        f"\n{'photo':16}{'family':9}  n found  offset 50/95 mm   tilt 50/95 deg  "
        "held mm, deg  verdict swaps absent"
    )
    scores = []
    for place, truth in pictures(FOLDERS):
        scores.append(scored(place, truth))
        print(row(scores[-1]), flush=True)
        for lost in scores[-1].lost:
            print(f"    lost: {lost}")
    families = sorted({s.family for s in scores})
    for family in families if len(families) > 1 else ():
        print(f"\n{family}")
        total([s for s in scores if s.family == family])
    print("\nall")
    total(scores)
    read = [s for s in scores if not s.refused]
    off = np.vstack([s.error for s in read])
    assert np.median(np.abs(off[:, :2])) <= 1.5
    assert np.median(np.abs(off[:, 2])) <= 0.1
    assert sum(s.absent_told for s in read) == sum(s.absent for s in read)
