"""The whole road in a real browser: from the dropped photo to the exported job."""

import re
import time

import numpy as np
import pytest

import visualiser as vis
from visualiser.app import scene
from visualiser.app.results import PREVIEW_PX
from visualiser.project.exchange import import_zip
from visualiser.units import format_length

pytestmark = pytest.mark.browser

FINISHED = ".stage[data-showing=finished]"
PALM = """([x, y]) => {
  const roots = [...document.querySelectorAll("*")].map((n) => n.shadowRoot).filter(Boolean);
  const piece = roots.map((r) => r.querySelector("g.piece")).find(Boolean);
  const palm = { pointerId: 77, pointerType: "touch", clientX: x, clientY: y, bubbles: true };
  piece.dispatchEvent(new PointerEvent("pointermove", palm));
}"""


def open_step(page, server, job_id, step):
    page.goto(f"{server.url}/?job={job_id}&step={step}")
    page.wait_for_selector(".stage")


def go_to(page, title):
    # A step that is done has its tick in its name, by then or not yet.
    page.get_by_role("radio", name=re.compile(rf"^\d {title}\b")).click()
    page.get_by_role("heading", name=title, exact=True).wait_for()


def centre(locator):
    """Middle of what is shown, waited for where the page is being drawn anew."""
    boxes = []

    def laid_out():
        boxes.append(locator.bounding_box())
        return boxes[-1] is not None

    until(laid_out)
    box = boxes[-1]
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def until(condition, patience_s=90):
    deadline = time.monotonic() + patience_s
    while not condition():
        if time.monotonic() > deadline:
            raise TimeoutError("waited in vain")
        time.sleep(0.05)


def drag(page, start, shift, steps=12):
    page.mouse.move(*start)
    page.mouse.down()
    for k in range(1, steps + 1):
        page.mouse.move(start[0] + shift[0] * k / steps, start[1] + shift[1] * k / steps)
    page.mouse.up()


UNDER_POINTER = """(node, [x, y]) => {
  const hit = node.getRootNode().elementFromPoint(x, y);
  return node.contains(hit);
}"""


def carry(page, node, shift, steps=12):
    """Drag a thing from its middle, once the page has come to rest with it under the pointer."""

    def under_pointer():
        page.mouse.move(*centre(node))
        return node.evaluate(UNDER_POINTER, list(centre(node)))

    until(under_pointer)
    start = centre(node)
    drag(page, start, shift, steps)
    return start


def places(server, job_id):
    option = server.project(job_id).document.option()
    return {p.piece_id: np.array([p.x_mm, p.y_mm]) for p in option.placements}


def screen_to_photo(page, point):
    """Screen point to photo px, from where the overlay lies on the screen."""
    box = page.locator(".world").bounding_box()
    size = page.eval_on_selector("svg.overlay", "s => s.viewBox.baseVal.width")
    return (np.array(point) - [box["x"], box["y"]]) * size / box["width"] - 0.5


def on_wall(survey, point_px, stand_off_mm):
    """Survey mm seen at a photo point, on a plane that far before the wall: ray meets plane."""
    plane = survey.plane
    ray = np.append(plane.lens.to_rays(np.array([point_px]))[0], 1.0)
    origin = plane.translation_mm + stand_off_mm * plane.rotation[:, 2]
    x, y, w = np.linalg.solve(np.c_[plane.rotation[:, :2], origin], ray)
    return np.array([x / w, y / w]) - survey.datum_mm


