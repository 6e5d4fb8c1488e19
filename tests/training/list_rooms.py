"""List path-traced rooms to learn from, with their sheets and what the finder sees in them.

    python list_rooms.py RENDERED ROOMS

RENDERED holds what `sample_photos/renderer/render.py` wrote; ROOMS then holds upright pictures of
even seeds and ``index.json``. Odd seeds are left to judge by.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageOps

from visualiser.rectification.finder.network import look, look_at, sightings

OVERVIEWS_PX, ZOOM, CLOSE_PX = (512, 896), 2.6, 512
MOST_LOOKED_AT, MOST_SEEN = 8, 40
SHEETS = ("a4", "letter", "id1")


def seen_in(pixels: np.ndarray[Any, np.dtype[np.uint8]]) -> list[list[list[float]]]:
    """List what the finder sees in a picture, from afar and close."""
    seen = [one.corners_px for side in OVERVIEWS_PX for one in sightings(look(pixels, side))]
    for corners in seen[:MOST_LOOKED_AT]:
        close = look_at(pixels, corners, ZOOM, CLOSE_PX)
        seen += [one.corners_px for one in sightings(close)][:3] if close is not None else []
    return [corners.round(2).tolist() for corners in seen[:MOST_SEEN]]


def entry(truth_path: Path, out: Path) -> dict[str, Any]:
    """Copy one room upright, as its truth is, and list what it shows."""
    truth = json.loads(truth_path.read_text())
    upright = ImageOps.exif_transpose(Image.open(truth_path.with_suffix(".jpg"))).convert("RGB")
    factor = upright.width / truth["width"]
    sheets = [
        {
            "corners": [[(x + 0.5) * factor - 0.5 for x in point] for point in one["corners_px"]],
            "size": [one["width_mm"], one["height_mm"]],
        }
        for one in truth["references"]
        if one["kind"] in SHEETS
    ]
    name = truth_path.with_suffix(".jpg").name
    upright.save(out / name, quality=93)
    return {
        "file": name,
        "truth": sheets,
        "markers": [one["kind"] for one in truth["references"] if one["kind"] == "aruco"],
        "seen": seen_in(np.asarray(upright)),
    }


if __name__ == "__main__":
    source, rooms = Path(sys.argv[1]), Path(sys.argv[2])
    rooms.mkdir(parents=True, exist_ok=True)
    chosen = [
        path
        for path in sorted(source.glob("*/*.json"))
        if path.with_suffix(".jpg").exists() and json.loads(path.read_text())["seed"] % 2 == 0
    ]
    (rooms / "index.json").write_text(json.dumps([entry(path, rooms) for path in chosen]))
