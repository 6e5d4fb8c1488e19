"""Kill a piece of work before each of its steps on the disk in turn, and look at what is left.

A step is what changes the disk: a file opened to be written, flushed, renamed, linked or removed, a
folder made, flushed or removed. Python names the steps itself, before it takes them (PEP 578), but
for flushing. The work is done in a process of its own, which kills itself with SIGKILL. It is
forked from a server that has never run a thread: a lock that another thread of the tests holds at
the moment of a fork stays locked in the child for ever.
"""

import multiprocessing
import os
import signal
import sys

_CHANGES = {"os.rename", "os.link", "os.remove", "os.mkdir", "os.rmdir", "os.truncate"}


def changes(event, arguments, folder):
    """Whether something that Python is about to do changes the disk below a folder."""
    if event == "open":
        path, mode, flags = arguments
        writes = any(c in (mode or "") for c in "wxa+") or (
            isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR)
        )
        return bool(writes) and str(path).startswith(folder)
    return event in _CHANGES and str(arguments[0]).startswith(folder)


_CLEAN = multiprocessing.get_context("forkserver") if os.name == "posix" else None
if _CLEAN:  # what most works need, so that no child imports it anew
    _CLEAN.set_forkserver_preload(["visualiser", "visualiser.project.batch", "tests.faults.works"])


def killed_before(number, work, folder, *given):
    """Do the work in a process of its own, killed before its step of that number.

    Parameters
    ----------
    work : callable
        A module's own function; it is called with what is given.

    Returns
    -------
    Whether it was killed; False where the work has fewer steps, and was done.
    """
    child = _CLEAN.Process(target=_work, args=(number, work, str(folder), given))
    child.start()
    child.join()
    if child.exitcode == -signal.SIGKILL:
        return True
    assert child.exitcode == 0, "the work failed by itself"
    return False


def _work(number, work, folder, given):
    _die_before(number, folder)
    work(*given)


def _die_before(number, folder):
    left = [number]

    def step():
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    flush = os.fsync

    def fsync(handle):
        step()
        flush(handle)

    os.fsync = fsync
    sys.addaudithook(lambda event, given: step() if changes(event, given, folder) else None)
