"""Work under way on the page: what is done, and for how many seconds it has been going on.

The browser counts them, and has the page drawn anew once the work has ended.
"""

from __future__ import annotations

import streamlit as st

from visualiser.app.child_process import ChildProcess
from visualiser.app.news import draw_anew
from visualiser.app.scripts import joined

_HTML = """<p class="ticking">
<span class="words" role="status"></span> <span class="seconds" aria-hidden="true"></span>
</p>"""


def mount(spot: str, words: str, child: ChildProcess) -> None:
    """Show it at this place of the page.

    Parameters
    ----------
    spot
        Name of the place.
    words
        What is being done.
    child
        The process that does it.
    """
    ticking = st.components.v2.component(
        "visualiser.ticking",
        html=_HTML,
        css=".ticking { margin: 0; line-height: 1.4; }",
        js=joined("ticking/ticking.js"),
    )
    data = {"words": words, "seconds": round(child.seconds, 1), "token": child.token}
    ticking(key=f"ticking-{spot}", data=data, on_ended_change=draw_anew)