def test_the_whole_road(page, server, room, tmp_path):
    page.goto(server.url)
    page.get_by_label("Name of the job").fill("Stair hall")
    page.get_by_label("Name of the job").press("Enter")
    photo = tmp_path / "hall.jpg"
    photo.write_bytes(room.photo())
    page.locator("input[type=file]").first.set_input_files(photo)
    page.wait_for_selector(".stage")
    job_id = re.search(r"job=([^&]+)", page.url)[1]

    go_to(page, "Wall")
    page.get_by_text("Good to").wait_for()
    found = server.project(job_id)
    plane = vis.fit_wall_plane(
        found.photo(), vis.find_references(found.photo(), "a4"), found.document.marks.marks()
    )
    np.testing.assert_allclose(plane.reference_corners_px, room.sheet_corners_px(), atol=1.0)

    page.get_by_text("Set the four corners by hand").click()
    page.locator(".handle").first.wait_for()
    until(lambda: server.project(job_id).document.marks.reference.corners_px is not None)
    before = np.array(server.project(job_id).document.marks.reference.corners_px)
    start = carry(page, page.locator(".handle").first, (-6, -4))
    moved = lambda: np.array(server.project(job_id).document.marks.reference.corners_px)  # noqa: E731
    until(lambda: not np.allclose(moved(), before))
    expected = before[0] + (
        screen_to_photo(page, (start[0] - 6, start[1] - 4)) - screen_to_photo(page, start)
    )
    np.testing.assert_allclose(moved()[0], expected, atol=0.2)
    np.testing.assert_allclose(moved()[1:], before[1:], atol=1e-3)  # sent to 0.001 px
    page.get_by_role("button", name="Undo").click()
    until(lambda: np.allclose(moved(), before))

    go_to(page, "Pieces")
    pictures = []
    for number in range(3):
        picture = tmp_path / f"picture-{number}.png"
        picture.write_bytes(room.artwork(number))
        pictures.append(picture)
    page.locator("input[type=file]").first.set_input_files(pictures)
    until(lambda: len(server.project(job_id).document.pieces) == 3)

    go_to(page, "Arrange")
    # Proposals are looked for by themselves; to rest on one shows it on the wall, a tap takes it.
    proposal = page.get_by_role("button", name="Take the proposal").first
    proposal.wait_for(timeout=240_000)  # this test is not about how long that takes
    proposal.hover()
    until(lambda: page.locator("g.piece").count() == 3)
    assert not server.project(job_id).document.options
    proposal.click()
    until(lambda: server.project(job_id).document.options)
    page.wait_for_selector(FINISHED)

    check_dragging(page, server, job_id)

    go_to(page, "Approve")
    page.get_by_role("button", name="Make the whole job as a zip").click()
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save the whole job as a zip").click()
    exported = import_zip(waiting.value.path().read_bytes(), tmp_path / "exported")
    again = {p.piece_id: (p.x_mm, p.y_mm) for p in exported.document.option().placements}
    for piece_id, place in places(server, job_id).items():
        np.testing.assert_allclose(again[piece_id], place, atol=0.5)
    assert all(p.artwork is not None for p in vis.open_project(tmp_path / "exported").pieces())


def check_dragging(page, server, job_id):
    """Mouse, keyboard and undo; places are where the pointer was let go, through the same lens."""
    survey = server.project(job_id).survey()
    piece = server.project(job_id).pieces()[0]
    before = places(server, job_id)
    node = page.locator("g.piece").first
    page.keyboard.down("Alt")  # no snapping: the place is the pointer's alone
    start = carry(page, node, (-25, -40))
    page.keyboard.up("Alt")
    until(lambda: not np.allclose(places(server, job_id)["p1"], before["p1"]))
    after = places(server, job_id)
    grip, rest = (
        on_wall(survey, screen_to_photo(page, p), piece.stand_off_mm)
        for p in (start, (start[0] - 25, start[1] - 40))
    )
    np.testing.assert_allclose(after["p1"] - before["p1"], rest - grip, atol=0.5)
    page.wait_for_selector(FINISHED)

    node.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowUp")
    until(lambda: not np.allclose(places(server, job_id)["p1"], after["p1"]))
    np.testing.assert_allclose(places(server, job_id)["p1"] - after["p1"], [1, 10], atol=1e-6)
    page.get_by_role("button", name="Undo").click()
    until(lambda: np.allclose(places(server, job_id)["p1"], after["p1"]))


def test_the_browser_draws_where_the_core_measures(page, server, room):
    """The overlay's outlines against Survey.project: the two mappings are separate code."""
    job_id, project = room.job()
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    survey, arrangement = project.survey(), project.arrangement()
    for index, piece in enumerate(arrangement.pieces):
        drawn = page.locator("g.piece .outline").nth(index).get_attribute("d")
        numbers = np.array(re.findall(r"-?[\d.]+", drawn), float).reshape(-1, 2)[::6]
        corners = arrangement.rect(piece.id).corners()
        expected = survey.project(np.c_[corners, np.full(4, piece.stand_off_mm)])
        np.testing.assert_allclose(numbers, expected, atol=0.02)
    assert scene.mapping_of(survey)["focal_px"] == survey.plane.lens.focal_px
    assert PREVIEW_PX <= 2048


def heights(page):
    """How high each piece hangs, as the page says it."""
    labels = page.locator("g.piece").evaluate_all("all => all.map((g) => g.ariaLabel)")
    return [re.search(r"side, (.+?) high", label)[1] for label in labels]


def test_two_windows_on_one_job(page, server, room):
    """Each shows by itself what was done in the other, and neither loses anything."""
    job_id, _ = room.job()
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    other = page.context.new_page()
    open_step(other, server, job_id, "arrange")
    other.wait_for_selector(FINISHED)
    before = places(server, job_id)
    carry(page, page.locator("g.piece").first, (0, -30))
    carry(other, other.locator("g.piece").last, (20, 30))
    until(lambda: all(not np.allclose(places(server, job_id)[i], before[i]) for i in ("p1", "p3")))
    after = places(server, job_id)
    wanted = [format_length(after[i][1], "mm") for i in sorted(after)]
    for window in (page, other):
        until(lambda w=window: heights(w) == wanted)
        assert window.get_by_text("saved elsewhere").count() == 0
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Undo").click()
    until(lambda: all(np.allclose(places(server, job_id)[i], before[i]) for i in before))
    wanted = [format_length(before[i][1], "mm") for i in sorted(before)]
    until(lambda: heights(other) == wanted)


