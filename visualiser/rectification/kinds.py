"""The kinds of reference a person may ask for, by name."""

from __future__ import annotations

from visualiser.errors import SizeError
from visualiser.sizes import paper_names

TARGETS = {"target": "a4", "target-letter": "letter"}
"""Printed targets, and the paper each is printed on."""


def kind_names() -> tuple[str, ...]:
    """Every kind of reference that can be asked for."""
    return (*paper_names(), *TARGETS)


def check_kind(kind: str) -> str:
    """Bring the name of a kind into its usual form.

    Raises
    ------
    SizeError
        If no such kind is known; the hint lists those that are.
    """
    name = kind.strip().lower()
    if name not in kind_names():
        raise SizeError(
            f"“{kind}” is not a kind of reference known here.",
            hint=f"Use one of {', '.join(kind_names())}.",
        )
    return name
