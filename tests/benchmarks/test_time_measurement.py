"""How long a wall takes to measure, the finding of the sheet included, in a photo of 12 megapixels.

The sample rooms are enlarged, so that the sheet and the room's edges are as long as in a phone's
picture. Of three runs the fastest counts: the machine may be shared.
"""

import io
import time
from pathlib import Path

import pytest
from PIL import Image

from visualiser.photo.decoding import load_photo
from visualiser.rectification.finder.find import convincing, find_references
from visualiser.rectification.fit import fit_wall_plane

PHOTOS = Path(__file__).parents[2] / "sample_photos" / "photos"
ROOMS = {"reading-room": "a4", "garden-room": "a4", "breakfast-room": "a4", "landing": "letter"}
LIMIT_S = 1.5


def enlarged(data, megapixels=12):
    with Image.open(io.BytesIO(data)) as image:
        scale = (megapixels * 1e6 / (image.width * image.height)) ** 0.5
        size = round(image.width * scale), round(image.height * scale)
        out = io.BytesIO()
        image.resize(size, Image.Resampling.LANCZOS).save(out, "JPEG", exif=image.getexif())
    return out.getvalue()


@pytest.mark.benchmark
@pytest.mark.parametrize("room", ROOMS)
def test_time_finding_and_fitting_12_megapixels(room, capsys):
    data = enlarged((PHOTOS / f"{room}.jpg").read_bytes())
    took = []
    for _ in range(3):
        began = time.perf_counter()
        photo = load_photo(data)
        decoded = time.perf_counter()
        reference = convincing(find_references(photo, ROOMS[room]))
        found = time.perf_counter()
        fit_wall_plane(photo, [reference])
        took.append((decoded - began, found - decoded, time.perf_counter() - found))
    decode, find, fit = min(took, key=sum)
    with capsys.disabled():
        print(
            f"\n{room}: decode {decode:.2f} s, find {find / decode:.1f} times that, "
            f"fit {fit / decode:.1f} times; find and fit {find + fit:.2f} s"
        )
    assert find + fit <= LIMIT_S
