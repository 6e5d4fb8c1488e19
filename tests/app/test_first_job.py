"""A whole job on a sample photo by somebody new to it: few presses, and always a way on in sight.

From the photo to the check of what hangs, with a mouse on a desktop's page and with a finger on a
phone's. Twelve presses beside typing sizes are the design's own limit, no standard's; to open a
dialogue of files counts as one.
"""

import re

import pytest

from tests.app.conftest import ROOT, wait_still
from visualiser.app import jobs

pytestmark = [pytest.mark.browser, pytest.mark.timeout(600)]

SAMPLES = ROOT / "sample_photos"
MOST_PRESSES = 12
LONG_MS = 240_000
LARGE_ENOUGH_PX = 24  # WCAG 2.2, 2.5.8 (AA)
SIZES = {"Pears and jug": "600 x 460", "Arches": "360 x 460", "Half rounds": "360 x 460"}


class Newcomer:
    """One who presses only what is there to be seen."""

    def __init__(self, page, touch):
        self.page, self.touch, self.presses = page, touch, []

    def press(self, what, name):
        what.wait_for(timeout=LONG_MS)
        wait_still(self.page)
        what.scroll_into_view_if_needed()
        box = what.bounding_box()
        if self.touch:
            assert min(box["width"], box["height"]) >= LARGE_ENOUGH_PX, name
        (what.tap if self.touch else what.click)()
        self.presses.append(name)

    def button(self, name, exact=False):
        self.press(self.page.get_by_role("button", name=name, exact=exact).first, name)

    def hand_in(self, label, files):
        field = self.page.get_by_role("group", name=label).or_(
            self.page.get_by_test_id("stFileUploader").filter(has_text=label)
        )
        upload = field.first.get_by_test_id("stBaseButton-secondary")
        with self.page.expect_file_chooser() as chooser:
            self.press(upload, f"Upload: {label}")
        chooser.value.set_files(files)

    def way_on(self, name):
        """See the way on without scrolling."""
        wait_still(self.page)
        button = self.page.get_by_role("button", name=name)
        box, view = button.bounding_box(), self.page.viewport_size
        assert 0 <= box["y"] <= view["height"] - box["height"], f"{name} is out of sight"
        return button


@pytest.mark.parametrize(
    ("size", "touch"), [((1440, 900), False), ((390, 844), True)], ids=["desktop", "phone"]
)
def test_a_whole_job_in_few_presses(browser, server, size, touch):
    view = dict(zip(("width", "height"), size, strict=True))
    context = browser.new_context(viewport=view, has_touch=touch, is_mobile=touch)
    page = context.new_page()
    page.set_default_timeout(60_000)
    person = Newcomer(page, touch)
    page.goto(server.url)
    page.get_by_label("Name of the job").wait_for()
    person.hand_in("Photo of the wall", [SAMPLES / "photos" / "breakfast-room.jpg"])

    page.get_by_text("Good to").wait_for(timeout=LONG_MS)
    job_id = re.search(r"job=([^&]+)", page.url)[1]
    document = lambda: jobs.find_job(job_id).document  # noqa: E731
    page.get_by_role("textbox", name="Height of the sheet's lower edge").fill("1301 mm")
    page.keyboard.press("Enter")
    person.button("1 is right")
    page.get_by_text("Marked: furniture").wait_for()
    person.press(person.way_on("Next: Pieces"), "Next: Pieces")

    pictures = [SAMPLES / "artworks" / f"{name.lower().replace(' ', '-')}.jpg" for name in SIZES]
    person.hand_in("Drop pictures", pictures)
    for name, typed in SIZES.items():
        field = page.get_by_role("textbox", name=f"{name}: outside width")
        field.fill(typed)
        field.press("Enter")
        wait_still(page)
    sizes = {(piece.width_mm, piece.height_mm) for piece in document().pieces}
    assert sizes == {(600, 460), (360, 460)}
    person.press(person.way_on("Next: Arrange"), "Next: Arrange")

    person.way_on("Next: Approve")
    person.button(re.compile("^Take the proposal"))
    page.wait_for_selector(".stage[data-showing=finished]", timeout=LONG_MS)
    person.press(person.way_on("Next: Approve"), "Next: Approve")
    with page.expect_download(timeout=LONG_MS) as sheet:
        person.button("Make the approval sheet")
    assert sheet.value.path().read_bytes().startswith(b"%PDF")
    person.press(person.way_on("Next: Hang"), "Next: Hang")

    person.press(page.get_by_role("radio", name="brick or block"), "brick or block")
    page.get_by_text("in the wall. Tap a hook").wait_for()
    person.way_on("Next: Check")
    with page.expect_download(timeout=LONG_MS) as papers:
        person.button("Make the plan and the templates")
    assert papers.value.path().read_bytes().startswith(b"PK")
    hung = [SAMPLES / "photos" / "breakfast-room-hung.jpg"]
    person.hand_in("Photo of the hung group", hung)
    page.get_by_role("heading", name="Check", exact=True, level=2).wait_for()
    page.get_by_role("heading", name="What to nudge").wait_for(timeout=LONG_MS)
    assert document().wall.kind == "brick"
    assert len(person.presses) <= MOST_PRESSES, person.presses
    context.close()
