"""Every wait that the app names, by itself: from what a person does to the state that ends it.

Run with ``python -m tests.benchmarks.test_named_waits`` on a quiet machine (or by pytest with
``-m benchmark -s``). A photo of 12 megapixels, six pieces; each round has a photo that the server
has not seen. No wait is guessed at: each ends with something that the page shows, a file that is
saved, or frames that the browser itself has counted.
"""

import re
import sys
import time
from collections import defaultdict

import numpy as np
import pytest

from tests.benchmarks.test_app_round_trip import FRAMES, MOVE_EVERY_FRAME

pytestmark = [pytest.mark.benchmark, pytest.mark.browser, pytest.mark.timeout(1200)]

ROUNDS = 3
PIECES = 6
PATIENCE_MS = 240_000
FINISHED = ".stage[data-showing=finished]"
SHOWN = """() => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const base = roots.map((r) => r.querySelector(".stage img.base")).find(Boolean);
  return Boolean(base?.complete && base.naturalWidth);
}"""
PAPERS = {
    "approve": ("the approval sheet", "the whole job as a zip"),
    "hang": ("the measured plan", "templates at true size"),
}
TARGETS_S = {
    "photo shown": 1.0,
    "wall measured": 3.0,
    f"{PIECES} pieces proposed for": 1.5,
    "mock-up drawn": 1.0,
    **{label: 2.0 for labels in PAPERS.values() for label in labels},
}
SIXTY_A_SECOND_MS = 1000 / 60


def unseen_photo(room, number):
    """The drawn room in 12 megapixels, as a file that differs from every other round's."""
    return room.photo(2.5) + bytes(number + 1)  # what follows a JPEG's end shows nothing


class Clock:
    """Times from an act to a state."""

    def __init__(self):
        self.took_s = defaultdict(list)

    def wait(self, name, act, reached):
        begun = time.perf_counter()
        act()
        reached()
        self.took_s[name].append(time.perf_counter() - begun)


def one_round(page, url, room, folder, number, clock):
    """A job from the dropped photo to its papers; gives the times of the frames of one drag, ms."""
    photo = folder / f"wall-{number}.jpg"
    photo.write_bytes(unseen_photo(room, number))
    pictures = []
    for k in range(PIECES):
        pictures.append(folder / f"piece-{number}-{k}.png")
        pictures[-1].write_bytes(room.artwork(100 * number + k))

    page.goto(url)
    field = page.locator("input[type=file]").first
    field.wait_for(state="attached")
    begun = time.perf_counter()
    clock.wait(
        "photo shown", lambda: field.set_input_files(photo), lambda: page.wait_for_function(SHOWN)
    )
    page.get_by_text("Good to").first.wait_for()
    clock.took_s["wall measured"].append(time.perf_counter() - begun)

    def go_to(title):
        page.get_by_role("radio", name=re.compile(rf"^\d {title}\b")).click()
        page.get_by_role("heading", name=title, exact=True, level=2).wait_for()

    go_to("Pieces")
    page.locator("input[type=file]").first.set_input_files(pictures)
    page.get_by_role("textbox", name=re.compile("width")).nth(PIECES - 1).wait_for()
    proposal = page.get_by_role("button", name="Take the proposal").first
    clock.wait(f"{PIECES} pieces proposed for", lambda: go_to("Arrange"), proposal.wait_for)
    clock.wait("mock-up drawn", proposal.click, lambda: page.wait_for_selector(FINISHED))
    frames = frames_of_a_drag(page)
    page.wait_for_selector(FINISHED)
    for title, labels in (("Approve", PAPERS["approve"]), ("Hang", PAPERS["hang"])):
        go_to(title)
        for label in labels:
            button = page.get_by_role("button", name=f"Make {label}")
            button.wait_for()
            begun = time.perf_counter()
            with page.expect_download(timeout=PATIENCE_MS):
                button.click()
            clock.took_s[label].append(time.perf_counter() - begun)
    return frames


def frames_of_a_drag(page):
    """Times between the frames that the browser drew while a piece was dragged about, ms."""
    box = page.locator("g.piece").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + 2)
    times = page.evaluate(MOVE_EVERY_FRAME, [x, y, FRAMES])
    page.mouse.move(x, y)
    page.mouse.up()
    return np.diff(times)


def told(clock, frames):
    """Print every wait beside what is asked of it."""
    print()
    for name, values in clock.took_s.items():
        best, middle, worst = np.percentile(values, [0, 50, 100])
        print(
            f"  {name:28s} {middle:6.2f} s ({best:.2f} to {worst:.2f}, n = {len(values)})"
            f"   asked {TARGETS_S[name]:.1f} s"
        )
    late = np.mean(frames > 1.5 * SIXTY_A_SECOND_MS)
    print(
        f"  {'a frame of a drag':28s} {np.median(frames):6.1f} ms (95th percentile "
        f"{np.percentile(frames, 95):.1f}, {100 * late:.0f} % came a frame late, n = "
        f"{len(frames)})   asked {SIXTY_A_SECOND_MS:.1f} ms"
    )


def test_named_waits(browser, server, room, tmp_path):
    clock, frames = Clock(), []
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    page = context.new_page()
    page.set_default_timeout(PATIENCE_MS)
    for number in range(ROUNDS):
        frames.append(one_round(page, server.url, room, tmp_path, number, clock))
    context.close()
    assert set(clock.took_s) == set(TARGETS_S)
    told(clock, np.concatenate(frames))


if __name__ == "__main__":
    sys.exit(pytest.main(["-m", "benchmark", "-s", "-p", "no:xdist", __file__]))
