"""What is on the wall: references, framed pictures and the colour chart."""

from __future__ import annotations

from typing import Any

import meshes as ms
import numpy as np
import prints
from framed import framed_picture
from light import hex_linear
from mitsuba_scene import Builder, bitmap, box, rgb, satin
from numpy.typing import NDArray
from spec import CARD_RADIUS_MM, Frame, Reference, Spec, placed_corners

Rng = np.random.Generator
Array = NDArray[np.float64]


def on_wall(mesh: ms.Mesh, corners_mm: Array, stand_off_m: float) -> ms.Mesh:
    """Carry a mesh to wall corners (TL, TR, BR, BL).

    It is built on z = 0 with its lower left at the origin.
    """
    along = corners_mm[2] - corners_mm[3]
    turn = float(np.degrees(np.arctan2(along[1], along[0])))
    return mesh.rotated("z", turn).moved(
        (corners_mm[3, 0] / 1e3, corners_mm[3, 1] / 1e3, stand_off_m)
    )


def reference_object(b: Builder, rng: Rng, ref: Reference, name: str) -> None:
    """Add a sheet, marker card or bank-size card, with its tape."""
    w, h = ref.width_mm / 1e3, ref.height_mm / 1e3
    white = np.array([0.865, 0.875, 0.89])  # office paper, slightly blue from its brightener
    if ref.kind == "id1":
        face, rim = ms.rounded_card(w, h, 0.00076, CARD_RADIUS_MM / 1e3)
        b.material(
            name,
            {
                "type": "roughplastic",
                "diffuse_reflectance": bitmap(prints.bank_card(rng)),
                "alpha": 0.12,
            },
        )
        b.material(name + "-rim", {"type": "diffuse", "reflectance": rgb(0.6)})
        place = (ref.centre_mm[0] / 1e3, ref.centre_mm[1] / 1e3, 0.0005)
        b.add(name, face.rotated("z", ref.rotation_deg).moved(place))
        b.add(name + "-rim", rim.rotated("z", ref.rotation_deg).moved(place))
        return
    if ref.kind == "aruco":
        assert ref.marker_id is not None
        assert ref.card_mm is not None
        texture = prints.marker_card(ref.marker_id, ref.card_mm, ref.width_mm, white)
        outline = placed_corners(ref.centre_mm, ref.card_mm, ref.card_mm, ref.rotation_deg)
        w = h = ref.card_mm / 1e3
    else:
        texture = prints.sheet(rng, white, ref.printed, w / h)
        outline = ref.corners_mm
    b.material(name, {"type": "diffuse", "reflectance": bitmap(texture)})
    b.add(
        name,
        on_wall(ms.bowed_sheet(w, h, ref.bow_mm / 1e3, ref.corner_lift_mm / 1e3), outline, 0.0004),
    )
    if ref.tape == "none":
        return
    b.material(
        "tape",
        {
            "type": "diffuse",
            "reflectance": rgb(hex_linear("#d9c48f" if rng.random() < 0.6 else "#8fb0cf")),
        },
    )
    top_only = ref.tape == "top"
    spots = [(outline[0] + outline[1]) / 2] if top_only else list(outline)
    for k, spot in enumerate(spots):
        turn = (
            ref.rotation_deg
            + (90 if top_only else (45, -45, 45, -45)[k])
            + float(rng.uniform(-12, 12))
        )
        inward = (np.array(ref.centre_mm) - spot) * (0.0 if top_only else 0.03)
        strip = placed_corners(tuple(spot + inward), 52, 19, turn)
        b.add(
            "tape",
            on_wall(
                ms.quad((0, 0, 0), (0.052, 0, 0), (0, 0.019, 0)),
                strip,
                0.0010 + ref.bow_mm * 0.0004,
            ),
        )


def colour_chart(b: Builder, rng: Rng, spec: Spec) -> dict[str, Any]:
    """Matt chart of known flat colours, and beside it a framed print of five known colours."""
    assert spec.chart_mm is not None
    x, y, w, h = spec.chart_mm
    texture, boxes = prints.chart()
    b.material("chart", {"type": "diffuse", "reflectance": bitmap(texture)})
    corners = placed_corners((x, y), w, h, 0)
    b.add(
        "chart",
        on_wall(
            ms.quad((0, 0, 0), (w / 1e3, 0, 0), (0, h / 1e3, 0), metric_uv=False), corners, 0.001
        ),
    )
    patches = [
        [
            [x - w / 2 + u * w, y + h / 2 - v * h]
            for u, v in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        ]
        for x0, y0, x1, y1 in boxes
    ]
    codes = [
        str(c) for c in rng.permutation(["#e8dfcf", "#2f4858", "#c2703d", "#d9b44a", "#7b8f6a"])
    ]
    picture, shares = prints.colour_blocks(rng, [hex_linear(c) for c in codes])
    side = -1 if spec.references[0].centre_mm[0] > x else 1
    frame = Frame(380, 480, 18, 20, 40, "#1d1b1a", (x + side * 520, y), (0, 0), 0, 0)
    framed_picture(b, rng, frame, "palette-print", picture)
    return {
        "patch_corners_mm": patches,
        "print_frame": frame,
        "print_colours_srgb": [[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in codes],
        "print_shares": shares,
    }


def decoy(b: Builder, kind: str, centre_mm: tuple[float, float]) -> None:
    """Add something rectangular that is no reference: of no known size, or no sheet at all."""
    x, y = (v / 1e3 for v in centre_mm)
    if kind == "canvas":
        b.material("canvas", {"type": "diffuse", "reflectance": rgb(0.7)})
        b.add("canvas", box((0.42, 0.42, 0.022), (x, y, 0.011), 0.003))
    elif kind == "mirror":
        b.material("mirror", {"type": "conductor", "material": "Ag"})
        b.material("mirror-rim", satin(0.06))
        b.add("mirror", box((0.5, 0.7, 0.006), (x, y, 0.013), 0.001))
        b.add("mirror-rim", box((0.53, 0.73, 0.01), (x, y, 0.005), 0.003))
    elif kind == "screen":
        b.material("screen", {"type": "plastic", "diffuse_reflectance": rgb(0.012)})
        b.add("screen", box((0.95, 0.56, 0.04), (x, y, 0.03), 0.004))
    elif kind == "panel":  # a thermostat or bell
        b.material("panel", satin(0.72))
        b.add("panel", box((0.12, 0.12, 0.024), (x, y, 0.012), 0.006))
    else:
        raise ValueError(f"unknown decoy {kind!r}")
