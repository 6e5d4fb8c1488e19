"""The app's server: who may ask it, how much may be uploaded, and what leaves the machine.

A page of a stranger can make a browser call this server under a name of the stranger's own that
leads here (DNS rebinding). So only the names that a person can have typed are answered, and only
pages that came from here may call.

References
----------
RFC 9110, 7.2 (Host); RFC 6454, 7 (Origin); RFC 6761, 6.3 (localhost).
"""

from __future__ import annotations

import asyncio
import ipaddress
import shutil
import socket
from collections.abc import AsyncIterator, MutableMapping
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import streamlit as st

from visualiser.app import news
from visualiser.app.jobs import jobs_folder
from visualiser.app.reach import only_this_computer
from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from starlette.middleware import Middleware
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
UPLOAD_MB = 200
"""Longest file that is taken in by the browser; a longer job's zip is opened by its path."""
MOST_HELD_BYTES = 500_000_000
"""Of uploads that are held in memory at once, those under way included."""
LEAST_FREE_BYTES = 500_000_000
"""Room that uploads of others leave on the disk of the jobs."""
_CLOSED = ("/_stcore/metrics", "/_stcore/script-health-check")
_UPLOADS = "/_stcore/upload_file/"


def hostname(host: str | None) -> str | None:
    """Name or address in a Host header, in small letters; None where it is none."""
    if not host or any(c in host for c in "@/?#\\ \t"):
        return None
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port
    except ValueError:
        return None
    return parts.hostname.rstrip(".") if parts.hostname else None


def is_own_host(host: str | None, reached: str | None, names: frozenset[str]) -> bool:
    """Whether a request asks for this machine by a name or address of its own.

    Parameters
    ----------
    host
        The request's Host header.
    reached
        Address of this machine at which the connection came in.
    names
        What this machine is called, where others are let in.
    """
    name = hostname(host)
    if name is None:
        return False
    return name in LOOPBACK or name in names or _same_address(name, reached)


def is_own_page(origin: str | None, host: str | None) -> bool:
    """Whether a request comes from no page at all, or from one that this server gave out."""
    if origin is None:
        return True
    parts = urlsplit(origin)
    return parts.scheme in ("http", "https") and parts.netloc.lower() == (host or "").lower()


def own_names() -> frozenset[str]:
    """Names by which this machine is called on its network, and those that its owner allows."""
    name = socket.gethostname().lower().rstrip(".")
    short = name.partition(".")[0]
    allowed = st.get_option("server.allowedHosts") or []
    return frozenset({name, short, f"{short}.local", *(str(one).lower() for one in allowed)} - {""})


class Doorkeeper:
    """Answers what the server is asked for by its own pages, and turns everything else away.

    Parameters
    ----------
    app
        What answers.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app
        self.under_way_bytes = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request or connection."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        headers = {key.lower(): value for key, value in scope["headers"]}
        host = _text(headers.get(b"host"))
        reached = (scope.get("server") or (None,))[0]
        names = frozenset() if only_this_computer() else own_names()
        if not is_own_host(host, reached, names):
            await _refuse(scope, send, 421, "This server is not called so.")
        elif not is_own_page(_text(headers.get(b"origin")), host):
            await _refuse(scope, send, 403, "Only pages of this server may call it.")
        elif scope["path"].rstrip("/").endswith(_CLOSED):
            await _refuse(scope, send, 404, "Not found.")
        elif scope["path"] == news.PATH and scope.get("method") == "GET":
            await _tell_news(scope, send)
        elif _UPLOADS in scope["path"] and scope.get("method") in ("PUT", "POST"):
            await self._take_upload(scope, receive, send, headers)
        else:
            await self.app(scope, receive, _with_headers(send))

    async def _take_upload(
        self, scope: Scope, receive: Receive, send: Send, headers: dict[bytes, bytes]
    ) -> None:
        length = _length(headers.get(b"content-length"))
        if why := self.full(length):
            await _refuse(scope, send, 413, why)
            return
        self.under_way_bytes += length
        try:
            await self.app(scope, receive, _with_headers(send))
        finally:
            self.under_way_bytes -= length

    def full(self, length_bytes: int) -> str:
        """Say why an upload of this length is not taken now; empty where it is."""
        if held_bytes() + self.under_way_bytes + length_bytes > MOST_HELD_BYTES:
            return "Too much is being uploaded at once; wait until it has been taken in."
        try:
            place = jobs_folder()
            while not place.exists() and place != place.parent:
                place = place.parent
            free = shutil.disk_usage(place).free
        except (OSError, VisualiserError):
            return ""
        if not only_this_computer() and free - length_bytes < LEAST_FREE_BYTES:
            return "This computer's disk is nearly full."
        return ""


def held_bytes() -> int:
    """Add up the uploads that the server holds in memory, of all pages."""
    from streamlit.runtime import exists, get_instance

    if not exists():
        return 0
    try:
        pages = list(get_instance().uploaded_file_mgr.file_storage.values())  # type: ignore[attr-defined]
        return sum(len(file.data) for page in pages for file in list(page.values()))
    except (AttributeError, RuntimeError):  # of another release, or changed meanwhile
        return 0


def protection() -> list[Middleware]:
    """List what stands before everything that the server answers."""
    from starlette.middleware import Middleware

    return [Middleware(Doorkeeper)]


@asynccontextmanager
async def open_browser(_: Any) -> AsyncIterator[None]:
    """Show the first page to who started the server, unless nobody is there to see it."""
    if not st.get_option("server.headless"):
        import webbrowser

        webbrowser.open(f"http://127.0.0.1:{st.get_option('server.port')}")
    yield


def _with_headers(send: Send) -> Send:
    """Let no page of others show these inside itself, or learn their addresses."""
    more = [(b"x-frame-options", b"SAMEORIGIN"), (b"referrer-policy", b"same-origin")]

    async def sent(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", []), *more]}
        await send(message)

    return sent


async def _tell_news(scope: Scope, send: Send) -> None:
    query = scope.get("query_string", b"").decode("latin-1")
    body = await asyncio.to_thread(news.news_for, query)
    headers = [(b"content-type", b"application/json"), (b"cache-control", b"no-store")]
    start = {"type": "http.response.start", "status": 200, "headers": headers}
    await _with_headers(send)(start)
    await send({"type": "http.response.body", "body": body})


async def _refuse(scope: Scope, send: Send, status: int, why: str) -> None:
    if scope["type"] == "websocket":
        await send({"type": "websocket.close", "code": 1008, "reason": why})
        return
    start: MutableMapping[str, Any] = {
        "type": "http.response.start",
        "status": status,
        "headers": [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")],
    }
    await send(start)
    await send({"type": "http.response.body", "body": why.encode()})


def _text(value: bytes | None) -> str | None:
    return None if value is None else value.decode("latin-1")


def _length(value: bytes | None) -> int:
    """Length that a request declares; the longest there may be where it declares none."""
    try:
        return max(0, int(value or b"")) if len(value or b"") < 16 else UPLOAD_MB * 1_048_576
    except ValueError:
        return UPLOAD_MB * 1_048_576


def _same_address(name: str, reached: str | None) -> bool:
    try:
        one, other = ipaddress.ip_address(name), ipaddress.ip_address(reached or "")
    except ValueError:
        return False
    mapped = getattr(other, "ipv4_mapped", None)  # ::ffff:192.0.2.1, on a socket of both kinds
    return one in (other, mapped)
