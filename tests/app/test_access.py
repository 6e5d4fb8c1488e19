"""Whether people with other eyes and hands can use the pages: axe-core's rules, run in Chromium."""

import tomllib

import pytest

from tests.app.conftest import ROOT, wait_still
from tests.app.from_npm import unpacked

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    return (unpacked("axe-core@4", tmp_path_factory.mktemp("axe")) / "axe.min.js").read_text()


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
        for theme, ground in grounds().items():
            page.emulate_media(color_scheme=theme)
            page.wait_for_function(ON_GROUND, arg=ground)  # the theme did change
            wait_still(page)
            found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
            grave[step, theme] = [
                (v["id"], v["nodes"][0]["html"], v["nodes"][0]["failureSummary"])
                for v in found
                if v["impact"] in ("serious", "critical")
            ]
    assert not {where: issues for where, issues in grave.items() if issues}
