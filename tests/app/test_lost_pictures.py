"""A picture that is gone from the server before the browser fetched it comes back by itself."""

from collections import Counter

import pytest

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("gone", [2, 5])
def test_a_picture_that_was_gone_is_asked_for_again(page, server, room, gone):
    job_id, _ = room.job()
    asked = Counter()

    def answer(route):
        address = route.request.url.split("?")[0]
        asked[address] += 1
        if asked[address] <= gone:
            route.fulfill(status=404)
        else:
            route.continue_()

    page.route("**/media/**", answer)
    page.goto(f"{server.url}/?job={job_id}&step=mockup")
    page.wait_for_selector(".stage[data-showing=finished]")
    assert max(asked.values()) > gone
