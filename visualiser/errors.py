"""What can go wrong in a way that a person can mend, as one small tree.

::

    VisualiserError
    ├── UnitError            a length that cannot be read
    ├── SizeError            an unknown or impossible size
    ├── PhotoError           a picture that cannot be opened or used
    ├── MeasurementError     the wall cannot be measured from what was given
    │   └── ReferenceNotFound    no trustworthy object of known size
    ├── PieceError           a piece whose sizes or artwork contradict each other
    ├── ArrangementError     no arrangement can keep the rules
    ├── ColourError          colours that cannot be judged
    ├── HangingError         a plan that could not be hung
    ├── PrintingError        a page that could not hold what is asked of it
    └── ProjectError         a job folder that cannot be read or written
        └── ProjectChanged       someone else has saved it meanwhile

Each carries one sentence of what is wrong and one of what to do. Programmers' mistakes are
``ValueError`` and ``TypeError`` instead.
"""

from __future__ import annotations

LONGEST_WORDS = 1000
"""Characters of a message or a hint that are kept: what is quoted of a file may be a megabyte."""


def _cut_off(words: str) -> str:
    """Cut off words that nobody would read to their end; others stay the same value."""
    return words if len(words) <= LONGEST_WORDS else f"{words[: LONGEST_WORDS - 1]}…"


class VisualiserError(Exception):
    """Something a person can put right.

    Parameters
    ----------
    message
        One sentence: what is wrong.
    hint
        One sentence: what to do about it.
    """

    def __init__(self, message: str, *, hint: str) -> None:
        super().__init__(message)
        self.message = _cut_off(message)
        self.hint = _cut_off(hint)

    def __str__(self) -> str:
        return f"{self.message} {self.hint}"


class UnitError(VisualiserError):
    """A length that cannot be read."""


class SizeError(VisualiserError):
    """An unknown or impossible size."""


class PhotoError(VisualiserError):
    """A picture that cannot be opened or used."""


class MeasurementError(VisualiserError):
    """The wall cannot be measured from what was given."""


class ReferenceNotFound(MeasurementError):  # noqa: N818 - the name is part of the contract
    """No trustworthy object of known size is in the photo."""


class PieceError(VisualiserError):
    """A piece whose sizes or artwork contradict each other."""


class ArrangementError(VisualiserError):
    """No arrangement can keep the rules."""


class ColourError(VisualiserError):
    """Colours that cannot be judged."""


class HangingError(VisualiserError):
    """A plan that could not be hung."""


class PrintingError(VisualiserError):
    """A page that could not hold what is asked of it."""


class ProjectError(VisualiserError):
    """A job folder that cannot be read or written."""


class ProjectChanged(ProjectError):  # noqa: N818 - what happened, as ReferenceNotFound
    """Someone else has saved the job since it was opened here."""


_OUT_OF_MEMORY = -4
"""OpenCV's ``Error::StsNoMem``: it does not raise a MemoryError when memory is short."""


def is_memory_short(error: BaseException) -> bool:
    """Whether an exception says that memory is short, OpenCV's own way of saying so included."""
    told = type(error).__module__ == "cv2" and getattr(error, "code", 0) == _OUT_OF_MEMORY
    return told or isinstance(error, MemoryError)


def memory_short() -> VisualiserError:
    """Say that memory is short, and what to do about it."""
    return VisualiserError(
        "There was not enough memory.",
        hint="Close other programs, do fewer at once, or take a smaller photo.",
    )
