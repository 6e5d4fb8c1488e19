"""Kill a piece of work before each of its steps on the disk in turn, and look at what is left.

A step is what changes the disk: a file opened to be written, flushed, renamed, linked or removed, a
folder made, flushed or removed. Python names the steps itself, before it takes them (PEP 578), but
for flushing. The work is done in a forked process, which kills itself with SIGKILL.
"""

import os
import signal
import sys
import traceback

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


def killed_before(number, work, folder):
    """Do the work in a process of its own, killed before its step of that number.

    Returns
    -------
    Whether it was killed; False where the work has fewer steps, and was done.
    """
    child = os.fork()
    if child == 0:
        try:
            _die_before(number, str(folder))
            work()
        except BaseException:
            traceback.print_exc()
            os._exit(2)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL:
        return True
    assert os.WEXITSTATUS(status) == 0, "the work failed by itself"
    return False


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
