"""Paint the sample artworks: ``python sample_photos/artworks/paint_all.py [NAME ...]``.

The same seed gives the same picture; files are JPEG, 1000 to 1600 px, with an sRGB profile.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

import forms
import nature
import numpy as np
from PIL import Image, ImageCms

WORKS = {
    "lake-at-dawn": nature.lake_at_dawn,
    "night-water": nature.night_water,
    "sails": nature.sails,
    "fern": nature.fern,
    "alder-twig": nature.alder_twig,
    "pebbles": forms.pebbles,
    "arches": forms.arches,
    "basket-weave": forms.basket_weave,
    "ripples": forms.ripples,
    "pears-and-jug": forms.pears_and_jug,
    "half-rounds": forms.half_rounds,
    "reeds": forms.reeds,
}
SEED = 7


def main(names: list[str]) -> None:
    """Paint the named works, or all."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for name in names or WORKS:
        pixels = WORKS[name](np.random.default_rng(SEED))
        buffer = io.BytesIO()
        Image.fromarray(pixels).save(buffer, "JPEG", quality=86, icc_profile=profile)
        (Path(__file__).parent / f"{name}.jpg").write_bytes(buffer.getvalue())


if __name__ == "__main__":
    main(sys.argv[1:])
