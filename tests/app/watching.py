"""Watch what a server of the app asks of others: nothing may leave the machine.

A module that Python loads at its start (``sitecustomize``) is told by the interpreter of every
connection and every name looked up (PEP 578), writes it down, and blocks what leads outside.
"""

from pathlib import Path

_WATCH = """
import sys
def watch(event, given):
    if event in ("socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.sendto"):
        place = given[1] if event in ("socket.connect", "socket.sendto") else given
        with open({log!r}, "a") as log:
            log.write(f"{{event}} {{place}}\\n")
        host = place[0] if isinstance(place, tuple) else None
        if event == "socket.connect" and host not in ("127.0.0.1", "::1", None):
            raise OSError("blocked")
sys.addaudithook(watch)
"""


def watched(folder: Path, environment: dict[str, str], root: Path) -> dict[str, str]:
    """Environment of a server whose calls are watched; they are noted in the folder."""
    (folder / "sitecustomize.py").write_text(_WATCH.format(log=str(folder / "calls")))
    (folder / "calls").write_text("")
    return {**environment, "PYTHONPATH": f"{folder}:{root}"}


def calls_outside(folder: Path, *own: str) -> list[str]:
    """What was asked of anything but this machine, by its loopback or one of its own names."""
    own = ("127.0.0.1", "::1", "localhost", "0.0.0.0", *own)
    calls = (folder / "calls").read_text().splitlines()
    return [call for call in calls if not any(f"'{name}'" in call for name in own)]
