"""Mock-ups of bare walls against path-traced photos of the same walls with the pictures hung.

``VISUALISER_PAIRS`` names a folder of pairs from the room renderer's family of bare and dressed
walls: one camera, light, sensor and exposure, once bare with a sheet, once with framed pictures.
The mock-up is made from the bare photo with the true camera, so that only drawing is judged.

Noise is not an error of either picture, and two draws of it never agree: colour differences and
structural similarity are taken after a Gaussian blur of 1 px. Similarity is also printed as it
is; there one true photo against itself with fresh noise reached 0.95. "Around" is the wall within
60 mm of a frame, 2 px and more away from what is drawn.
"""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab
from skimage.metrics import structural_similarity

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Polygon, Rect
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.photo.decoding import load_photo
from visualiser.rectification.lens import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.rendering.compositing import render_mockup
from visualiser.survey.survey import Survey

FOLDER = Path(os.environ.get("VISUALISER_PAIRS", "no-pairs"))
PAIRS = sorted(FOLDER.glob("*_bare.json"))
pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not PAIRS, reason="VISUALISER_PAIRS names no folder of pairs"),
]


def survey_of(truth):
    """Survey with the true camera."""
    k, distortion = np.array(truth["camera"]["k_matrix"]), truth["distortion"]
    rotation = np.array(truth["camera"]["rotation_world_to_camera"])
    sheet = truth["references"][0]
    origin = np.array([*np.mean(sheet["corners_wall_mm"], axis=0), 0.0])
    translation = rotation @ (origin - truth["camera"]["position_mm"])
    lens = Lens(k[0, 0], k[0, 2], k[1, 2], distortion["k1"], distortion["k2"])
    corners = np.array(sheet["corners_px"])
    plane = WallPlane(lens, rotation, translation, corners, 0.0, np.eye(11))
    room = truth["room"]
    outline = Rect(-room["width_mm"] / 2, 0, room["width_mm"], room["height_mm"])
    return Survey(Polygon.from_rect(outline), plane, datum_mm=(-origin[0], -origin[1]))


def arrangement_of(truth, folder):
    pieces, places = [], []
    for i, frame in enumerate(truth["frames"]):
        moulding = Moulding(
            frame["moulding_mm"], frame["depth_mm"], "custom", frame["profile"], frame["colour"]
        )
        border = frame["mat_mm"]
        mat = Mat(border, border, border, colour=frame["mat_colour"]) if border else None
        art = Artwork(np.array(Image.open(folder / frame["print_file"]).convert("RGB")))
        size = frame["width_mm"], frame["height_mm"]
        pieces.append(
            Piece(f"p{i}", *size, moulding=moulding, mat=mat, glazing=frame["glazing"], artwork=art)
        )
        places.append(Placement(f"p{i}", *frame["plan_centre_mm"]))
    return Arrangement(tuple(pieces), tuple(places))


