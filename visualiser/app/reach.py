"""Who can reach this server: what is kept of one person must not show up with another."""

from __future__ import annotations

import streamlit as st


def only_this_computer() -> bool:
    """Whether the server can be reached from this computer alone."""
    return st.get_option("server.address") in ("127.0.0.1", "localhost", "::1")
