"""A job begun and walked from step to step without a pointer (WCAG 2.2, criteria 2.1.1 and 2.4.3).

At twice the size of everything, as 1.4.4 and 1.4.10 ask for, and asked to keep still: nothing is to
be scrolled sideways, and what is focused is in sight. The larger page is walked in
``test_keyboard_job``. A file is handed to the field itself: the system's own dialogue is outside
the page.
"""

import pytest

from visualiser.app import steps

pytestmark = pytest.mark.browser

MOST_TABS = 60
FOCUSED = """() => {
  let node = document.activeElement;
  while (node?.shadowRoot?.activeElement) node = node.shadowRoot.activeElement;
  const named = node.getAttribute("aria-label") || node.innerText || node.labels?.[0]?.innerText;
  const box = node.getBoundingClientRect();
  const seen = box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth;
  return { role: node.getAttribute("role"), name: (named || "").trim(), seen };
}"""
SIDEWAYS = """() => {
  const main = document.querySelector("[data-testid=stMain]");
  return Math.max(main.scrollWidth - main.clientWidth, document.body.scrollWidth - innerWidth);
}"""


def tab_to(page, name):
    """Press Tab until what is focused bears this name; it must then be in sight."""
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        focused = page.evaluate(FOCUSED)
        if focused["name"] == name:
            assert focused["seen"], f"{name} is focused out of sight"
            return
    raise AssertionError(f"Tab does not reach {name}")


def test_a_job_is_begun_and_walked_through_by_keyboard(page, server, room, tmp_path):
    page.set_viewport_size({"width": 640, "height": 400})  # what 1280 x 800 shows at 200 %
    page.emulate_media(reduced_motion="reduce")
    page.goto(server.url)
    page.get_by_label("Name of the job").wait_for()
    tab_to(page, "Name of the job")
    page.keyboard.type("By keys")
    page.keyboard.press("Enter")
    photo = tmp_path / "hall.jpg"
    photo.write_bytes(room.photo())
    page.locator("input[type=file]").first.set_input_files(photo)
    page.wait_for_selector(".stage")

    # The first page has gone with what was focused on it: the browser goes on from anywhere.
    page.get_by_role("radio", name=f"1 {steps.ALL[0].title}").focus()
    for number, step in enumerate(steps.ALL[1:], 2):
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Space")
        page.get_by_role("heading", name=step.title, exact=True, level=2).wait_for()
        # The row of steps keeps the focus, so that the next arrow goes on from here.
        page.wait_for_function(
            "name => document.activeElement.innerText.trim() === name", arg=f"{number} {step.title}"
        )
        assert page.evaluate(SIDEWAYS) <= 0, f"{step.title} is wider than the page"
