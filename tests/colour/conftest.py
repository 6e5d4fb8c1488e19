"""Published tables and real pictures that packages ship, shared by the colour tests."""

import csv
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

DATA = Path(__file__).resolve().parents[1] / "data"


@pytest.fixture(scope="session")
def published():
    """Reader of a table in tests/data: rows of text by column name."""

    def read(name):
        lines = (DATA / name).read_text("utf-8").splitlines()
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))

    return read


@pytest.fixture(scope="session")
def pictures():
    """Real pictures by name, from the wheels of scikit-image and scikit-learn."""
    import skimage
    import sklearn

    skimage_data = Path(skimage.__file__).parent / "data"
    sklearn_data = Path(sklearn.__file__).parent / "datasets" / "images"
    paths = [
        *(
            skimage_data / name
            for name in (
                "astronaut.png",
                "chelsea.png",
                "coffee.png",
                "hubble_deep_field.jpg",
                "ihc.png",
                "logo.png",
                "motorcycle_left.png",
                "retina.jpg",
                "rocket.jpg",
            )
        ),
        sklearn_data / "china.jpg",
        sklearn_data / "flower.jpg",
    ]
    opened = {p.stem: np.asarray(Image.open(p).convert("RGB")) for p in paths}
    # The two largest at half their size, to keep the tests quick.
    return {n: p if p.size < 1_500_000 else p[::2, ::2].copy() for n, p in opened.items()}


@pytest.fixture(scope="session")
def rng_colours():
    """2 000 sRGB colours 0 to 1."""
    return np.random.default_rng(20051).random((2000, 3))
