"""What a batch has made so far, kept on the disk so that it goes on where it was cut off."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from visualiser.errors import ProjectError
from visualiser.project.batch import Made, fingerprint, place_of
from visualiser.project.batch_list import BatchItem
from visualiser.project.locking import held
from visualiser.project.writing import unwritable


class Ledger:
    """Journal beside a list: a line of JSON for each file made, flushed to the disk as it is made.

    Held by one batch at a time. A last line that was cut off counts as not written.

    Parameters
    ----------
    listing
        The batch's list; the journal is called after it.
    """

    def __init__(self, listing: Path) -> None:
        self.place = listing.with_name(listing.name + ".made")
        self._lines: dict[str, tuple[str, str, tuple[str, ...]]] = {}

    def __enter__(self) -> Self:
        self._holding = held(self.place.with_name(self.place.name + ".lock"))
        self._holding.__enter__()
        try:
            self._file = self.place.open("a+b")
            self._file.seek(0)
            whole, _, _ = self._file.read().rpartition(b"\n")
            self._file.truncate(len(whole) + 1 if whole else 0)
        except OSError as error:
            self._holding.__exit__(None, None, None)
            raise unwritable(self.place, error) from error
        for line in whole.split(b"\n"):
            self._take(line)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._file.close()
        self._holding.__exit__(kind, error, trace)

    def kept(self, item: BatchItem, product: str) -> Made | None:
        """Find a file that is there already, made of the same things and untouched since."""
        place = place_of(item, product)
        made_of, sha256, cautions = self._lines.get(str(place), ("", "", ()))
        try:
            if not made_of or made_of != fingerprint(item):
                return None
            if hashlib.sha256(place.read_bytes()).hexdigest() != sha256:
                return None
        except (OSError, ProjectError):
            return None
        return Made(item, product, place, sha256, made_of, kept=True, cautions=cautions)

    def add(self, made: Made) -> None:
        """Note a file; it is on the disk when this returns.

        Raises
        ------
        ProjectError
            If the journal cannot be written.
        """
        file = str(made.file)
        entry = {
            "file": file,
            "made_of": made.fingerprint,
            "sha256": made.sha256,
            "cautions": list(made.cautions),
        }
        try:
            self._file.write(json.dumps(entry).encode() + b"\n")
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as error:
            raise unwritable(self.place, error) from error
        self._lines[file] = (made.fingerprint, made.sha256, made.cautions)

    def _take(self, line: bytes) -> None:
        """Take up one line; one that is not ours is passed over, and its file made again."""
        try:
            entry = json.loads(line)
            cautions = tuple(str(caution) for caution in entry.get("cautions", ()))
            made = (str(entry["made_of"]), str(entry["sha256"]), cautions)
            self._lines[str(entry["file"])] = made
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            return
