"""Whether people with other eyes and hands can use the pages: axe-core's rules, run in Chromium."""

import pytest

from tests.app.from_npm import unpacked

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def axe(tmp_path_factory):
    return (unpacked("axe-core@4", tmp_path_factory.mktemp("axe")) / "axe.min.js").read_text()


STEPS = ["", "photo", "wall", "pieces", "colours", "arrange", "mockup", "approve", "hang", "check"]
GROUND = "node => getComputedStyle(node).backgroundColor"


@pytest.mark.timeout(600)
def test_no_grave_obstacles(page, server, room, axe):
    """Every page, light and dark: the theme follows what the system asks for, without a reload."""
    job_id, _ = room.job(quick=True)
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
        grounds = set()
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            quiet(page)
            found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
            grave[step, theme] = [
                (v["id"], v["nodes"][0]["html"], v["nodes"][0]["failureSummary"])
                for v in found
                if v["impact"] in ("serious", "critical")
            ]
            grounds.add(page.eval_on_selector("[data-testid=stApp]", GROUND))
        assert len(grounds) == 2  # the theme did change
    assert not {where: issues for where, issues in grave.items() if issues}


def quiet(page):
    """Wait until nothing is being drawn anew: what is stale is shown faded on purpose."""
    page.wait_for_timeout(700)
    page.wait_for_selector("[data-testid=stApp][data-test-script-state=notRunning]")
    page.wait_for_function("!document.querySelector('[data-stale=true]')")
    page.wait_for_timeout(600)
