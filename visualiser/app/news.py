"""What has happened behind a page's back, for its browser to ask: saves elsewhere, ended work.

The browser asks every moment, which draws nothing; only where there is something new does it have
the page drawn. Streamlit's own way, parts of the page drawn again by a clock, is not used: where
one falls due just as a run of the page ends, what that run had still to send is thrown away, and
the page stays half drawn (``AppSession`` takes no message from a runner that it has replaced).
"""

from __future__ import annotations

import json
from urllib.parse import parse_qs

from visualiser.app import child_process, jobs
from visualiser.errors import VisualiserError

PATH = "/news"


def news_for(query: str) -> bytes:
    """Answer a browser's question as JSON.

    Parameters
    ----------
    query
        Of the address: ``job``, whose number of the last save is asked for, or ``work``, the token
        of which it is asked whether it has ended.

    Returns
    -------
    An object: ``saved``, null where there is nothing to read, ``ended``, and ``says`` where the
    work says what it is doing.
    """
    try:
        asked = {name: values[0] for name, values in parse_qs(query, max_num_fields=4).items()}
    except ValueError:  # more than this page ever asks
        asked = {}
    saved = None
    if "job" in asked:
        try:
            saved = jobs.last_saved(asked["job"])
        except VisualiserError:
            saved = None
    ended = "work" in asked and child_process.has_ended(asked["work"])
    answer: dict[str, object] = {"saved": saved, "ended": ended}
    if "work" in asked and (says := child_process.words_of(asked["work"])):
        answer["says"] = says
    return json.dumps(answer).encode()


def draw_anew() -> None:
    """Do nothing: that the browser's word begins a run of the page is all that is wanted."""
