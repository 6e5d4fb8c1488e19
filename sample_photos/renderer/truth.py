"""Everything known about a photo, ready for JSON."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
from framed import edge_depth_mm, frame_front_mm
from numpy.typing import NDArray
from prints import CHART_SRGB
from sensor import STORED_TURNS
from skimage.color import rgb2lab
from spec import CARD_RADIUS_MM, Fitting, Frame, Spec, placed_corners
from tracing import visible

Array = NDArray[np.float64]
GRID_STEP_MM = 100.0
SKIRTING_TOP_MM, SKIRTING_DEPTH_MM = 110.0, 18.0


def listed(values: Any, digits: int = 4) -> Any:
    """Numbers as nested lists, rounded."""
    return np.round(np.asarray(values, float), digits).tolist()


def flat(wall_mm: Array, z_mm: float = 0.0) -> Array:
    """Wall points (N, 2) to world points (N, 3)."""
    return np.c_[wall_mm, np.full(len(wall_mm), z_mm)]


def _grid(scene: Any, spec: Spec) -> dict[str, Any]:
    """Wall points every 100 mm that fall in the picture."""
    half, height = spec.room.width_mm / 2, spec.room.height_mm
    x = np.arange(np.ceil(-half / GRID_STEP_MM), half / GRID_STEP_MM) * GRID_STEP_MM
    y = np.arange(0, height / GRID_STEP_MM) * GRID_STEP_MM
    points = np.array([[a, b] for b in y for a in x])
    points = points[spec.camera.sees(flat(points))]
    px = spec.camera.project(flat(points))
    seen = visible(scene, spec.camera, flat(points))
    return {"wall_mm": listed(points, 1), "px": listed(px), "visible": seen.tolist()}


def _lines(scene: Any, spec: Spec, cornice: bool) -> list[dict[str, Any]]:
    """Straight edges of the room along or near the wall.

    Each as 60 samples in space and in the picture.
    """
    half, height = spec.room.width_mm / 2, spec.room.height_mm
    edges: list[tuple[str, list[float], list[float], bool]] = [
        ("floor", [-half, 0, 0], [half, 0, 0], True),
        (
            "skirting_top_front",
            [-half, SKIRTING_TOP_MM, SKIRTING_DEPTH_MM],
            [half, SKIRTING_TOP_MM, SKIRTING_DEPTH_MM],
            False,
        ),
        ("ceiling", [-half, height, 0], [half, height, 0], cornice),
        ("left_corner", [-half, SKIRTING_TOP_MM, 0], [-half, height, 0], False),
        ("right_corner", [half, SKIRTING_TOP_MM, 0], [half, height, 0], False),
    ]
    if spec.room.door_x_mm is not None:
        for name, dx in (("door_frame_left", -487.0), ("door_frame_right", 487.0)):
            x = spec.room.door_x_mm + dx
            edges.append((name, [x, 0, 30], [x, 2110, 30], False))
    out = []
    for name, start, end, covered in edges:
        t = np.linspace(0, 1, 60)[:, None]
        points = np.array(start) + t * (np.array(end) - np.array(start))
        points = points[spec.camera.sees(points)]
        if len(points) < 2:
            continue
        px = spec.camera.project(points)
        out.append(
            {
                "name": name,
                "covered": covered,  # a moulding hides the geometric line
                "xyz_mm": listed(points, 2),
                "px": listed(px),
                "visible": visible(scene, spec.camera, points).tolist(),
            }
        )
    return out


def _references(scene: Any, spec: Spec) -> list[dict[str, Any]]:
    out = []
    for ref in spec.references:
        corners = flat(ref.corners_mm)
        out.append(
            dataclasses.asdict(ref)
            | {
                "corners_wall_mm": listed(ref.corners_mm),
                "corners_px": listed(spec.camera.project(corners)),
                "corners_pinhole_px": listed(spec.camera.project(corners, observed=False)),
                "corners_unobstructed": visible(scene, spec.camera, corners).tolist(),
                "corners_under_tape": ref.tape == "corners" and ref.kind != "aruco",
                "corners_rounded_mm": CARD_RADIUS_MM if ref.kind == "id1" else 0.0,
            }
        )
    return out


def _frame(spec: Spec, frame: Frame) -> dict[str, Any]:
    front = frame_front_mm(frame)
    plan = placed_corners(frame.plan_centre_mm, frame.width_mm, frame.height_mm, 0)
    hung = placed_corners(frame.hung_centre_mm, frame.width_mm, frame.height_mm, frame.tilt_deg)
    return dataclasses.asdict(frame) | {
        "edge_depth_mm": edge_depth_mm(frame),
        "hung_centre_mm": listed(frame.hung_centre_mm),
        "window_mm": listed(frame.window_mm),
        "plan_corners_wall_mm": listed(plan),
        "hung_corners_wall_mm": listed(hung),
        "front_corners_xyz_mm": listed(front),
        "front_corners_px": listed(spec.camera.project(front)),
        "hung_corners_px_on_wall": listed(spec.camera.project(flat(hung))),
    }


def _fitting(spec: Spec, what: Fitting) -> dict[str, Any]:
    return dataclasses.asdict(what) | {
        "corners_wall_mm": listed(what.corners_mm),
        "front_corners_px": listed(spec.camera.project(flat(what.corners_mm, what.depth_mm))),
    }


def _palette(spec: Spec, facts: dict[str, Any]) -> dict[str, Any]:
    patches = []
    for corners, colour in zip(facts["patch_corners_mm"], CHART_SRGB, strict=True):
        patches.append(
            {
                "srgb": colour.tolist(),
                "lab_d65": listed(rgb2lab(colour[None, None] / 255.0)[0, 0], 3),
                "corners_wall_mm": listed(corners),
                "corners_px": listed(spec.camera.project(flat(np.array(corners), 1.0))),
            }
        )
    print_frame = facts["print_frame"]
    assert spec.chart_mm is not None
    return {
        "chart_corners_wall_mm": listed(
            placed_corners(spec.chart_mm[:2], spec.chart_mm[2], spec.chart_mm[3], 0)
        ),
        "patches": patches,
        "print": {
            "colours_srgb": facts["print_colours_srgb"],
            "colours_lab_d65": [
                listed(rgb2lab(np.array(c)[None, None] / 255.0)[0, 0], 3)
                for c in facts["print_colours_srgb"]
            ],
            "area_shares": listed(facts["print_shares"]),
            "frame": _frame(spec, print_frame),
        },
    }


def truth(scene: Any, spec: Spec, facts: dict[str, Any], image_name: str) -> dict[str, Any]:
    """Everything known about the photo, ready for JSON."""
    cam, sensor = spec.camera, spec.sensor
    turned = STORED_TURNS[sensor.orientation] % 2 == 1
    out: dict[str, Any] = {
        "schema": 1,
        "image": image_name,
        "seed": spec.seed,
        "family": spec.family,
        "conventions": "wall mm: x right, y up from the floor, z into the room; pixels of the "
        "upright picture (EXIF orientation applied), (0, 0) = centre of the top-left pixel; "
        "corners TL, TR, BR, BL as hung",
        "width": cam.width,
        "height": cam.height,
        "stored_width": cam.height if turned else cam.width,
        "stored_height": cam.width if turned else cam.height,
        "exif_orientation": sensor.orientation,
        "homography_wall_mm_to_pinhole_px": cam.homography.tolist(),
        "camera": {
            "k_matrix": cam.k_matrix.tolist(),
            "position_mm": list(cam.position_mm),
            "rotation_world_to_camera": cam.rotation.tolist(),
            "yaw_deg": cam.yaw_deg,
            "pitch_deg": cam.pitch_deg,
            "roll_deg": cam.roll_deg,
            "focal_35mm_true": spec.focal_35mm_true,
            "focal_35mm_convention": spec.focal_convention,
        },
        "distortion": {
            "model": "Brown-Conrady",
            "k1": cam.k1,
            "k2": cam.k2,
            "p1": cam.p1,
            "p2": cam.p2,
        },
        "references": _references(scene, spec),
        "grid": _grid(scene, spec),
        "lines": _lines(scene, spec, facts["cornice"]),
        "frames": [_frame(spec, f) for f in spec.frames],
        "palette": _palette(spec, facts) if spec.chart_mm else None,
        "shadow_edge_on_reference": facts["shadow_placed"],
        "room": dataclasses.asdict(spec.room),
        "decoys": [list(decoy) for decoy in spec.decoys],
        "fittings": [_fitting(spec, what) for what in spec.fittings],
        "sensor": dataclasses.asdict(sensor),
    }
    return out
