"""Counted rounds of quick hands: how many of what a person did in haste is there in the end.

Run with ``pytest -m benchmark -s tests/benchmarks/test_quick_hands.py``; ``QUICK_ROUNDS=0.1`` does
a tenth of the rounds. The figures are printed with the load they were counted at.
"""

import os
import random
from collections.abc import Callable

import numpy as np
import pytest

from tests.app.hands import AGREE_MM, Hands, KillableServer
from visualiser.app import jobs

pytestmark = [pytest.mark.benchmark, pytest.mark.browser, pytest.mark.timeout(7200)]

SHARE = float(os.environ.get("QUICK_ROUNDS", "1"))


def rounds(full):
    return max(round(full * SHARE), 1)


@pytest.fixture
def hands(browser, tmp_path, monkeypatch):
    monkeypatch.setenv(jobs.FOLDER_VARIABLE, str(tmp_path))
    server = KillableServer(tmp_path)
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    yield Hands(context, server, seed=1, faults=False)
    context.close()
    server.kill()


def tried(name, count, once: Callable[[int], None], hands):
    """Do something a number of times, settle after each, and print in how many all was kept."""
    kept, lost = 0, []
    for number in range(count):
        once(number)
        try:
            hands.settle()
            kept += 1
        except AssertionError as error:
            lost.append(str(error)[:300])
            document, places = hands.saved()
            hands.model.places, hands.model.back, hands.model.forth = places, [], []
            hands.model.saves = document.revision - hands.start_revision
    load = os.getloadavg()[0]
    print(f"\n{name}: {kept} of {count} kept, load {load:.0f}")
    assert not lost, lost


def test_thirty_quick_drags(hands):
    def once(_):
        for _ in range(30):
            hands.drag()

    tried("rounds of 30 quick drags", rounds(20), once, hands)


def test_an_arrow_then_undo(hands):
    """Each is done in one go in the page itself, so that the time between them is the one meant."""
    rng = random.Random(2)

    def once(_):
        piece = rng.choice(sorted(hands.names))
        hands.page.locator(f"g.piece[aria-label^='{piece},']").focus()
        before = hands.outbox()["last"]
        hands.page.keyboard.press("ArrowRight")
        hands.page.wait_for_timeout(rng.uniform(0, 250))
        hands.page.keyboard.press("Control+z")
        hands.until("both are noted", lambda: hands.outbox()["last"] == before + 2)
        hands.model.move(hands.names[piece], hands.outbox()["to"])
        hands.model.undo()

    tried("arrow, then undo within 250 ms", rounds(100), once, hands)


def test_three_undos(hands):
    rng = random.Random(3)

    def once(_):
        for _ in range(3):
            hands.nudge()
        for _ in range(3):
            before = hands.outbox()["last"]
            hands.page.keyboard.press("Control+z")
            hands.page.wait_for_timeout(rng.uniform(0, 150))
            hands.until("it is noted", lambda b=before: hands.outbox()["last"] == b + 1)
            hands.model.undo()

    tried("three undos within 150 ms each", rounds(100), once, hands)


def test_undo_then_a_drag(hands):
    def once(_):
        hands.nudge()
        hands.page.keyboard.press("Control+z")
        hands.model.undo()
        hands.drag()

    tried("undo, then a drag at once", rounds(50), once, hands)


def test_unit_then_a_drag(hands):
    def once(number):
        unit = ("cm", "mm")[number % 2]
        hands.page.get_by_role("radio", name=unit, exact=True).click()
        hands.model.set_unit(unit)
        hands.drag()
        hands.until("the unit is saved", lambda: hands.saved()[0].units == unit)
        hands.until("it is shown", lambda: hands.labels_in(unit))

    tried("unit, then a drag at once", rounds(50), once, hands)


def test_undo_then_arrows_on_the_same_focus(hands):
    """Three arrows after an undo, no pointer in between: the focus has stayed."""

    def once(_):
        hands.nudge()
        name = hands.trail[-1].split()[1]
        hands.page.keyboard.press("Control+z")
        hands.model.undo()
        before = hands.outbox()["last"]
        seen = hands.model.places[hands.names[name]]
        for _ in range(3):
            hands.page.keyboard.press("ArrowRight")
        hands.until("they are noted", lambda: hands.outbox()["pending"] == 0)
        hands.until("they have moved", lambda: hands.outbox()["last"] > before)
        hands.until("all is answered", lambda: hands.outbox()["pending"] == 0)
        place = np.array(hands.outbox()["to"])
        assert abs(place[0] - seen[0] - 3) <= AGREE_MM
        for _ in range(hands.outbox()["last"] - before):  # a pause between keys makes them two
            hands.model.move(hands.names[name], place)

    tried("undo, then three arrows", rounds(20), once, hands)
