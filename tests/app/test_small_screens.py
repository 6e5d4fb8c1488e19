"""Phone and tablet: the wall stays in sight without taking the screen, the steps say they go on."""

import pytest

from tests.app.conftest import wait_still

pytestmark = pytest.mark.browser

MAIN = "document.querySelector('[data-testid=stMain]')"
STAGE = """() => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const stage = roots.map((r) => r.querySelector(".stage")).find(Boolean);
  const box = stage.getBoundingClientRect();
  return { top: box.top, high: box.height, whole: stage.parentElement.offsetHeight };
}"""
SMALL = f"share => ({STAGE})().high <= share * innerHeight + 1"
MORE = "document.querySelector('.st-key-top-steps [data-more]')?.dataset.more"
OVERFLOW = f"[{MAIN}.scrollHeight - {MAIN}.clientHeight, {MAIN}.scrollWidth - {MAIN}.clientWidth]"


def open_wall(page, server, room, size):
    job_id, _ = room.typed_job()
    page.set_viewport_size(dict(zip(("width", "height"), size, strict=True)))
    page.goto(f"{server.url}/?job={job_id}&step=wall")
    page.get_by_role("heading", name="Wall", exact=True, level=2).wait_for()
    page.wait_for_selector(".stage")
    wait_still(page)


def test_on_a_phone_the_wall_shrinks_as_the_page_is_scrolled(page, server, room):
    open_wall(page, server, room, (390, 844))
    before = page.evaluate(STAGE)
    long, wide = page.evaluate(OVERFLOW)
    assert long > before["whole"]  # there is enough below it to scroll past
    assert wide <= 0
    page.evaluate(f"{MAIN}.scrollTo(0, {MAIN}.scrollHeight)")
    page.wait_for_function(SMALL, arg=0.2)
    after = page.evaluate(STAGE)
    assert after["top"] == pytest.approx(0, abs=1.5)  # still in sight, at the head of the page
    assert after["whole"] == before["whole"]  # so that nothing below it has jumped
    page.get_by_role("button", name="Back to the whole wall").click()
    page.wait_for_function(f"() => {MAIN}.scrollTop === 0")
    page.wait_for_function(f"high => Math.abs(({STAGE})().high - high) < 1", arg=before["high"])


def test_the_row_of_steps_shows_that_it_goes_on(page, server, room):
    open_wall(page, server, room, (390, 844))
    page.wait_for_function(f"() => {MORE} === 'right'")
    page.get_by_role("radio", name="9 Check").focus()
    page.keyboard.press("Space")
    page.wait_for_function(f"() => {MORE} === 'left'")


def test_on_a_tablet_the_page_itself_does_not_scroll(page, server, room):
    open_wall(page, server, room, (1024, 768))
    assert page.evaluate(OVERFLOW) == [0, 0]


def test_at_twice_its_size_the_step_begins_in_sight(page, server, room):
    """WCAG 2.2, 1.4.4: a page of 1440 × 900 at 200 % has 720 × 450 px."""
    open_wall(page, server, room, (720, 450))
    heading = page.get_by_role("heading", name="Wall", exact=True, level=2).bounding_box()
    foot = page.locator(".st-key-next-step").bounding_box()
    assert heading["y"] + 1.5 * heading["height"] <= foot["y"]
    assert page.evaluate(OVERFLOW)[1] <= 0
