"""Cost of a mock-up against the least that any program doing the job must spend, in one run."""

import io
import subprocess
import sys
import time
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Polygon, Rect
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.photo.linear_light import to_pixels
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens
from visualiser.rectification.plane import WallPlane
from visualiser.rendering.compositing import prepare_wall, render_mockup
from visualiser.rendering.mockup import MockupOptions
from visualiser.survey.survey import Survey

pytestmark = pytest.mark.benchmark
WIDTH, HEIGHT = 4000, 3000


def scene():
    """Twelve-megapixel photo of a plain wall with an A4 sheet, 20 degrees from the side."""
    yaw = np.radians(20)
    forward = np.array([np.sin(yaw), 0, -np.cos(yaw)])
    right = np.cross(forward, [0.0, 1.0, 0.0])
    rotation = np.array([right, [0, -1, 0], forward])
    lens = Lens(2880, WIDTH / 2, HEIGHT / 2, -0.04, 0.0)
    origin = np.array([-1300.0, 1450, 0])
    translation = -rotation @ (np.array([-1000.0, 1500, 3000]) - origin)
    blank = WallPlane(lens, rotation, translation, np.zeros((4, 2)), 0.0, np.eye(11))
    corners = blank.to_photo(np.array([[-105, 148.5], [105, 148.5], [105, -148.5], [-105, -148.5]]))
    plane = WallPlane(lens, rotation, translation, corners, 0.0, np.eye(11))
    outline = Polygon.from_rect(Rect(-3000, 0, 6000, 2600))
    survey = Survey(outline=outline, plane=plane, datum_mm=(1300.0, -1450.0))
    rng = np.random.default_rng(0)
    shade = np.linspace(0.55, 0.35, WIDTH, dtype=np.float32)[None, :, None]
    wall = np.broadcast_to(shade, (HEIGHT, WIDTH, 3)).copy()
    wall += 0.008 * rng.standard_normal(wall.shape, dtype=np.float32)
    cv2.fillConvexPoly(wall, np.round(corners).astype(np.int32), (0.7, 0.7, 0.7), cv2.LINE_AA)
    photo = Photo(to_pixels(wall))
    pieces, places = [], []
    for i in range(6):
        art = Artwork(rng.integers(0, 256, (1800, 2400, 3), dtype=np.uint8))
        mat = Mat(50, 50, 60)
        pieces.append(Piece(f"p{i}", 520, 420, moulding=Moulding(), mat=mat, artwork=art))
        places.append(Placement(f"p{i}", -300 + 580 * (i % 3), 1250 + 480 * (i // 3)))
    return photo, survey, Arrangement(tuple(pieces), tuple(places))


def best_of(work, times=3):
    spent = []
    for _ in range(times):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return min(spent)


def test_time_six_pieces_on_12_megapixels(capsys):
    photo, survey, arrangement = scene()
    buffer = io.BytesIO()
    Image.fromarray(photo.pixels).save(buffer, "JPEG", quality=92)
    file, turn = buffer.getvalue(), np.array([[1, 0.02, 3], [0.01, 1, 2], [1e-6, 0, 1]])

    def least():
        pixels = np.asarray(Image.open(io.BytesIO(file)).convert("RGB"))
        warped = cv2.warpPerspective(pixels, turn, (WIDTH, HEIGHT))
        Image.fromarray(warped).save(io.BytesIO(), "JPEG", quality=92)

    render_mockup(photo, survey, arrangement, MockupOptions(max_side_px=200))
    yardstick = best_of(least)
    full = best_of(lambda: render_mockup(photo, survey, arrangement))
    small = MockupOptions(max_side_px=1633)  # 2 megapixels
    first = best_of(lambda: render_mockup(photo, survey, arrangement, small))
    wall = prepare_wall(photo, survey, small)
    afresh = best_of(
        lambda: render_mockup(photo, survey, arrangement, small, wall=replace(wall, layers=None))
    )
    places = iter(range(1, 100))

    def drag():
        """One piece moved a little further each time, as by a hand; the others stay."""
        moved = replace(arrangement.placements[0], x_mm=-300.0 - 3 * next(places))
        now = replace(arrangement, placements=(moved, *arrangement.placements[1:]))
        render_mockup(photo, survey, now, small, wall=wall)

    drag()
    preview = best_of(drag, 6)
    with capsys.disabled():
        print(f"\ndecode + warp + encode {yardstick:.3f} s; mock-up {full:.3f} s: ", end="")
        print(f"{full / yardstick:.2f} times. Preview of 2 MP against it: ", end="")
        print(f"first 1/{full / first:.1f}, wall prepared 1/{full / afresh:.1f}, ", end="")
        print(f"while a piece is dragged 1/{full / preview:.1f}")
    assert full <= 4 * yardstick
    assert preview <= full / 10


def test_peak_memory_on_12_megapixels(capsys, pytestconfig):
    """Whole process, interpreter and libraries included, as the system counts it."""
    code = (
        "import importlib.util as u\n"
        "from tests.memory import peak_bytes\n"
        f"spec = u.spec_from_file_location('bench', {__file__!r})\n"
        "bench = u.module_from_spec(spec); spec.loader.exec_module(bench)\n"
        "bench.render_mockup(*bench.scene())\n"
        "print(peak_bytes() // 1024)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=pytestconfig.rootpath,
    )
    peak_gb = int(run.stdout.split()[-1]) / 1e6
    with capsys.disabled():
        print(f"\npeak memory {peak_gb:.2f} GB")
    assert peak_gb <= 1.2
