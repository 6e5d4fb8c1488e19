"""Framed pieces read off drawn floors that the weights were not fitted to: seeds from 1000.

``VISUALISER_FLOORS`` is how many are drawn (8), ``VISUALISER_FLOOR_PX`` how long their longer side
is (4000). The sheet's true corners stand in for the finder's. Drawn, not photographed: figures say
how the road does on its own kind of picture, no more.
"""

import os
import time

import cv2
import numpy as np
import pytest

import visualiser as vis
from tests.laid_out.drawn_floor import random_floor, sheet_reference
from visualiser.colour.colorimetry import srgb_to_lab

SEED = 1000
SAME_PIECE_MM = 25.0
"""A find whose front's centre is seen nearer to a piece's is that piece; centres of pieces lie at
least 180 mm apart."""


def matched(drawn, layout):
    """Pair found pieces with the true ones: the front's centre in the photo decides."""
    pairs, taken = [], set()
    for piece in layout.pieces:
        at = piece.corners_px.mean(axis=0)
        best, nearest = None, np.inf
        for k, true in enumerate(drawn.pieces):
            centre = np.array([[true.x_mm, true.y_mm, true.depth_mm]])
            side = np.hypot(*(piece.corners_px[1] - piece.corners_px[0]))
            px_mm = side / piece.width_mm
            off = float(np.hypot(*(drawn.camera.project(centre)[0] - at))) / px_mm
            if off < nearest and k not in taken:
                best, nearest = k, off
        if best is not None and nearest < SAME_PIECE_MM:
            taken.add(best)
            pairs.append((piece, drawn.pieces[best]))
    return pairs


def true_sizes(piece, true):
    """Width and height of a drawn piece the way round that it was found."""
    sizes = (true.width_mm, true.height_mm)
    found = (piece.width_mm, piece.height_mm)
    return min(sizes, sizes[::-1], key=lambda s: abs(s[0] - found[0]) + abs(s[1] - found[1]))


def places_off(pairs):
    """How far centres lie from the true ones, mm, once turned and moved onto them."""
    found = np.array([[p.x_mm, p.y_mm] for p, _ in pairs])
    true = np.array([[t.x_mm, t.y_mm] for _, t in pairs])
    found, true = found - found.mean(axis=0), true - true.mean(axis=0)
    u, _, vt = np.linalg.svd(true.T @ found)
    return np.hypot(*(true @ (u @ vt) - found).T)


def colour_off(piece, true):
    """Median CIEDE2000 difference between the picture cut out and the one drawn."""
    if piece.artwork is None:
        return np.nan
    both = [
        cv2.resize(image, (24, 24), interpolation=cv2.INTER_AREA)
        for image in (piece.artwork.pixels, true.art)
    ]
    return float(np.median(vis.delta_e_2000(*(srgb_to_lab(i).reshape(-1, 3) for i in both))))


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
def test_drawn_floors(capsys):
    count = int(os.environ.get("VISUALISER_FLOORS", "8"))
    long_px = int(os.environ.get("VISUALISER_FLOOR_PX", "4000"))
    there = found = invented = refused = 0
    sizes, held, places, colours, seconds = [], [], [], [], []
    for seed in range(SEED, SEED + count):
        drawn = random_floor(seed, long_px)
        there += len(drawn.pieces)
        start = time.process_time()
        try:
            layout = vis.read_layout(drawn.photo, [sheet_reference(drawn)])
        except vis.MeasurementError:
            refused += 1
            continue
        finally:
            seconds.append(time.process_time() - start)
        pairs = matched(drawn, layout)
        found += len(pairs)
        invented += len(layout.pieces) - len(pairs)
        for piece, true in pairs:
            off = np.subtract((piece.width_mm, piece.height_mm), true_sizes(piece, true))
            sizes += list(np.abs(off))
            held += list(np.abs(off) <= piece.size_half_width_mm)
            colours.append(colour_off(piece, true))
        if len(pairs) > 1:
            places += list(places_off(pairs))
    with capsys.disabled():
        print(f"\n{count} drawn floors of {long_px} px, {there} pieces, {refused} refused")
        print(f"found {found}, missed {there - found}, invented {invented}")
        print(f"sizes off (mm) {spread(sizes)}; within their ± {np.mean(held):.0%} (95 stated)")
        print(f"places in the group off (mm) {spread(places)}")
        print(f"pictures' colours off (CIEDE2000) {spread(colours)}")
        print(f"processor time a floor {np.median(seconds):.1f} s, at most {max(seconds):.1f} s")
    assert found >= 0.8 * there
    assert invented <= 0.1 * there


def spread(values):
    """Median, 95th of 100, and the most."""
    middle, high = np.nanquantile(values, [0.5, 0.95])
    return f"median {middle:.1f}, 95 % {high:.1f}, most {np.nanmax(values):.1f}"
