"""Whether people with other eyes and hands can use the pages: axe-core's rules, run in Chromium."""

import io
import tomllib

import numpy as np
import pytest
from PIL import Image

from tests.app.conftest import ROOT, wait_still
from tests.app.from_npm import unpacked

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    return (unpacked("axe-core@4", tmp_path_factory.mktemp("axe")) / "axe.min.js").read_text()


def bare_photo():
    buffer = io.BytesIO()
    Image.fromarray(np.full((600, 800, 3), 150, np.uint8)).save(buffer, "JPEG")
    return buffer.getvalue()


STEPS = ["", "photo", "wall", "pieces", "colours", "arrange", "mockup", "approve", "hang", "check"]
ON_GROUND = """([red, green, blue]) => {
  const app = document.querySelector("[data-testid=stApp]");
  return getComputedStyle(app).backgroundColor === `rgb(${red}, ${green}, ${blue})`;
}"""


def grounds():
    """What the page's ground is set to, light and dark, as red, green, blue."""
    theme = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text())["theme"]
    codes = {name: theme[name]["backgroundColor"] for name in ("light", "dark")}
    assert codes["light"] != codes["dark"]
    return {name: [int(code[k : k + 2], 16) for k in (1, 3, 5)] for name, code in codes.items()}


def obstacles(page):
    """What axe finds on a page as it is, light and dark."""
    told = {}
    for theme, ground in grounds().items():
        page.emulate_media(color_scheme=theme)
        page.wait_for_function(ON_GROUND, arg=ground)  # the theme did change
        wait_still(page)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        told[theme] = [
            (v["id"], v["nodes"][0]["html"], v["nodes"][0]["failureSummary"])
            for v in found
            if v["impact"] in ("serious", "critical")
        ]
    return told


@pytest.mark.timeout(600)
def test_no_grave_obstacles(page, server, room, axe):
    """Every page, light and dark: the theme follows what the system asks for, without a reload."""
    job_id, _ = room.job(quick=True)
    page.emulate_media(reduced_motion="reduce")  # what fades is judged as it is in the end
    grave = {}
    for step in STEPS:
        page.goto(f"{server.url}/?job={job_id}&step={step}" if step else server.url)
        if step:
            page.wait_for_selector(".stage")
        if step in ("colours", "arrange", "mockup", "approve", "hang", "check"):
            # The first drawing measures the wall too; this test is not about how long that takes.
            page.wait_for_selector(".stage[data-showing=finished]", timeout=240_000)
        page.locator("h1, h2").first.wait_for()
        page.evaluate(axe)
        grave |= {(step, theme): issues for theme, issues in obstacles(page).items()}
    assert not {where: issues for where, issues in grave.items() if issues}


def show_bar(page):
    """Choose a piece and open the field of its exact place."""
    piece = page.locator("g.piece").first
    piece.focus()
    piece.press("Enter")
    page.get_by_role("button", name="Exact place").click()
    page.get_by_label("Centre from the side").wait_for()


def show_proposals(page):
    page.get_by_role("button", name="Propose").click()
    page.get_by_role("button", name="Take the proposal").first.wait_for(timeout=240_000)


def show_client(page):
    page.get_by_role("button", name="Show the client").click()
    page.get_by_role("dialog").get_by_role("button", name="Close").wait_for()


@pytest.mark.timeout(600)
@pytest.mark.parametrize(
    ("step", "opens"),
    [("arrange", show_bar), ("arrange", show_proposals), ("approve", show_client)],
    ids=["a piece's bar", "proposals", "the client's show"],
)
def test_no_grave_obstacles_in_what_opens(page, server, room, axe, step, opens):
    job_id, _ = room.job(quick=True)
    page.emulate_media(reduced_motion="reduce")
    page.goto(f"{server.url}/?job={job_id}&step={step}")
    page.wait_for_selector(".stage[data-showing=finished]", timeout=240_000)
    wait_still(page)
    opens(page)
    page.evaluate(axe)
    assert not any(obstacles(page).values())


def test_no_grave_obstacles_where_a_sheet_is_asked_for(page, server, room, axe):
    """A photo without a sheet: the error, the question or the corners to be placed."""
    job_id, _ = room.job(photo=bare_photo(), corners=False, arranged=False)
    page.emulate_media(reduced_motion="reduce")
    page.goto(f"{server.url}/?job={job_id}&step=wall")
    page.get_by_text("Set the four corners by hand").wait_for(timeout=240_000)
    wait_still(page)
    page.evaluate(axe)
    assert not any(obstacles(page).values())
