"""Messages to the wall view that are handled in another order than they were made.

The view's own scripts run in a page without a server; the test hands it what the server would.
"""

import json
from dataclasses import replace

import pytest

from visualiser.app import scene
from visualiser.app.scripts import asset, joined

pytestmark = pytest.mark.browser

MAKE = """html => {
  const root = document.querySelector("#host").attachShadow({ mode: "open" });
  root.innerHTML = html;
  window.told = [];
  const tell = (name, value) => window.told.push([name, value]);
  window.hand = (data) => mountView({ parentElement: root, data, setStateValue: tell });
  window.inView = (selector) => root.querySelector(selector);
}"""
DOT = (
    "data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7",
    "data:image/gif;base64,R0lGODlhAQABAIAAAP///wAAACH5BAEAAAAALAAAAAABAAEAAAICRAEAOw==",
)
"""Two pictures of one pixel."""
START_US = 1_800_000_000_000_000


@pytest.fixture
def hand(page, jobs_folder, room):
    """Hand the view one message of a job with three pieces."""
    _, project = room.job()
    survey, arrangement = project.survey(), project.arrangement()
    page.set_content('<div id="host" style="width:800px"></div>')
    scripts = joined("wall_canvas/view.js")
    page.add_script_tag(content=scripts.replace("export default function", "function mountView"))
    style, body = (asset(f"wall_canvas/{name}") for name in ("view.css", "view.html"))
    page.evaluate(MAKE, f"<style>{style}</style>{body}")
    still = {
        "title": "Wall", "unit": "mm", "shapes": [], "contours": [], "compare": False,
        "kept": [], "still": False, "awaited": None, "snapped": None, "base": DOT[0],
        "width": 1600, "height": 1200, "mapping": scene.mapping_of(survey), "guides": {},
    }  # fmt: skip

    def pieces(x_mm):
        first, *others = arrangement.placements
        moved = replace(arrangement, placements=(replace(first, x_mm=x_mm), *others))
        return scene.piece_items(moved, {piece.id: DOT[0] for piece in moved.pieces})

    def message(x_mm, *, made_s, revision=1, answered=None, **more):
        data = {
            **still, "pieces": pieces(x_mm), "job": "j", "option": "a",
            "revision": revision, "answered": answered or {}, **more,
        }  # fmt: skip
        page.evaluate(
            "data => hand(JSON.parse(data))",
            json.dumps({**data, "made_us": START_US + round(made_s * 1e6)}),
        )

    return message


def shown_mm(page):
    """Where the view has the first piece, as it tells it to a screen reader."""
    label = page.evaluate("inView('g.piece').getAttribute('aria-label')")
    number = label.partition("centre ")[2].partition(" mm from")[0]
    return float(number.replace("\u00a0", "").replace(" ", "").replace("−", "-"))


def nudge(page):
    """Press an arrow on the first piece, and wait until it is a command; give that."""
    before = page.evaluate("visualiserOutbox.last")
    page.evaluate("inView('g.piece').focus()")
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_function(f"visualiserOutbox.last > {before}")
    return page.evaluate("visualiserOutbox.waiting.at(-1)")


def test_messages_in_their_order_are_all_taken(page, hand):
    hand(100, made_s=0)
    hand(200, made_s=1, revision=2)
    assert shown_mm(page) == 200
    hand(300, made_s=1, revision=3)  # the clock's own step is no reason to leave one out
    assert shown_mm(page) == 300


def test_an_earlier_state_does_not_come_back(page, hand):
    """An undo is answered, then what was there before it arrives after all."""
    hand(100, made_s=0)
    hand(200, made_s=3, revision=3)
    hand(150, made_s=2, revision=2)
    assert shown_mm(page) == 200
    hand(150, made_s=3.5, revision=2)  # drawn late, of what was saved early
    assert shown_mm(page) == 200
    hand(250, made_s=4, revision=4)
    assert shown_mm(page) == 250


def test_an_answer_overtaken_by_the_next_is_not_taken_for_it(page, hand):
    """A nudge is answered with its picture; the picture from before it must not show again."""
    hand(100, made_s=0, mock=DOT[0])
    page.wait_for_function("inView('.stage').dataset.showing === 'finished'")
    command = nudge(page)
    assert command["to"][0] == pytest.approx(110)
    assert page.evaluate("inView('.stage').dataset.showing") == "live"
    answered = {command["hand"]: command["number"]}
    hand(110, made_s=2, revision=2, answered=answered, mock=DOT[1])
    page.wait_for_function("inView('.stage').dataset.showing === 'finished'")
    hand(100, made_s=1, mock=DOT[0])
    assert page.evaluate("inView('img.mock').dataset.address") == DOT[1]
    assert page.evaluate("inView('.stage').dataset.showing") == "finished"
    assert shown_mm(page) == 110


def test_what_is_not_answered_is_done_on_whatever_state_arrives(page, hand):
    """Another window moves the piece and a second one, before the nudge here has arrived."""
    hand(100, made_s=5)
    command = nudge(page)
    hand(90, made_s=6, revision=2)
    assert shown_mm(page) == 110
    hand(110, made_s=7, revision=3, answered={command["hand"]: command["number"]})
    assert shown_mm(page) == 110
    hand(95, made_s=8, revision=4, answered={command["hand"]: command["number"]})
    assert shown_mm(page) == 95


def test_what_is_answered_but_not_in_an_earlier_drawn_state_stays(page, hand):
    """The bar above the wall is told first; the wall's own message was made before that."""
    hand(100, made_s=0)
    command = nudge(page)
    numbers = {command["hand"]: command["number"]}
    page.evaluate("numbers => visualiserOutbox.answered(numbers)", numbers)
    assert page.evaluate("visualiserOutbox.pending().length") == 0
    hand(100, made_s=1)
    assert shown_mm(page) == 110


def test_a_piece_under_the_pointer_and_one_under_the_keys_belong_to_the_hand(page, hand):
    hand(100, made_s=0)
    page.evaluate("inView('g.piece').focus()")
    page.keyboard.press("Shift+ArrowRight")
    hand(500, made_s=1, revision=2)
    assert shown_mm(page) == 110
    assert page.evaluate("inView('g.piece').matches(':focus')")
    page.wait_for_function("visualiserOutbox.last === 1")
    outline = page.evaluate("inView('g.piece .outline').getBoundingClientRect().toJSON()")
    x, y = outline["x"] + outline["width"] / 2, outline["y"] + outline["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 30, y)
    page.evaluate("() => new Promise(requestAnimationFrame)")
    carried = shown_mm(page)
    assert carried != 110
    hand(700, made_s=2, revision=3)
    assert shown_mm(page) == carried
    page.mouse.up()
    assert page.evaluate("visualiserOutbox.last") == 2
    assert shown_mm(page) == carried


def test_the_focus_stays_when_pieces_come_and_go(page, hand):
    """What is drawn anew under a keyboard keeps its place: arrows go on from there."""
    hand(100, made_s=0)
    page.evaluate("inView('g.piece').focus()")
    for number in (2, 3):
        hand(100 * number, made_s=number, revision=number)
        assert page.evaluate("inView('g.piece').matches(':focus')")


def test_a_clock_set_back_does_not_stop_the_view(page, hand):
    hand(100, made_s=0)
    hand(200, made_s=-3600, revision=2)
    assert shown_mm(page) == 200
