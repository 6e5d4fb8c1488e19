"""``visualiser app``: start the app in the browser, for this computer or for the room's network."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from visualiser.cli.output import say
from visualiser.errors import VisualiserError

_SIOCGIFADDR = 0x8915
"""Linux, netdevice(7): the IPv4 address of an interface."""


def app(
    lan: Annotated[
        bool, typer.Option(help="Let tablets on the same network in. Only where you trust it.")
    ] = False,
    port: Annotated[
        int,
        typer.Option(
            help="Port that the app answers at: the number at the end of its address.",
            min=1024,
            max=65535,
        ),
    ] = 8501,
    browser: Annotated[bool, typer.Option(help="Open the app in the browser.")] = True,
) -> None:
    """Start the app: the whole road from photo to hung group, in the browser."""
    command = [
        sys.executable,
        "-m",
        "visualiser.app",
        str(entry_script()),
        f"--server.port={port}",
        f"--server.address={'0.0.0.0' if lan else '127.0.0.1'}",
        f"--server.headless={'false' if browser else 'true'}",
    ]
    places = [f"http://{place}:{port}" for place in lan_places()] if lan else []
    if lan:
        say(
            "Anyone on this network who has a job's address can open that job. "
            "Stop with Ctrl+C when the work at the wall is done. On the tablet, open "
            + " or ".join(places)
            + ".",
            as_json=True,
        )
    code = _serve(command, places)
    if code:
        raise VisualiserError(
            f"The app ended with code {code}.",
            hint=f"Is port {port} taken? Try another, as in: visualiser app --port {port + 1}.",
        )


def _serve(command: list[str], places: list[str]) -> int:
    """Run the server until it ends or this process is asked to; give its code, 0 when asked.

    It is told at which places others reach it: a page at this computer says so then.
    """
    stopping = False

    def stop(*_: object) -> None:
        nonlocal stopping
        stopping = True
        server.terminate()

    told = {**os.environ, "VISUALISER_PLACES": " ".join(places)}
    server = subprocess.Popen(command, env=told)
    # A closed terminal and a service manager end this process only, not the one it started.
    for name in ("SIGTERM", "SIGHUP"):
        if number := getattr(signal, name, None):
            signal.signal(number, stop)
    while True:
        try:
            code = server.wait()
            return 0 if stopping else code
        except KeyboardInterrupt:  # the terminal has sent it to the server as well
            stopping = True


def lan_places() -> list[str]:
    """List the addresses and the name by which others on the network reach this machine.

    Nothing is sent to find them: the system is asked for what its interfaces are called.
    """
    name = socket.gethostname().partition(".")[0]
    addresses = _interface_addresses()
    try:
        found = socket.getaddrinfo(name, None, socket.AF_INET, socket.SOCK_STREAM)
        addresses += [str(entry[4][0]) for entry in found]
    except OSError:
        pass
    own = dict.fromkeys(a for a in addresses if not a.startswith(("127.", "169.254.")))
    return [*own, f"{name}.local"]


def _interface_addresses() -> list[str]:
    """Ask each network interface for its IPv4 address; empty where that is not offered."""
    if sys.platform != "linux":
        return []
    import fcntl
    import struct

    addresses = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, interface in socket.if_nameindex():
            request = struct.pack("256s", interface.encode()[:15])
            try:
                answer = fcntl.ioctl(asking.fileno(), _SIOCGIFADDR, request)
            except OSError:  # it has none
                continue
            addresses.append(socket.inet_ntoa(answer[20:24]))
    return addresses


def entry_script() -> Path:
    """Find the script that starts the app: packed into the wheel, or at the top of a clone.

    Raises
    ------
    VisualiserError
        If it is in neither place.
    """
    package = Path(__file__).parents[1]
    packed = package / "app" / "_entry" / "streamlit_app.py"
    for place in (packed, package.parent / "streamlit_app.py"):
        if place.exists():
            return place
    raise VisualiserError(
        "The start script of the app is missing from this copy.", hint="Install the program again."
    )
