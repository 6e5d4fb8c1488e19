"""A finding: something worth a person's attention that is not an error."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

Severity = Literal["note", "advice", "caution", "broken"]
"""Lightest first."""
_WEIGHT: dict[Severity, int] = {name: k for k, name in enumerate(get_args(Severity))}


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

    @property
    def grave(self) -> bool:
        """Whether somebody or something could come to harm, or a hard rule is not kept."""
        return _WEIGHT[self.severity] >= _WEIGHT["caution"]


def gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Sort findings by severity, those of one severity as they came.

    Examples
    --------
    >>> gravest_first([Finding("note", "Small."), Finding("broken", "Not kept.")])[0].text
    'Not kept.'
    """
    return tuple(sorted(findings, key=lambda finding: -_WEIGHT[finding.severity]))
