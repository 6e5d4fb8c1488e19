import io

import numpy as np
import pillow_heif
import pytest
from PIL import Image


def encode(pixels, kind, **options):
    """Bytes of a picture file; HEIC through its own library."""
    buffer = io.BytesIO()
    image = Image.fromarray(pixels)
    if kind == "HEIC":
        exif = options.pop("exif", None)
        heif = pillow_heif.from_pillow(image)
        heif.save(buffer, format="HEIF", **({"exif": exif} if exif else {}), **options)
    else:
        image.save(buffer, kind, **options)
    return buffer.getvalue()


@pytest.fixture
def encoded():
    return encode


@pytest.fixture
def scene():
    """A smooth picture without symmetry, (48, 64, 3)."""
    y, x = np.mgrid[0:48, 0:64]
    return np.stack([x * 4, y * 5, (x + y) * 2], -1).astype(np.uint8)
