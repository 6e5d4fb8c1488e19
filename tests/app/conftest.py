"""A drawn room with a known camera, a server of the app, and a browser to drive it."""

import functools
import io
import json
import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from streamlit.components.v2 import manifest_scanner
from streamlit.testing.v1 import AppTest

from tests.app.watching import calls_outside, watched
from visualiser.app import jobs
from visualiser.arrangement.arrangement import Placement
from visualiser.inventory.piece import Mat, Moulding
from visualiser.project.document import (
    Document,
    MarksEntry,
    OptionEntry,
    PieceEntry,
    ReferenceEntry,
)
from visualiser.project.store import Project

# Each run of a page in a test looks for components through all that is installed, for longer than
# the page takes; what is installed stays the same meanwhile.
manifest_scanner.scan_component_manifests = functools.cache(
    manifest_scanner.scan_component_manifests
)

ROOT = Path(__file__).resolve().parents[2]
WIDTH_PX, HEIGHT_PX, FOCAL_PX = 1600, 1200, 1250.0
SHEET_CENTRE_MM = (1900.0, 1550.0)
_SCALE = 0.5  # px per mm of the flat drawing


def wall_to_photo():
    """Homography of the drawn room: a wall 3 m away, seen from the left and a little below."""
    yaw, pitch = np.radians(12.0), np.radians(2.0)
    turn = np.array(
        [[np.cos(yaw), 0, np.sin(yaw)], [0, 1, 0], [-np.sin(yaw), 0, np.cos(yaw)]]
    ) @ np.array([[1, 0, 0], [0, np.cos(pitch), -np.sin(pitch)], [0, np.sin(pitch), np.cos(pitch)]])
    down = np.diag([1.0, -1.0, -1.0])  # wall y is up, z into the room; camera y is down, z forward
    rotation = turn @ down
    translation = -rotation @ np.array([1700.0, 1400.0, 3000.0])
    camera = np.array(
        [[FOCAL_PX, 0, (WIDTH_PX - 1) / 2], [0, FOCAL_PX, (HEIGHT_PX - 1) / 2], [0, 0, 1]]
    )
    return camera @ np.c_[rotation[:, :2], translation]


def to_photo(points_mm):
    mapped = np.c_[np.asarray(points_mm, float), np.ones(len(points_mm))] @ wall_to_photo().T
    return mapped[:, :2] / mapped[:, 2:]


def sheet_corners_px():
    x, y = SHEET_CENTRE_MM
    return to_photo(
        [[x - 105, y + 148.5], [x + 105, y + 148.5], [x + 105, y - 148.5], [x - 105, y - 148.5]]
    )


