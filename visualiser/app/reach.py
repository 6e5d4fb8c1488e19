"""Who can reach this server: what is kept of one person must not show up with another."""

from __future__ import annotations

import os
from urllib.parse import urlsplit

import streamlit as st

PLACES_VARIABLE = "VISUALISER_PLACES"
"""Addresses, with blanks between, by which others on the network reach this server."""
LOOPBACK = ("127.0.0.1", "localhost", "::1")


def addresses_elsewhere(url: str | None, places: str, job_id: str, step: str) -> list[str]:
    """List the addresses at which another device opens a step of a job.

    Parameters
    ----------
    url
        Address that this page was asked for at; one of the network's own goes before all.
    places
        Addresses of this machine, with blanks between.
    job_id, step
        What is to be opened.
    """
    asked = [] if url is None or urlsplit(url).hostname in LOOPBACK else [url]
    return [f"{place.rstrip('/')}/?job={job_id}&step={step}" for place in asked or places.split()]


def other_devices(job_id: str, step: str) -> list[str]:
    """List the addresses at which another device can open a step of a job; none if it cannot."""
    if only_this_computer():
        return []
    return addresses_elsewhere(st.context.url, os.environ.get(PLACES_VARIABLE, ""), job_id, step)


def only_this_computer() -> bool:
    """Whether the server can be reached from this computer alone."""
    return st.get_option("server.address") in LOOPBACK