def test_a_name_counts_while_its_field_is_still_under_the_keyboard(page, server, room, tmp_path):
    page.goto(server.url)
    page.get_by_label("Name of the job").click()
    page.wait_for_function("globalThis.visualiserTypedNames")
    page.keyboard.type("Typed in haste")
    photo = tmp_path / "hall.jpg"
    photo.write_bytes(room.photo())
    page.locator("input[type=file]").first.set_input_files(photo)
    page.wait_for_selector(".stage")
    job_id = re.search(r"job=([^&]+)", page.url)[1]
    assert server.project(job_id).document.name == "Typed in haste"


def test_the_browsers_back_button_goes_back_a_step(page, server, room):
    job_id, _ = room.job()
    open_step(page, server, job_id, "arrange")
    for title in ("Mock-up", "Hang"):
        go_to(page, title)
        page.wait_for_url(re.compile(f"step={title.replace('-', '').lower()}"))
    for title in ("Mock-up", "Arrange"):
        page.go_back(wait_until="commit")
        page.get_by_role("heading", name=title, exact=True, level=2).wait_for()
    page.go_forward(wait_until="commit")
    page.get_by_role("heading", name="Mock-up", exact=True, level=2).wait_for()


def test_a_reload_loses_nothing(page, server, room):
    job_id, _ = room.job()
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    before = places(server, job_id)
    carry(page, page.locator("g.piece").first, (0, -30))
    until(lambda: not np.allclose(places(server, job_id)["p1"], before["p1"]))
    page.reload()
    page.wait_for_selector(FINISHED)
    said = page.locator("g.piece").first.get_attribute("aria-label")
    height = places(server, job_id)["p1"][1]
    assert f"{format_length(height, 'mm')} high" in said
    assert page.get_by_role("heading", name="Arrange", exact=True).count() == 1


def test_fingers_drag_a_piece_and_pinch_the_view(browser, server, room):
    job_id, project = room.job()
    context = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True)
    page = context.new_page()
    page.set_default_timeout(60_000)
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    fingers = context.new_cdp_session(page)

    def touch(kind, *points):
        touches = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

    survey, piece = project.survey(), project.pieces()[0]
    x, y = centre(page.locator("g.piece").first)
    before = places(server, job_id)["p1"]
    touch("touchStart", (x, y))
    for k in range(1, 11):
        touch("touchMove", (x - 3 * k, y - 4 * k))
    touch("touchEnd")
    until(lambda: not np.allclose(places(server, job_id)["p1"], before))
    grip, rest, near = (
        on_wall(survey, screen_to_photo(page, p), piece.stand_off_mm)
        for p in ((x, y), (x - 30, y - 40), (x - 23, y - 40))
    )
    reach = np.hypot(*(near - rest))  # a finger has no key to keep a piece from falling into lines
    moved = places(server, job_id)["p1"] - before
    assert (np.abs(moved - (rest - grip)) <= reach + 0.5).all()
    assert moved[0] < 0 < moved[1]

    wide = page.locator(".world").bounding_box()["width"]
    box = page.locator(".stage").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + 0.15 * box["height"]
    touch("touchStart", (x - 30, y), (x + 30, y))
    for k in range(1, 11):
        touch("touchMove", (x - 30 - 6 * k, y), (x + 30 + 6 * k, y))
    touch("touchEnd")
    until(lambda: page.locator(".world").bounding_box()["width"] > 2 * wide)
    assert page.evaluate("visualViewport.scale") == 1  # the view grew, not the page
    context.close()


def test_a_pen_drags_a_piece_and_the_palm_beside_it_does_not(page, server, room):
    job_id, project = room.job()
    open_step(page, server, job_id, "arrange")
    page.wait_for_selector(FINISHED)
    pen = page.context.new_cdp_session(page)
    x, y = centre(page.locator("g.piece").first)
    survey, piece = project.survey(), project.pieces()[0]
    before = places(server, job_id)["p1"]

    def write(kind, at, **more):
        event = {"type": kind, "x": at[0], "y": at[1], "pointerType": "pen", "force": 0.5}
        pen.send("Input.dispatchMouseEvent", {**event, "modifiers": 1, **more})  # Alt: no snapping

    write("mousePressed", (x, y), button="left", buttons=1, clickCount=1)
    for k in range(1, 11):
        write("mouseMoved", (x - 3 * k, y - 4 * k), button="left", buttons=1)
    page.evaluate(PALM, [x + 200, y + 100])
    page.evaluate("() => new Promise(requestAnimationFrame)")  # the view has drawn once more
    write("mouseReleased", (x - 30, y - 40), button="left", clickCount=1)
    until(lambda: not np.allclose(places(server, job_id)["p1"], before))
    grip, rest = (
        on_wall(survey, screen_to_photo(page, p), piece.stand_off_mm)
        for p in ((x, y), (x - 30, y - 40))
    )
    assert places(server, job_id)["p1"] - before == pytest.approx(rest - grip, abs=0.5)
