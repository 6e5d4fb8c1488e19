"""Quick hands in a real browser, against a model of what the person did; see ``hands``."""

import pytest

from tests.app.hands import Hands, KillableServer, play
from visualiser.app import jobs

pytestmark = [pytest.mark.browser, pytest.mark.timeout(900)]


@pytest.fixture
def own_server(tmp_path, monkeypatch):
    """A server of the test's own, as it is stopped and killed."""
    monkeypatch.setenv(jobs.FOLDER_VARIABLE, str(tmp_path))
    server = KillableServer(tmp_path)
    yield server
    server.kill()


@pytest.fixture
def context(browser):
    context = browser.new_context(viewport={"width": 1280, "height": 800})
    yield context
    context.close()


def test_nothing_is_lost_under_quick_hands(context, own_server):
    hands = Hands(context, own_server, seed=5, faults=False)
    counts = play(hands, acts=40, settle_every=20)
    assert counts["settled"] >= 2


def test_a_server_that_stands_still_or_is_killed_costs_nothing(context, own_server):
    hands = Hands(context, own_server, seed=6, faults=False)
    for fault in (hands.stall, hands.crash):
        play(hands, acts=3)
        fault()
        hands.hand()
        hands.settle()
    hands.reload()
    hands.undo()
    hands.settle()
    assert hands.counts["crash"] == hands.counts["stall"] == 1


@pytest.mark.slow
@pytest.mark.timeout(1200)
@pytest.mark.parametrize("seed", range(3))
def test_nothing_is_lost_in_ten_minutes(context, own_server, seed):
    hands = Hands(context, own_server, seed=100 + seed)
    counts = play(hands, seconds=600)
    assert counts["drag"] > 20
