"""A finding: something worth telling the person, that is not an error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "advice", "caution", "broken"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found, in plain words, and what to do about it.

    Parameters
    ----------
    severity
        ``note`` for information, ``advice`` where the result could be better, ``caution`` where
        somebody or something could come to harm, ``broken`` for a hard rule that is not kept.
    text
        One sentence: what was found, with the measured value.
    hint
        One sentence: what to do; empty when nothing needs doing.
    code
        Stable short name for programs, such as ``level-from-sheet``.
    piece_ids
        Pieces concerned, if any.
    """

    severity: Severity
    text: str
    hint: str = ""
    code: str = ""
    piece_ids: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.text} {self.hint}".strip()
