"""Hooks as a list for the ladder: large rows with ticks, each with what to look out for there.

A tick goes into the page's outbox, like whatever else hands do.
"""

from __future__ import annotations

from typing import Any

import streamlit as st

from visualiser.app.scripts import asset, joined


def mount(data: dict[str, Any]) -> None:
    """Show the list at this place of the page.

    Parameters
    ----------
    data
        The ``job``, what is ``answered``, what distances across are measured ``from``, and the
        ``pieces`` in the order of hanging: each its ``name``, what it is ``held`` by, its
        ``cautions`` and its ``hooks``: each a ``name``, ``across`` and ``up`` as text, its place
        ``at_mm`` and whether it ``is_up``.
    """
    hooks = st.components.v2.component(
        "visualiser.hook_list",
        html='<div class="hooks"></div>',
        css=asset("hook_list/list.css"),
        js=joined("hook_list/list.js"),
    )
    hooks(key="hook_list", data=data)
