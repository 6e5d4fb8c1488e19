"""How the app feels: start, drag, save and redraw, measured in a real browser.

Run with ``pytest -m benchmark -s tests/benchmarks/test_app_round_trip.py``. Targets are printed
beside the medians; a busy machine misses them without anything being wrong.
"""

import io
import os
import signal
import socket
import subprocess
import sys
import time

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Error as PlaywrightError

from visualiser.app import jobs
from visualiser.project.samples import create_sample

pytestmark = [pytest.mark.benchmark, pytest.mark.browser]

DRAGS = 12
STARTS = 3
FRAMES = 90
WATCH = """() => {
  window.released = null; window.finished = null;
  document.addEventListener("pointerup", () => {
    window.released = performance.now(); window.finished = null;
  }, true);
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const found = [document, ...roots].map((r) => r.querySelector(".stage")).find(Boolean);
  new MutationObserver(() => {
    if (found.dataset.showing === "finished" && window.released && !window.finished) {
      window.finished = performance.now();
    }
  }).observe(found, { attributes: true });
}"""
# The browser driver waits for each of its own moves; a hand does not. So while the driver holds the
# button, the page itself sends one move a frame to what is held, and takes the time of each frame.
MOVE_EVERY_FRAME = """([x, y, frames]) => new Promise((done) => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const held = roots.map((r) => r.activeElement).find((n) => n?.matches(".grab"));
  const times = [];
  const tick = (now) => {
    times.push(now);
    if (times.length > frames) { done(times); return; }
    held.dispatchEvent(new PointerEvent("pointermove", {
      pointerId: 1, clientX: x + 40 * Math.sin(times.length / 9),
      clientY: y + 30 * Math.sin(times.length / 6),
    }));
    requestAnimationFrame(tick);
  };
  requestAnimationFrame(tick);
})"""


def told(name, values, target, unit="ms"):
    low, median, high = np.percentile(values, [5, 50, 95])
    print(
        f"  {name:34s} {median:8.0f} {unit:4s} ({low:.0f} to {high:.0f}, n = {len(values)})"
        f"   target {target}"
    )
    return median


@pytest.mark.parametrize("what", ["drawn room, 12 megapixels", "sample job"])
def test_drag_save_and_redraw(browser, server, room, what):
    """Release to the saved file, and to the finished picture; frames while a piece is dragged."""
    if what == "sample job":
        job_id = "reading-room-" + "0" * 16
        create_sample("reading-room", server.folder / job_id)
    else:
        data = room.photo(2.5)
        assert Image.open(io.BytesIO(data)).size == (4000, 3000)
        corners = 2.5 * (room.sheet_corners_px() + 0.5) - 0.5
        job_id, project = room.job(photo=data)
        marks = project.document.marks
        reference = marks.reference.model_copy(update={"corners_px": tuple(map(tuple, corners))})
        marks = marks.model_copy(update={"reference": reference})
        project.save(project.document.changed(marks=marks))
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    page = context.new_page()
    page.set_default_timeout(90_000)
    opened = time.perf_counter()
    page.goto(f"{server.url}/?job={job_id}&step=arrange")
    page.wait_for_selector(".stage img.base")
    shown = time.perf_counter() - opened
    page.wait_for_selector(".stage[data-showing=finished]")
    measured = time.perf_counter() - opened
    page.wait_for_timeout(1500)
    page.evaluate(WATCH)
    place = server.folder / job_id / "project.json"
    fps, saved, drawn = [], [], []
    for number in range(DRAGS):
        box = page.locator("g.piece").first.bounding_box()
        x, y = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x, y + 2)
        times = page.evaluate(MOVE_EVERY_FRAME, [x, y, FRAMES])
        fps.append(1000 * (len(times) - 1) / (times[-1] - times[0]))
        way = 1 if number % 2 else -1  # never to a place where it has been: no picture is kept
        page.mouse.move(x + 3 * way * number, y + way * (12 + 2 * number))
        before = place.stat().st_mtime_ns
        released = time.perf_counter()
        page.mouse.up()
        while place.stat().st_mtime_ns == before:
            assert time.perf_counter() - released < 30, "the drag was not saved"
            time.sleep(0.002)
        saved.append(1000 * (time.perf_counter() - released))
        page.wait_for_function("window.finished !== null")
        drawn.append(page.evaluate("window.finished - window.released"))
        page.wait_for_timeout(300)
    context.close()
    print(f"\n{what}: photo shown after {shown:.1f} s, measured and drawn after {measured:.1f} s")
    told("frames a second while dragging", fps, ">= 50", "fps")
    told("release to saved", saved, "<= 200 ms")
    told("release to redrawn picture", drawn, "<= 600 ms")


BARE = """import streamlit
streamlit.button("Open the sample job")
"""


def test_cold_start(browser, tmp_path):
    """From starting the program to the first page that can be used, beside a page of one button.

    The second is what Streamlit and the browser take by themselves, measured by turns.
    """
    (tmp_path / "bare.py").write_text(BARE)
    bare = [sys.executable, "-m", "streamlit", "run", str(tmp_path / "bare.py")]
    bare += ["--server.headless=true", "--server.address=127.0.0.1", "--server.port"]
    ours = [sys.executable, "-m", "visualiser", "app", "--no-browser", "--port"]
    took = {"the app": [], "a page of one button": []}
    for _ in range(STARTS):
        for what, command in zip(took, (ours, bare), strict=True):
            took[what].append(1000 * start(browser, command, tmp_path))
    print()
    told("cold start to the first page", took["the app"], "<= 4000 ms")
    told("the same, a page of one button", took["a page of one button"], "(yardstick)")
    app, button = (np.median(values) for values in took.values())
    print(f"  the app takes {app / button:.2f} times as long as the page of one button")


def start(browser, command, folder):
    """Seconds from a command to its page's button, in a browser that has seen neither."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, jobs.FOLDER_VARIABLE: str(folder)}
    context = browser.new_context()
    page = context.new_page()
    begun = time.perf_counter()
    process = subprocess.Popen(
        [*command, str(port)],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        url = f"http://127.0.0.1:{port}"
        while True:
            assert time.perf_counter() - begun < 60, f"{command[2]} gave no page"
            try:
                page.goto(url)
                break
            except PlaywrightError:
                time.sleep(0.05)
        page.get_by_role("button", name="Open the sample job").wait_for()
        return time.perf_counter() - begun
    finally:
        os.killpg(process.pid, signal.SIGTERM)  # the command and the server it started
        process.wait(10)
        context.close()
