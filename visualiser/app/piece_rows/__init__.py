"""The pieces as a table of fields: what is typed in a cell goes into the page's outbox."""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.scripts import asset, joined


def mount(data: dict[str, Any]) -> None:
    """Show the table at this place of the page.

    Parameters
    ----------
    data
        The ``job``, what is ``answered``, the ``unit``; the ``columns``, each its ``name``,
        ``label``, ``help``, width ``em`` and longest text ``chars``; the ``rows``, each the name of
        its ``row``, its piece's ``key``, whether it ``waits`` to be saved, and ``cells`` by the
        columns' names.
    """
    rows = st.components.v2.component(
        "visualiser.piece_rows",
        html='<div class="pieces"></div>',
        css=asset("piece_rows/rows.css"),
        js=joined("piece_rows/rows.js"),
    )
    rows(key="piece_rows", data=data)
