"""One writer at a time, and no lock that outlives its owner.

The system's own file lock is used where there is one: it ends with the process that holds it,
however that ends. Some network drives offer none; there the lock is a file that names its owner,
and one whose owner has died is taken away.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path

from visualiser.errors import ProjectError
from visualiser.project.writing import unwritable

LOCK_NAME = ".lock"
PATIENCE_S = 5.0
_LONGEST = 1000


def locked(folder: Path) -> AbstractContextManager[None]:
    """Hold a job for one writer at a time; see `held`."""
    return held(folder / LOCK_NAME)


@contextmanager
def held(place: Path, patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Hold what a lock file stands for, waiting a while for another holder to let go.

    Parameters
    ----------
    place
        The lock file; made when it does not exist. It stays, and means nothing by itself.
    patience_s
        How long to wait, in seconds.

    Raises
    ------
    ProjectError
        If another process holds it on end, or the folder cannot be written.
    """
    deadline = time.monotonic() + patience_s
    try:
        handle = os.open(place, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise unwritable(place, error) from error
    try:
        try:
            while not _try_lock(handle):
                _wait(place, deadline)
            by_system = True
        except OSError:  # this drive keeps no locks
            by_system = False
        if by_system:
            _write_owner(handle)
            yield
        else:
            with _owner_file(place.with_name(place.name + ".owner"), deadline):
                yield
    finally:
        os.close(handle)


@contextmanager
def _owner_file(place: Path, deadline: float) -> Iterator[None]:
    """Be the one whose name stands in a file that only one can make."""
    while True:
        try:
            handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            break
        except FileExistsError:
            if not _take_away_stale(place):
                _wait(place, deadline)
        except OSError as error:
            raise unwritable(place, error) from error
    try:
        _write_owner(handle)
        os.close(handle)
        yield
    finally:
        with suppress(OSError):
            place.unlink()


def _take_away_stale(place: Path) -> bool:
    """Remove a lock whose owner has died; False where it has not, or that cannot be told."""
    owner = _owner(place)
    if owner.get("computer") != socket.gethostname() or _alive(owner.get("process")):
        return False
    aside = place.with_name(f"{place.name}.{secrets.token_hex(4)}")
    try:
        place.rename(aside)  # of several who find it stale, one moves it
        if _owner(aside) != owner:  # and that one may have come late, and moved a fresh one
            aside.rename(place)
            return False
        aside.unlink()
    except OSError:
        return False
    return True


def _wait(place: Path, deadline: float) -> None:
    if time.monotonic() <= deadline:
        time.sleep(0.01)
        return
    owner = _owner(place)
    who = (
        f"Process {owner.get('process')} on {owner.get('computer')} is holding this, since "
        f"{owner.get('since')},"
        if owner
        else "Another program is holding this"
    )
    raise ProjectError(
        f"{who} and does not let go of it.",
        hint="Close the job there, then save again; where that computer has stopped, delete "
        f"{place.name}.",
    )


def _write_owner(handle: int) -> None:
    """Say who holds the lock; only for the message to those who wait."""
    owner = {
        "process": os.getpid(),
        "computer": socket.gethostname(),
        "since": time.strftime("%Y-%m-%d %H:%M:%S"),
    }
    with suppress(OSError):  # on a full disk the lock holds all the same
        os.ftruncate(handle, 0)
        os.write(handle, json.dumps(owner).encode())


def _owner(place: Path) -> dict[str, object]:
    try:
        with place.open("rb") as file:
            content = json.loads(file.read(_LONGEST))
    except (OSError, ValueError, RecursionError):
        return {}
    return content if isinstance(content, dict) else {}


if sys.platform == "win32":
    import msvcrt

    def _try_lock(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _alive(_: object) -> bool:
        """Windows cannot be asked without a handle; it always has locks of its own."""
        return True

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _alive(process: object) -> bool:
        """Whether a process of this computer runs; one that is not known is taken to."""
        if not isinstance(process, int) or process <= 0:
            return True
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return False
        except OSError:
            return True
        return True
