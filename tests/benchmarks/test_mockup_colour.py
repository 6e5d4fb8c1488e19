"""A print of known colours, predicted under the room's cast, against path-traced photos of it.

``VISUALISER_ROOMS`` names a folder of rooms from the room renderer; its palette family hangs 24
flat patches of known sRGB under warm, cool and slight casts. Light and cast are estimated from the
photo's sheet alone; each patch's colour is then predicted where it hangs.
"""

import json
import os
from pathlib import Path

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from visualiser.geometry import Polygon, Rect
from visualiser.photo.decoding import load_photo
from visualiser.photo.linear_light import to_levels, to_linear
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.survey.light import estimate_light
from visualiser.survey.survey import Survey, Zone

FOLDER = Path(os.environ.get("VISUALISER_ROOMS", "no-rooms"))
ROOMS = sorted(FOLDER.glob("*_palette.json"))
pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not ROOMS, reason="VISUALISER_ROOMS names no folder of palette rooms"),
]


def survey_of(truth):
    k, distortion = np.array(truth["camera"]["k_matrix"]), truth["distortion"]
    rotation = np.array(truth["camera"]["rotation_world_to_camera"])
    sheet = truth["references"][0]
    origin = np.array([*np.mean(sheet["corners_wall_mm"], axis=0), 0.0])
    translation = rotation @ (origin - truth["camera"]["position_mm"])
    lens = Lens(k[0, 0], k[0, 2], k[1, 2], distortion["k1"], distortion["k2"])
    corners = np.array(sheet["corners_px"])
    plane = WallPlane(lens, rotation, translation, corners, 0.0, np.eye(11))
    room, palette = truth["room"], truth["palette"]
    outline = Rect(-room["width_mm"] / 2, 0, room["width_mm"], room["height_mm"])
    hung = [palette["chart_corners_wall_mm"], palette["print"]["frame"]["hung_corners_wall_mm"]]
    zones = tuple(Zone("other", Polygon(tuple(map(tuple, corners)))) for corners in hung)
    return Survey(Polygon.from_rect(outline), plane, (-origin[0], -origin[1]), zones=zones)


@pytest.mark.parametrize("path", ROOMS, ids=lambda p: p.stem)
def test_patches_under_a_cast(path, capsys):
    truth = json.loads(path.read_text())
    photo = load_photo(path.with_suffix(".jpg").read_bytes())
    light = estimate_light(photo, survey_of(truth))
    pasted, predicted = [], []
    for patch in truth["palette"]["patches"]:
        corners = np.array(patch["corners_px"])
        middle = corners.mean(axis=0)
        mask = np.zeros(photo.pixels.shape[:2], np.uint8)
        inner = middle + 0.6 * (corners - middle)
        cv2.fillConvexPoly(mask, np.round(inner).astype(np.int32), 1)
        seen = to_levels(to_linear(photo.pixels[mask > 0][None]).mean(axis=(0, 1)))
        flat = np.array(patch["srgb"], np.uint8)[None, None]
        x, y = middle.round().astype(int)
        lit = to_levels((to_linear(flat) * light.white_in(x, y, 1, 1))[0, 0])
        lab = rgb2lab(np.array([[seen, lit, flat[0, 0].astype(np.float32)]]) / 255)[0]
        predicted.append(float(deltaE_ciede2000(lab[0], lab[1])))
        pasted.append(float(deltaE_ciede2000(lab[0], lab[2])))
    with capsys.disabled():
        print(f"\n{path.stem}: median {np.median(predicted):.1f}, 95th percentile ", end="")
        print(f"{np.percentile(predicted, 95):.1f}; unlit {np.median(pasted):.1f}")
    assert np.median(predicted) <= 4
