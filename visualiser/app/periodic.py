"""Parts of the page that are drawn again every so often, by themselves.

Each stands in a place of its own. When such a part falls due just as the whole page has been
drawn, Streamlit drops the part's first message before it was sent; the browser then takes out what
the part left from the run before, and moves everything after it one place up; and the part, drawn
again, lands on its neighbour. On a busy server that neighbour was the wall. Alone in its place, it
has no neighbour.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec

import streamlit as st

P = ParamSpec("P")


def every(seconds: float) -> Callable[[Callable[P, None]], Callable[P, None]]:
    """Draw a part of the page again every so many seconds.

    Parameters
    ----------
    seconds
        From the end of one drawing to the beginning of the next.

    Returns
    -------
    A decorator for the function that draws the part.
    """

    def decorate(draw: Callable[P, None]) -> Callable[P, None]:
        part = st.fragment(draw, run_every=seconds)

        def draw_in_place(*args: P.args, **kwargs: P.kwargs) -> None:
            with st.container():
                part(*args, **kwargs)

        return draw_in_place

    return decorate