@functools.cache
def drawn_room(scale=1):
    """JPEG of a plain wall 4 m by 2.6 m with an A4 sheet, skirting and floor, smoothly drawn."""
    rng = np.random.default_rng(7)
    high, wide = round(3600 * _SCALE), round(8000 * _SCALE)
    flat = np.full((high, wide, 3), (126, 140, 150), np.float32)  # flat x = wall x + 2000 mm

    def box(left, right, bottom, top, colour):
        rows = slice(round((3000 - top) * _SCALE), round((3000 - bottom) * _SCALE))
        flat[rows, round((left + 2000) * _SCALE) : round((right + 2000) * _SCALE)] = colour

    box(-2000, 6000, -600, 0, (120, 96, 74))
    box(-2000, 6000, 0, 90, (226, 224, 218))
    box(-2000, 6000, 2600, 3000, (214, 214, 210))
    x, y = SHEET_CENTRE_MM
    box(x - 105, x + 105, y - 148.5, y + 148.5, (244, 244, 242))
    to_flat = np.array(
        [[_SCALE, 0, 2000 * _SCALE - 0.5], [0, -_SCALE, 3000 * _SCALE - 0.5], [0, 0, 1]]
    )
    grow = np.array([[scale, 0, (scale - 1) / 2], [0, scale, (scale - 1) / 2], [0, 0, 1]])
    mapping = grow @ wall_to_photo() @ np.linalg.inv(to_flat)
    size = (round(WIDTH_PX * scale), round(HEIGHT_PX * scale))
    photo = cv2.warpPerspective(
        flat, mapping, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    photo = cv2.GaussianBlur(photo, (0, 0), 0.8 * scale) + rng.normal(0, 1.5, photo.shape)
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = round(FOCAL_PX * 43.27 / np.hypot(WIDTH_PX, HEIGHT_PX))
    buffer = io.BytesIO()
    image = Image.fromarray(np.clip(photo, 0, 255).astype(np.uint8))
    image.save(buffer, "JPEG", quality=93, exif=exif)
    return buffer.getvalue()


@functools.cache
def artwork(seed):
    """A small picture of coloured bands."""
    rng = np.random.default_rng(seed)
    bands = rng.integers(40, 230, (5, 1, 3), np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(np.repeat(np.repeat(bands, 60, 0), 240, 1)).save(buffer, "PNG")
    return buffer.getvalue()


PIECES = (("heron", 400, 500), ("tide", 500, 400), ("kite", 300, 400))
PLACES = ((-1200.0, 1500.0), (-670.0, 1500.0), (600.0, 1500.0))
"""Centres from the sheet's middle, where x is measured from as no corner of the room is seen."""


def make_job(name="Stair hall", *, photo=None, corners=True, arranged=True, quick=False):
    """A job like those the app makes, in the folder that the environment names.

    A quick one has a photo of half the size and is measured from its sheet alone.
    """
    job_id, project = jobs.new_job(name)
    scale = 0.5 if quick else 1
    data = photo if photo is not None else drawn_room(scale)
    kept = project.add_file("photos", "hall.jpg", data, ".jpg")
    corners_px = (sheet_corners_px() + 0.5) * scale - 0.5
    corners_px = tuple(tuple(p) for p in corners_px.tolist()) if corners else None
    pieces = tuple(
        PieceEntry(
            id=f"p{number}",
            name=title.capitalize(),
            width_mm=width,
            height_mm=height,
            moulding=Moulding(20, 25, "oak"),
            mat=Mat(40, 40, 40),
            artwork=project.add_file("artworks", f"{title}.png", artwork(number), ".png"),
        )
        for number, (title, width, height) in enumerate(PIECES, 1)
    )
    placements = tuple(Placement(p.id, *place) for p, place in zip(pieces, PLACES, strict=True))
    marks = MarksEntry(
        reference=ReferenceEntry(kind="a4", corners_px=corners_px),
        reference_height_mm=SHEET_CENTRE_MM[1] - 148.5,
        find_lines=not quick,
    )
    document = project.document.changed(photo=kept, marks=marks, pieces=pieces)
    if arranged:
        option = OptionEntry(id="a", placements=placements)
        document = document.changed(options=(option,), chosen="a")
    return job_id, project.save(document)


def make_typed_job(name="Typed wall"):
    job_id, project = jobs.new_job(name, Document(wall={"width_mm": 4000, "height_mm": 2500}))
    return job_id, project


def run_page(job_id=None, step=None):
    """The app after its first run, at a step of a job if one is named."""
    page = AppTest.from_file(str(ROOT / "streamlit_app.py"), default_timeout=120)
    if job_id:
        page.query_params["job"] = job_id
    if step:
        page.query_params["step"] = step
    return page.run()


def opened_page(job_id=None, step=None):
    """The same, without a fault."""
    page = run_page(job_id, step)
    assert not page.exception
    return page


def labelled_button(page, label):
    """The button of a page with this label."""
    return next(button for button in page.button if button.label == label)


def wall_data(page):
    """What a page hands to its wall view."""
    components = [
        json.loads(part.proto.json) for part in page.get("bidi_component") if part.proto.json
    ]
    (data,) = [data for data in components if "base" in data]
    return data


def ticking_words(page):
    """What a page says is being done beside it."""
    told = [json.loads(part.proto.json) for part in page.get("bidi_component") if part.proto.json]
    return [data["words"] for data in told if "token" in data]


def send(page, job_id, number, **command):
    """Have a page under test receive a command as a browser would send it."""
    batch = {"job": job_id, "hand": "test", "commands": [{"number": number, **command}]}
    page.session_state["command_bar"] = {"outbox": {"batches": [batch], "sent": number}}
    return page.run()


@pytest.fixture
def jobs_folder(tmp_path, monkeypatch):
    monkeypatch.setenv(jobs.FOLDER_VARIABLE, str(tmp_path / "jobs"))
    (tmp_path / "jobs").mkdir()
    return tmp_path / "jobs"


@pytest.fixture
def room():
    """The drawn room and what is known of it."""
    return Room()


class Room:
    """Handed to tests, which cannot import each other's helpers."""

    photo = staticmethod(drawn_room)
    artwork = staticmethod(artwork)
    to_photo = staticmethod(to_photo)
    sheet_corners_px = staticmethod(sheet_corners_px)
    job = staticmethod(make_job)
    typed_job = staticmethod(make_typed_job)
    places = PLACES


@dataclass
class Server:
    """A running app."""

    url: str
    folder: Path

    def project(self, job_id: str) -> Project:
        return Project(self.folder / job_id, jobs.find_job(job_id).document)


def _free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


@pytest.fixture(scope="session")
def server(tmp_path_factory):
    """The app as people start it, on a free port, with jobs in a folder of its own."""
    folder = tmp_path_factory.mktemp("jobs")
    port = _free_port()
    watch = tmp_path_factory.mktemp("watch")
    environment = watched(watch, {**os.environ, jobs.FOLDER_VARIABLE: str(folder)}, ROOT)
    log = (folder / "server.log").open("wb")
    command = [sys.executable, "-m", "streamlit", "run", str(ROOT / "streamlit_app.py")]
    process = subprocess.Popen(
        [*command, f"--server.port={port}"], cwd=ROOT, env=environment, stdout=log, stderr=log
    )
    url = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{url}/_stcore/health")
        before = os.environ.get(jobs.FOLDER_VARIABLE)
        os.environ[jobs.FOLDER_VARIABLE] = str(folder)
        yield Server(url, folder)
        if before is None:
            del os.environ[jobs.FOLDER_VARIABLE]
        else:
            os.environ[jobs.FOLDER_VARIABLE] = before
    finally:
        process.terminate()
        process.wait(10)
        log.close()
        assert calls_outside(watch) == []  # whatever the pages of this session did


def _wait_for(url, patience_s=40):
    deadline = time.monotonic() + patience_s
    while True:
        try:
            with urllib.request.urlopen(url, timeout=2) as answer:
                if answer.status == 200:
                    return
        except (urllib.error.URLError, OSError):
            pass
        if time.monotonic() > deadline:
            raise TimeoutError(f"{url} did not answer")
        time.sleep(0.1)


@pytest.fixture
def page(browser):
    """A fresh page at the smaller size of a laptop; what it logs as an error fails the test."""
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.set_default_timeout(60_000)
    troubles = []
    page.on("pageerror", lambda error: troubles.append(str(error)))
    page.on("console", lambda m: troubles.append(m.text) if "ForwardMsg" in m.text else None)
    strangers = []
    page.on("request", lambda r: strangers.append(r.url) if "//127.0.0.1" not in r.url else None)
    yield page
    context.close()
    assert not troubles
    assert not [url for url in strangers if not url.startswith(("data:", "blob:"))]


_STILL = """(frames) => {
  const app = document.querySelector("[data-testid=stApp]");
  const still = app?.dataset.testScriptState === "notRunning" &&
    !document.querySelector("[data-stale=true]") &&
    !globalThis.visualiserOutbox?.pending().length &&
    document.getAnimations().every((one) => one.playState !== "running");
  globalThis.stillFrames = still ? (globalThis.stillFrames ?? 0) + 1 : 0;
  return globalThis.stillFrames >= frames;
}"""


def wait_still(page, frames=10):
    """Wait until nothing runs, moves or waits to be sent, in some frames one after another.

    What an action brings about is waited for first: it may not have begun yet.
    """
    page.evaluate("globalThis.stillFrames = 0")
    page.wait_for_function(_STILL, arg=frames)


@pytest.fixture
def wait_until():
    """Wait for what the server does: a file's content, not what a page shows."""

    def until(condition, patience_s=60):
        deadline = time.monotonic() + patience_s
        while not condition():
            if time.monotonic() > deadline:
                raise TimeoutError("waited in vain")
            time.sleep(0.05)

    return until
