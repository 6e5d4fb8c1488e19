"""The whole job by someone who has never seen the page: taps counted, waits timed, no dead end.

Run with ``pytest -m benchmark -s tests/benchmarks/test_time_whole_job.py``. The person goes where
the page points: to what stands in the first place, and else to "Next". Typing a size is no tap; all
else that is clicked, tapped or dropped is one. The hands are a script's: what is timed is how long
the program makes a person wait.
"""

import io
import re
import time
import zipfile

import pytest

from visualiser.photo.encoding import encode_jpeg
from visualiser.project.samples import sample_folder
from visualiser.rendering.compositing import render_mockup
from visualiser.rendering.mockup import MockupOptions

pytestmark = [pytest.mark.benchmark, pytest.mark.browser, pytest.mark.timeout(900)]

FINISHED = ".stage[data-showing=finished]"
ARTWORKS = ("fern", "reeds", "pebbles", "alder-twig", "night-water")
MOST_TAPS = 12
LONGEST_S = 600.0
SIZES = {"desktop": (1440, 900), "phone": (390, 844)}


class FirstTimer:
    """Hands that tap what they see, by mouse or by finger, and a clock beside them."""

    def __init__(self, page, by_touch):
        self.page, self.by_touch = page, by_touch
        self.taps, self.counted = 0, 0
        self.begun = self.last = time.perf_counter()
        self.laps = []

    def tap(self, target):
        target.wait_for()
        target.scroll_into_view_if_needed()
        target.tap() if self.by_touch else target.click()
        self.taps += 1

    def drop(self, target, files):
        """Choose files in the system's dialogue: one tap on what opens it."""
        target.set_input_files(files)
        self.taps += 1

    def type_size(self, label, size):
        field = self.page.get_by_role("textbox", name=label)
        field.wait_for()
        field.fill(size)
        field.press("Enter")

    def go_on(self, title):
        """Follow the page's own way on, which must lead there and be in sight."""
        way = self.page.locator(".st-key-next-step button")
        way.filter(has_text=f"Next: {title}").wait_for()
        box, view = way.bounding_box(), self.page.viewport_size
        assert box["y"] >= 0, "the way on has scrolled out of sight"
        assert box["y"] + box["height"] <= view["height"] + 1, "the way on lies below the screen"
        self.tap(way)
        self.page.get_by_role("heading", name=title, exact=True).wait_for()

    def saved(self, label):
        with self.page.expect_download() as waiting:
            self.tap(self.page.get_by_role("button", name=f"Make {label}"))
        return waiting.value.path().read_bytes()

    def lap(self, name):
        now = time.perf_counter()
        self.laps.append((name, now - self.last, self.taps - self.counted))
        self.last, self.counted = now, self.taps

    def pause(self, work):
        """Do what is no part of the job, with the clock stopped."""
        since = time.perf_counter()
        value = work()
        gone = time.perf_counter() - since
        self.begun, self.last = self.begun + gone, self.last + gone
        return value

    def table(self):
        print()
        for name, seconds, taps in self.laps:
            print(f"  {name:46s} {seconds:6.1f} s  {taps:2d} taps")
        total = self.last - self.begun
        print(f"  {'the whole job':46s} {total:6.1f} s  {self.taps:2d} taps", end="")
        print(f"   at most {LONGEST_S:.0f} s, {MOST_TAPS} taps")
        return total


def until(condition, patience_s=90):
    deadline = time.monotonic() + patience_s
    while not condition():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.05)


def hung_as_planned(project, place):
    """The pieces exactly where they were planned, drawn: the check is timed here, not judged."""
    options = MockupOptions(hide_reference=False)
    hung = render_mockup(project.photo(), project.survey(), project.arrangement(), options)
    place.write_bytes(encode_jpeg(hung.pixels, quality=93))
    return place


@pytest.fixture(params=sorted(SIZES))
def first_timer(request, browser):
    width, height = SIZES[request.param]
    by_touch = request.param == "phone"
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=by_touch, is_mobile=by_touch
    )
    page = context.new_page()
    page.set_default_timeout(120_000)
    yield FirstTimer(page, by_touch)
    context.close()


def test_a_whole_job_by_a_first_time_user(first_timer, server, tmp_path):
    one, page = first_timer, first_timer.page
    samples = sample_folder()

    page.goto(server.url)
    page.get_by_label("Name of the job").fill("Reading room")
    page.get_by_label("Name of the job").press("Enter")
    one.lap("start page")
    one.drop(page.locator("input[type=file]").first, samples / "photos/reading-room.jpg")
    page.wait_for_selector(".stage")
    job_id = re.search(r"job=([^&]+)", page.url)[1]
    document = lambda: server.project(job_id).document  # noqa: E731
    one.lap("photo dropped and shown")
    page.get_by_text("Good to").wait_for()
    one.lap("wall measured")
    one.type_size("Height of the sheet's lower edge above the floor", "1331 mm")
    until(lambda: document().marks.reference_height_mm == 1331)
    page.get_by_text("What stands before the wall?").first.wait_for()
    one.lap("height of the sheet typed")
    found = page.locator(".shape .offered")
    found.first.wait_for()
    one.tap(found.first)
    until(lambda: document().marks.furniture or document().marks.zones)
    one.lap("what was found in the photo taken")

    one.go_on("Pieces")
    pictures = [samples / f"artworks/{name}.jpg" for name in ARTWORKS]
    one.drop(page.locator("input[type=file]").first, pictures)
    until(lambda: len(document().pieces) == len(ARTWORKS))
    one.lap("five artworks dropped")
    named = document().pieces[0].name
    one.type_size(re.compile(rf"^{re.escape(named)}: width"), "320 x 420")
    until(lambda: document().pieces[0].width_mm == 320)
    one.lap("a size typed")

    one.go_on("Arrange")
    proposal = page.get_by_role("button", name="Take the proposal").first
    proposal.wait_for()
    one.lap("arrangements proposed")
    one.tap(proposal)
    page.wait_for_selector(FINISHED)
    one.lap("one taken and drawn")

    one.go_on("Approve")
    assert one.saved("the approval sheet").startswith(b"%PDF")
    one.lap("approval sheet")

    one.go_on("Hang")
    page.get_by_text("Hooks, in the order of hanging").wait_for()
    one.lap("hooks, loads and cautions")
    papers = zipfile.ZipFile(io.BytesIO(one.saved("the plan and the templates")))
    assert all(papers.read(name).startswith(b"%PDF") for name in papers.namelist())
    assert len(papers.namelist()) == 2
    one.lap("measured plan and templates")

    project = server.project(job_id)
    photo = one.pause(lambda: hung_as_planned(project, tmp_path / "hung.jpg"))
    one.go_on("Check")
    one.drop(page.locator("input[type=file]").first, photo)
    page.get_by_text(re.compile("hangs as planned|What to nudge|Nothing to nudge")).wait_for()
    one.lap("photo of the hung group compared")

    assert one.table() < LONGEST_S
    assert one.taps <= MOST_TAPS
