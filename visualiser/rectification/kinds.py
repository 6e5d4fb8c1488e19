"""The kinds of reference a person may ask for: by name, or by a typed size."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal, assert_never

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
Make = Literal["sheet", "card", "target", "marker", "rectangle"]
"""What a reference is made of: a sheet of office paper, a bank card, our printed target, a printed
square marker, or anything rectangular whose sides were typed."""
CARD_THICKNESS_MM = 0.76
"""ISO/IEC 7810 (from memory)."""
PAPER_THICKNESS_MM = 0.1
"""Office paper of 80 g/m² (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ReferenceKind:
    """A kind of reference: how large it is, and what is known of how it looks.

    Parameters
    ----------
    name
        As `check_kind` returns it.
    make
        What it is made of.
    size
        Its sides; those of a target are its paper's.
    """

    name: str
    make: Make
    size: PaperSize

    @property
    def is_white(self) -> bool:
        """Whether it is white paper; a card, or a thing of typed size, may be of any colour."""
        match self.make:
            case "sheet" | "target":
                return True
            case "card" | "marker" | "rectangle":
                return False
            case _:
                assert_never(self.make)


_NAMED: dict[str, ReferenceKind] = {
    kind.name: kind
    for kind in (
        *(
            ReferenceKind(name, "card" if name == "card" else "sheet", paper_size(name))
            for name in paper_names()
        ),
        *(ReferenceKind(name, "target", paper_size(sheet)) for name, sheet in TARGETS.items()),
    )
}
"""Every kind that has a name of its own."""


def kind_names() -> tuple[str, ...]:
    """Every kind of reference that can be asked for by name."""
    return tuple(_NAMED)


def check_kind(kind: str) -> str:
    """Bring a kind into its usual form: a name, or a size or a marker's side in millimetres.

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
                hint=f"Give the side of its black square, {SHORTEST_MM:.0f} mm to "
                f"{LONGEST_MM / 1000:.0f} m.",
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


def make_of(kind: str) -> Make:
    """Sort a kind, in its usual form, by what it is made of; what has no name is a rectangle."""
    if kind in _NAMED:
        return _NAMED[kind].make
    return "rectangle" if marker_side_mm(kind) is None else "marker"


def thickness_mm_of(make: Make) -> float:
    """Thickness of what is taped up; of a thing of typed size that of paper, which is likeliest."""
    match make:
        case "card":
            return CARD_THICKNESS_MM
        case "sheet" | "target" | "marker" | "rectangle":
            return PAPER_THICKNESS_MM
        case _:
            assert_never(make)


def reference_kind(kind: str) -> ReferenceKind:
    """Look up a kind by name, or read it from a typed size.

    Raises
    ------
    SizeError, UnitError
        As `check_kind`.

    Examples
    --------
    >>> reference_kind("102 x 152 mm").size.height_mm
    152.0
    >>> reference_kind("A4").is_white, reference_kind("card").is_white
    (True, False)
    """
    name = check_kind(kind)
    if name in _NAMED:
        return _NAMED[name]
    side_mm = marker_side_mm(name)
    sides_mm = parse_size(name) if side_mm is None else (side_mm, side_mm)
    return ReferenceKind(name, make_of(name), PaperSize(name, *sides_mm, CUT_MM, CUT_MM))


def kind_in_words(kind: str) -> str:
    """Write a kind as people do.

    Examples
    --------
    >>> kind_in_words("a4"), kind_in_words("letter"), kind_in_words("card")
    ('A4 sheet', 'Letter sheet', 'bank card')
    """
    make = make_of(kind)
    match make:
        case "card":
            return "bank card"
        case "target":
            return "printed target"
        case "sheet":
            return f"{kind.capitalize()} sheet"
        case "marker":
            return f"square {kind}"
        case "rectangle":
            return "rectangle" if kind == "custom" else f"rectangle of {kind}"
        case _:
            assert_never(make)


def with_article(kind: str) -> str:
    """Write a kind with its article: there are many cards, and one size of A4.

    Examples
    --------
    >>> with_article("letter"), with_article("card")
    ('the Letter sheet', 'a bank card')
    """
    make = make_of(kind)
    match make:
        case "sheet" | "target":
            return f"the {kind_in_words(kind)}"
        case "card" | "marker" | "rectangle":
            return f"a {kind_in_words(kind)}"
        case _:
            assert_never(make)