def flat_paste(bare, survey, arrangement):
    """Pictures pasted in true perspective on the wall's plane: no light, shadow or depth."""
    pixels = bare.copy()
    for piece_id, rect in arrangement.rects().items():
        piece = arrangement.piece(piece_id)
        face = np.zeros((round(rect.height_mm), round(rect.width_mm), 3), np.uint8)
        face[:] = hex_rgb(piece.moulding.colour)
        rail = round(piece.moulding.width_mm)
        if piece.mat:
            face[rail:-rail, rail:-rail] = hex_rgb(piece.mat.colour)
        edge = rail + (round(piece.mat.sides_mm) if piece.mat else 0)
        hole = face[edge:-edge, edge:-edge]
        size = hole.shape[1::-1]
        hole[:] = cv2.resize(piece.artwork.pixels, size, interpolation=cv2.INTER_AREA)
        rows, columns = face.shape[:2]
        source = np.array([[0, 0], [columns, 0], [columns, rows], [0, rows]], np.float32) - 0.5
        corners = survey.to_photo(rect.corners()).astype(np.float32)
        warp = cv2.getPerspectiveTransform(source, corners)
        size = bare.shape[1::-1]
        cv2.warpPerspective(face, warp, size, pixels, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    return pixels


def hex_rgb(code):
    return [int(code[i : i + 2], 16) for i in (1, 3, 5)]


def difference(one, other):
    def lab(pixels):
        return rgb2lab(cv2.GaussianBlur(pixels.astype(np.float32) / 255, (0, 0), 1.0))

    return deltaE_ciede2000(lab(one), lab(other))


def masks(shape, survey, arrangement, fronts):
    """Inside the fronts, and the wall around what is drawn."""
    inside, drawn, near = (np.zeros(shape[:2], np.uint8) for _ in range(3))
    for piece_id, rect in arrangement.rects().items():
        front = np.round(fronts[piece_id]).astype(np.int32)
        box = np.r_[fronts[piece_id], survey.to_photo(rect.corners())]
        cv2.fillPoly(inside, [front], 1)
        cv2.fillConvexPoly(drawn, cv2.convexHull(np.round(box).astype(np.int32)), 1)
        around = survey.to_photo(rect.grown(60).corners())
        cv2.fillPoly(near, [np.round(around).astype(np.int32)], 1)
    inside = cv2.erode(inside, np.ones((5, 5), np.uint8)) > 0
    drawn = cv2.dilate(drawn, np.ones((5, 5), np.uint8)) > 0
    return inside, (near > 0) & ~drawn, (near > 0) | drawn


def edge_places(pixels, survey, arrangement, depths):
    """Offset (px) of the steepest step across each front edge, NaN where there is none."""
    luma = cv2.GaussianBlur(pixels.astype(np.float32).mean(axis=2), (0, 0), 0.7)
    out = []
    for (_, rect), depth in zip(arrangement.rects().items(), depths, strict=True):
        corners = np.c_[rect.corners(), np.full(4, depth)]
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            t = np.linspace(0.1, 0.9, 60)[:, None]
            edge = survey.project(start + t * (end - start))
            along = np.gradient(edge, axis=0)
            normal = np.c_[along[:, 1], -along[:, 0]]
            normal /= np.linalg.norm(normal, axis=1, keepdims=True)
            d = np.arange(-3, 3.01, 0.25)
            points = (edge[:, None] + d[None, :, None] * normal[:, None]).astype(np.float32)
            seen = cv2.remap(luma, points[..., 0], points[..., 1], cv2.INTER_LINEAR)
            step = np.abs(np.diff(seen, axis=1))
            weight = np.where(step > 0.5 * step.max(axis=1, keepdims=True), step, 0)
            place = (weight * (d[:-1] + d[1:]) / 2).sum(axis=1) / np.maximum(
                weight.sum(axis=1), 1e-6
            )
            out.append(np.where(np.ptp(seen, axis=1) > 25, place, np.nan))
    return np.concatenate(out)


def score(pixels, truth_pixels, survey, arrangement, fronts, depths):
    inside, around, region = masks(pixels.shape, survey, arrangement, fronts)
    delta = difference(pixels, truth_pixels)
    grey = [cv2.cvtColor(p, cv2.COLOR_RGB2GRAY) for p in (pixels, truth_pixels)]
    quiet = [cv2.GaussianBlur(g, (0, 0), 1.0) for g in grey]
    similar, noisy = (
        structural_similarity(*pair, full=True, gaussian_weights=True, sigma=1.5)[1]
        for pair in (quiet, grey)
    )
    gap = edge_places(pixels, survey, arrangement, depths)
    gap = gap - edge_places(truth_pixels, survey, arrangement, depths)
    return {
        "edges": float(np.sqrt(np.nanmean(gap**2))) if np.isfinite(gap).any() else np.nan,
        "inside": float(np.median(delta[inside])),
        "inside 95": float(np.percentile(delta[inside], 95)),
        "around": float(np.median(delta[around])),
        "ssim": float(similar[region].mean()),
        "ssim noisy": float(noisy[region].mean()),
    }


def test_mockups_look_like_the_hung_wall(capsys, tmp_path):
    names = ("edges", "inside", "inside 95", "around", "ssim", "ssim noisy")
    ours, pasted, tiles, truths = [], [], [], []
    for path in PAIRS:
        dressed = path.with_name(path.name.replace("_bare", "_dressed"))
        if not dressed.exists() or not dressed.with_suffix(".jpg").exists():
            continue
        survey = survey_of(json.loads(path.read_text()))
        truth = json.loads(dressed.read_text())
        arrangement = arrangement_of(truth, FOLDER)
        photo = load_photo(path.with_suffix(".jpg").read_bytes())
        hung = load_photo(dressed.with_suffix(".jpg").read_bytes()).pixels
        mockup = render_mockup(photo, survey, arrangement)
        depths = [f.get("edge_depth_mm", f["depth_mm"]) for f in truth["frames"]]
        against = (hung, survey, arrangement, mockup.corners_px, depths)
        ours.append(score(mockup.pixels, *against))
        pasted.append(score(flat_paste(photo.pixels, survey, arrangement), *against))
        truths.append(path.stem)
        _, _, region = masks(hung.shape, survey, arrangement, mockup.corners_px)
        rows, columns = np.flatnonzero(region.any(axis=1)), np.flatnonzero(region.any(axis=0))
        cut = (slice(rows[0], rows[-1]), slice(columns[0], columns[-1]))
        pair = np.hstack([mockup.pixels[cut], hung[cut]])
        scale = 900 / pair.shape[1]
        tiles.append(cv2.resize(pair, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
    assert ours, "the folder holds no complete pair"
    height = max(tile.shape[0] for tile in tiles)
    sheet = np.vstack(
        [cv2.copyMakeBorder(t, 4, height - len(t) + 4, 4, 4, cv2.BORDER_CONSTANT) for t in tiles]
    )
    picture = Path(os.environ.get("VISUALISER_PAIRS_SHEET", tmp_path / "pairs.png"))
    Image.fromarray(sheet).save(picture)

    def mean(scores, name):
        return float(np.nanmean([s[name] for s in scores]))

    with capsys.disabled():
        print(f"\n{'pair':<12}" + "".join(f"{n:>17}" for n in names) + "   (ours / flat paste)")
        for stem, a, b in zip(truths, ours, pasted, strict=True):
            print(f"{stem:<12}" + "".join(f"{a[n]:>8.2f} /{b[n]:>7.2f}" for n in names))
        print(
            f"{'mean':<12}"
            + "".join(f"{mean(ours, n):>8.2f} /{mean(pasted, n):>7.2f}" for n in names)
        )
        print(f"ours left, truth right: {picture}")
    assert mean(ours, "edges") <= 0.7
    assert mean(ours, "inside") <= 3
    assert mean(ours, "inside 95") <= 8
    assert mean(ours, "around") <= 3
    assert mean(ours, "ssim") >= 0.93
    assert mean(ours, "inside") <= mean(pasted, "inside") / 2
