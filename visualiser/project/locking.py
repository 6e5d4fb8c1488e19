"""One writer at a time, and no lock that outlives its owner.

The system's own file lock is used where there is one: it ends with the process that holds it,
however that ends. Some network drives offer none; there the lock is a file that names its owner,
made whole or not at all, and one whose owner has died is taken away. A process
differs from a later one of the same number by when it began.
"""

from __future__ import annotations

import json
import os
import secrets
import socket
import subprocess
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
_WRITTEN_WITHIN_S = 3.0
"""Well within the patience of who waits, and long for writing one line."""


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
            _say_owner(handle)
            yield
        else:
            with _owner_file(place.with_name(place.name + ".owner"), deadline):
                yield
    finally:
        os.close(handle)


@contextmanager
def _owner_file(place: Path, deadline: float) -> Iterator[None]:
    """Be the one whose name stands in a file that only one can make."""
    while not _become_owner(place):
        if not _take_away_stale(place):
            _wait(place, deadline)
    try:
        yield
    finally:
        with suppress(OSError):
            place.unlink()


def _become_owner(place: Path) -> bool:
    """Make the owner's file, with the name in it from its first moment; False where there is one.

    It is written under a name of its own, then linked to its place, which works for one alone.
    Where the drive knows no links either, it is made and then written: who is killed between the
    two leaves it empty, and an empty one is taken away once it is `_WRITTEN_WITHIN_S` old.
    """
    own = place.with_name(f"{place.name}.{secrets.token_hex(4)}")
    try:
        handle = os.open(own, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            _write_owner(handle)
        finally:
            os.close(handle)
        try:
            os.link(own, place)
        except FileExistsError:
            return False
        except OSError:
            return _become_owner_without_links(place)
        finally:
            own.unlink()
    except OSError as error:
        raise unwritable(place, error) from error
    return True


def _become_owner_without_links(place: Path) -> bool:
    try:
        handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return False
    try:
        _write_owner(handle)
    finally:
        os.close(handle)
    return True


def _take_away_stale(place: Path) -> bool:
    """Remove a lock whose owner has died; False where it has not, or that is unknown."""
    owner = _owner(place)
    if owner:
        if owner.get("computer") != socket.gethostname() or _alive(owner):
            return False
    elif _age_s(place) < _WRITTEN_WITHIN_S:
        return False  # being written just now
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


def _age_s(place: Path) -> float:
    """How long a file has been there, by the clock that dates files of its folder."""
    probe = place.with_name(f"{place.name}.{secrets.token_hex(4)}")
    try:
        handle = os.open(probe, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            now_s = os.fstat(handle).st_mtime
        finally:
            os.close(handle)
            probe.unlink()
        return now_s - place.stat().st_mtime
    except OSError:
        return 0.0


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


def _say_owner(handle: int) -> None:
    """Say who holds the system's lock; only for the message to those who wait."""
    with suppress(OSError):  # on a full disk the lock holds all the same
        os.ftruncate(handle, 0)
        os.write(handle, json.dumps(_this_process()).encode())


def _write_owner(handle: int) -> None:
    """Write whose lock this is, and when that process began."""
    os.write(handle, json.dumps({**_this_process(), "begun": _begun(os.getpid())}).encode())


def _this_process() -> dict[str, object]:
    return {
        "process": os.getpid(),
        "computer": socket.gethostname(),
        "since": time.strftime("%Y-%m-%d %H:%M:%S"),
    }


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

    def _alive(_: dict[str, object]) -> bool:
        """Windows cannot be asked without a handle; it always has locks of its own."""
        return True

    def _begun(_: int) -> str:
        return ""

else:
    import fcntl

    def _try_lock(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _alive(owner: dict[str, object]) -> bool:
        """Whether an owner of this computer still runs; where that is unknown it is taken to."""
        process = owner.get("process")
        if not isinstance(process, int) or not 0 < process < 2**31:
            return True
        try:
            os.kill(process, 0)
        except ProcessLookupError:
            return False
        except OSError:
            return True
        begun, now = owner.get("begun"), _begun(process)
        return not begun or not now or begun == now

    def _begun(process: int) -> str:
        """When a process began, in the system's own words; empty where it does not say."""
        try:
            # proc(5): field 22 of stat, starttime; the second may hold spaces and brackets.
            return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[19]
        except (OSError, IndexError, UnicodeDecodeError):
            pass
        try:
            told = subprocess.run(
                ["ps", "-o", "lstart=", "-p", str(process)],
                capture_output=True,
                text=True,
                check=False,
                timeout=2,
            )
        except (OSError, subprocess.SubprocessError):
            return ""
        return told.stdout.strip()
