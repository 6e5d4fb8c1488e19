"""The kinds of reference a person may ask for: by name, or by a typed size."""

from __future__ import annotations

import re

from visualiser.errors import SizeError
from visualiser.sizes import PaperSize, paper_names, paper_size
from visualiser.units import parse_length, parse_size

TARGETS = {"target": "a4", "target-letter": "letter"}
"""Printed targets, and the paper each is printed on."""
SHORTEST_MM, LONGEST_MM = 20.0, 3000.0
"""Sides that a typed reference may have: smaller ones measure nothing."""
MAX_ASPECT = 3.5
"""How many times as long as wide it may be."""
CUT_MM = 1.0
"""Limits (±) assumed of a typed side: what a tape reading leaves open."""
_MARKER = re.compile(r"(?:square )?marker(?: of)?\s+(\d.*)", re.IGNORECASE)
_SIZE = re.compile(r"\d.*(?:[x×*]|by).*\d", re.IGNORECASE)


def kind_names() -> tuple[str, ...]:
    """Every kind of reference that can be asked for by name."""
    return (*paper_names(), *TARGETS)


def check_kind(kind: str) -> str:
    """Bring a kind into its usual form: a name, or a size in millimetres.

    Raises
    ------
    SizeError
        If no such kind is known, the hint lists those that are; or if a typed size is out of range.
    UnitError
        If what was typed as a size is not one.

    Examples
    --------
    >>> check_kind("Letter"), check_kind("6 x 4 in")
    ('letter', '101.6 x 152.4 mm')
    >>> check_kind("marker 4 in")
    'marker 101.6 mm'
    """
    name = kind.strip().lower()
    if name in kind_names():
        return name
    side_mm = marker_side_mm(name)
    if side_mm is not None:
        if not SHORTEST_MM <= side_mm <= LONGEST_MM:
            raise SizeError(
                f"A marker of {side_mm:g} mm cannot be measured from.",
                hint=f"Give the side of its black square, {SHORTEST_MM:.0f} mm or more.",
            )
        return f"marker {side_mm:g} mm"
    if not _SIZE.search(name):
        raise SizeError(
            f"“{kind}” is not a kind of reference known here.",
            hint=f"Use one of {', '.join(kind_names())}, a size such as 102 x 152 mm, or a "
            "printed marker by its black square, such as marker 100 mm.",
        )
    short, long = sorted(parse_size(kind))
    if not (short >= SHORTEST_MM and long <= min(LONGEST_MM, MAX_ASPECT * short)):
        raise SizeError(
            f"A reference of {kind.strip()} cannot be measured from.",
            hint=f"Use a rectangle at least {SHORTEST_MM:.0f} mm wide and at most "
            f"{LONGEST_MM / 1000:.0f} m long, at most {MAX_ASPECT} times as long as wide.",
        )
    return f"{short:g} x {long:g} mm"


def marker_side_mm(kind: str) -> float | None:
    """Read the side of a square marker from a kind such as ``marker 100 mm``.

    Returns
    -------
    The side of its black square, or None where the kind is another.

    Raises
    ------
    UnitError
        If what follows the word is no length.
    """
    typed = _MARKER.fullmatch(kind.strip())
    return None if typed is None else parse_length(typed.group(1), "mm")


def reference_size(kind: str) -> PaperSize:
    """Size of a sheet, a card or a rectangle of typed size.

    Raises
    ------
    SizeError, UnitError
        As `check_kind`; also if the kind is a target, which has no outline to look for.

    Examples
    --------
    >>> reference_size("102 x 152 mm").height_mm
    152.0
    """
    name = check_kind(kind)
    side_mm = marker_side_mm(name)
    if side_mm is not None:
        return PaperSize(name, side_mm, side_mm, CUT_MM, CUT_MM)
    if name in paper_names() or name in TARGETS:
        return paper_size(name)
    width, height = parse_size(name)
    return PaperSize(name, width, height, CUT_MM, CUT_MM)


def kind_in_words(kind: str) -> str:
    """Write a kind as people do.

    Examples
    --------
    >>> kind_in_words("a4"), kind_in_words("letter"), kind_in_words("card")
    ('A4 sheet', 'Letter sheet', 'bank card')
    """
    if kind == "card":
        return "bank card"
    if kind in TARGETS:
        return "printed target"
    if kind in paper_names():
        return f"{kind.capitalize()} sheet"
    if marker_side_mm(kind) is not None:
        return f"square {kind}"
    return f"rectangle of {kind}"


def is_white_paper(size: PaperSize) -> bool:
    """Whether it is office paper; a card, or a thing of typed size, may be of any colour."""
    return size.name != "card" and size.name in paper_names()
