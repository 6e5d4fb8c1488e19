"""Long work in a process of its own, so that it can be stopped and the page stays alive.

A thread cannot be stopped; a process can. What is handed over and what comes back is pickled
between this program and its own child, never read from outside.
"""

from __future__ import annotations

import os
import pickle
import secrets
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any
from weakref import WeakValueDictionary

from visualiser.errors import VisualiserError, is_memory_short, memory_short

_CHILD = "from visualiser.app.child_process import run_child; run_child()"
_SAID_IN = "VISUALISER_SAYS_IN"
"""Environment variable that names the file which a child writes its progress to."""


@dataclass(slots=True, weakref_slot=True, eq=False)
class ChildProcess:
    """A piece of work that goes on beside the page; its token names it, and nobody guesses it."""

    process: subprocess.Popen[bytes]
    answer: IO[bytes]
    said: Path
    begun_s: float = field(default_factory=time.monotonic)
    token: str = field(default_factory=lambda: secrets.token_urlsafe(12))
    _answered: tuple[bool, Any] | None = field(default=None, init=False)
    _reading: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        _BEGUN[self.token] = self

    @property
    def seconds(self) -> float:
        """How long it has been going on."""
        return time.monotonic() - self.begun_s

    @property
    def done(self) -> bool:
        """Whether it has ended, well or not."""
        return self.process.poll() is not None

    @property
    def words(self) -> str:
        """What it is doing, as it said last; empty where it has said nothing."""
        try:
            return self.said.read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            return ""

    def result(self) -> Any:
        """Give what came of it.

        Raises
        ------
        VisualiserError
            What the work raised, or that it was cut short.
        """
        with self._reading:
            if self._answered is None:
                self._answered = self._read()
        good, value = self._answered
        if not good:
            message, hint = value
            raise VisualiserError(message, hint=hint)
        return value

    def _read(self) -> tuple[bool, Any]:
        code = self.process.wait()
        self._forget_words()
        with self.answer:
            self.answer.seek(0)
            data = self.answer.read()
        if code != 0 or not data:
            return False, (
                "The work was cut short before it was finished.",
                "Try again; close other programs if memory is short.",
            )
        answered: tuple[bool, Any] = pickle.loads(data)
        return answered

    def stop(self) -> None:
        """End it at once."""
        self.process.kill()
        self.process.wait()
        self._forget_words()
        self.answer.close()

    def _forget_words(self) -> None:
        with suppress(OSError):
            self.said.unlink()


_BEGUN: WeakValueDictionary[str, ChildProcess] = WeakValueDictionary()


def has_ended(token: str) -> bool:
    """Whether the work of a token has ended, well or not; what nobody waits for any more has."""
    child = _BEGUN.get(token)
    return child is None or child.done


def words_of(token: str) -> str:
    """Read what the work of a token is doing; empty where it has written nothing."""
    child = _BEGUN.get(token)
    return "" if child is None else child.words.removesuffix(" …")


def start_process(function: Callable[..., Any], *arguments: Any) -> ChildProcess:
    """Start a function of this package in a process of its own.

    Parameters
    ----------
    function
        Found by its module and name in the child.
    arguments
        Values that can be pickled.

    Raises
    ------
    VisualiserError
        If there is no room for what is handed over.
    """
    try:
        with tempfile.TemporaryFile() as asked:
            pickle.dump((function, arguments), asked)
            asked.seek(0)
            answer = tempfile.TemporaryFile()  # noqa: SIM115 - closed with the result
            handle, said = tempfile.mkstemp(prefix="visualiser-", suffix=".txt")
            os.close(handle)
            process = subprocess.Popen(
                [sys.executable, "-c", _CHILD],
                stdin=asked,
                stdout=answer,
                env={**os.environ, _SAID_IN: said},
            )
    except OSError as error:
        raise VisualiserError(
            f"The work could not be begun: {(error.strerror or str(error)).lower()}.",
            hint="Make room in the folder for temporary files, then try again.",
        ) from error
    return ChildProcess(process, answer, Path(said))


def say_in_child(words: str) -> None:
    """Say, in the child, what it is doing now."""
    if place := os.environ.get(_SAID_IN):
        with suppress(OSError):
            Path(place).write_text(words, "utf-8")


def run_child() -> None:
    """Do, in the child, what was handed over on the standard input."""
    function, arguments = pickle.load(sys.stdin.buffer)
    try:
        answer = (True, function(*arguments))
    except VisualiserError as error:
        answer = (False, (error.message, error.hint))
    except Exception as error:
        if not is_memory_short(error):
            raise
        answer = (False, (memory_short().message, memory_short().hint))
    pickle.dump(answer, sys.stdout.buffer)
    sys.stdout.buffer.flush()
