"""Gather candidates and their features from pictures whose truth is known.

    python gather.py PICTURES OUT.pickle [WORKERS]

PICTURES holds ``index.json``: a list of objects with ``file``, ``set`` (where it was taken),
``focal_px`` (or null), and ``truth``: sheets with ``corners`` (4, 2) px and ``size`` mm.
"""

from __future__ import annotations

import json
import pickle
import sys
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from visualiser.photo.photo import Photo
from visualiser.rectification.finder.light_planes import light_planes
from visualiser.rectification.finder.weighing import looks, things_in
from visualiser.rectification.kinds import reference_kind

KINDS = ("a4", "letter", "card")


def gathered(task: tuple[Path, dict[str, Any]]) -> dict[str, Any]:
    """Look for every common kind in one picture."""
    folder, entry = task
    pixels = np.asarray(Image.open(folder / entry["file"]).convert("RGB")).copy()
    photo = Photo(pixels, entry["focal_px"])
    planes, things = light_planes(photo.pixels), things_in(photo)
    found = []
    for kind in KINDS:
        wanted = reference_kind(kind)
        for one in looks(photo, planes, things, wanted):
            found.append((kind, one.corners_px, one.features))
    return {**entry, "wh": (photo.width_px, photo.height_px), "candidates": found}


if __name__ == "__main__":
    source, out = Path(sys.argv[1]), Path(sys.argv[2])
    index = json.loads((source / "index.json").read_text())
    with Pool(int(sys.argv[3]) if len(sys.argv) > 3 else 2) as pool:
        pictures = pool.map(gathered, [(source, entry) for entry in index], chunksize=1)
    out.write_bytes(pickle.dumps(pictures))
