"""Load what a job will need while the person still reads the first page."""

from __future__ import annotations

import gc
import importlib
import threading
import time

import streamlit as st

from visualiser.app import jobs

_NEEDED = (
    "visualiser.app.job_page",
    "pandas",
    "scipy.optimize",
    "scipy.ndimage",
    "visualiser.arrangement.rules",
    "visualiser.rectification.finder.find",
)
"""What opening a job and looking at its wall loads, so far as it takes long."""
_WAIT_S = 1.5
"""Until the first page has reached the browser, which is what the person waits for."""


def warm_up() -> None:
    """Start loading it, once for the whole server, beside the page."""
    from streamlit import runtime

    if runtime.exists():  # a page under test has no server to warm
        _warmed()


@st.cache_resource(show_spinner=False)
def _warmed() -> threading.Timer:
    timer = threading.Timer(_WAIT_S, _load)
    timer.daemon = True
    timer.start()
    return timer


def _load() -> None:
    jobs.clear_leftovers(time.time())
    for name in _NEEDED:
        importlib.import_module(name)
    # Streamlit has the collector look at everything after every run of the page. Modules stay
    # anyway: left out of that, a run takes a tenth of a second less.
    gc.collect()
    gc.freeze()
