"""Lengths as the trade writes them, read into millimetres and printed from them.

Everything inside is millimetres; feet, inches, fractions and decimal commas live here, at the edge.
Nothing is guessed: a bare number needs a default unit from the caller, and a comma that could mean
a thousand as well as a decimal is refused.

The inch is 25.4 mm exactly (International Yard and Pound Agreement, 1959).
"""

from __future__ import annotations

import math
import re
import unicodedata
from fractions import Fraction
from typing import Literal, get_args

from visualiser.errors import UnitError

Unit = Literal["mm", "cm", "m", "in", "ft"]
DecimalSign = Literal[".", ","]

MM_PER_INCH = 25.4
INCH_STEP = 16
"""Printed inches are rounded to 1/16."""
LONGEST_MM = 1e6
_MINUS = ("-", "\N{MINUS SIGN}")
_LONGEST_TEXT = 100

_MM: dict[Unit, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_INCH, "ft": 304.8}
_STEP_MM: dict[Unit, float] = {
    "mm": 1.0,
    "cm": 1.0,
    "m": 1.0,
    "in": MM_PER_INCH / INCH_STEP,
    "ft": MM_PER_INCH / INCH_STEP,
}
_FEWER_STEPS = {"ft": "in", "m": "cm", "cm": "mm"}  # what may follow in "2 ft 3 in"
_NAMES: dict[str, Unit] = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("in", "in.", "ins", "inch", "inches", '"'), "in"),
    **dict.fromkeys(("ft", "ft.", "foot", "feet", "'"), "ft"),
}
_SIGNS = str.maketrans(
    {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "⁄": "/", "∕": "/", "×": "x"}
    | dict.fromkeys("\u00a0\u2007\u2009\u202f\t", " ")
    | dict.fromkeys("‐‑–", "-")
)
_NUMBER = r"\d{1,3}(?:[ ]\d{3})+(?:[.,]\d+)?(?![\d/.,])|[.,]?\d[\d.,]*"
_TERM = re.compile(
    rf"""\s*(?:
        (?P<whole>\d+)(?:\s*-\s*|\s+)(?P<above>\d+)\s*/\s*(?P<below>\d+)   # 24 3/8, 24-3/8
      | (?P<top>\d+)\s*/\s*(?P<bottom>\d+)                                 # 3/8
      | (?P<number>{_NUMBER})                                              # 61.9, 61,9, 1 524
    )\s*(?P<unit>[a-z]+\.?|"|')?(?:\s*-(?=\s*\d))?""",
    re.VERBOSE | re.ASCII,
)


def parse_length(
    text: str, default_unit: Unit | None = None, decimal_sign: DecimalSign | None = None
) -> float:
    r"""Read one length.

    Parameters
    ----------
    text
        Such as ``24 3/8 in``, ``24⅜"``, ``2' 3 1/2"``, ``61.9 cm``, ``61,9 cm`` or ``1 524 mm``.
        After feet a bare number is inches.
    default_unit
        Unit of a number that has none; without it such a number is refused.
    decimal_sign
        The person's own decimal sign. Without it either sign is taken as decimal, except a comma
        before exactly three digits, which is refused as it may as well mark thousands.

    Returns
    -------
    Millimetres, 0 to 1 km.

    Raises
    ------
    UnitError
        If it is not a length, or could mean two.

    Examples
    --------
    >>> parse_length("24⅜″"), parse_length("2' 3 1/2\""), parse_length("61,9 cm")
    (619.125, 698.5, 619.0)
    """
    if len(text) > _LONGEST_TEXT:
        raise _unreadable(f"{text[:_LONGEST_TEXT]}…")
    if any(unicodedata.decomposition(c).startswith(("<super>", "<sub>")) for c in text):
        raise _unreadable(text)  # 10² is no 102
    terms = _terms(text, _plain(text), decimal_sign)
    total = Fraction(0)
    last: Unit | None = None
    for index, (number, named) in enumerate(terms):
        unit = named
        if unit is None and last == "ft":
            unit = "in"
        elif unit is None and len(terms) == 1:
            unit = default_unit
        if unit is None:
            raise UnitError(
                f"“{text}” does not say its unit.", hint="Add mm, cm, m, in or ft, as in 619 mm."
            )
        fits = last is None or unit == _FEWER_STEPS.get(last) or (last, unit) == ("m", "mm")
        whole_so_far = index == 0 or terms[index - 1][0].denominator == 1
        if not (fits and whole_so_far):
            raise UnitError(
                f"“{text}” mixes units in a way that is not one length.",
                hint="Write it in one unit, or as feet and inches: 2 ft 3 1/2 in.",
            )
        total += number * Fraction(_MM[unit]).limit_denominator(10)
        last = unit
    if total > LONGEST_MM:
        raise UnitError(f"“{text}” is longer than 1 km.", hint="Check the number and its unit.")
    return float(total)


def parse_place(
    text: str, default_unit: Unit | None = None, decimal_sign: DecimalSign | None = None
) -> float:
    """Read a place along a wall: a length to the right, or to the left with a minus sign.

    Returns
    -------
    Millimetres from where the wall is measured from, negative to its left.

    Raises
    ------
    UnitError
        If what follows the sign is not a length.

    Examples
    --------
    >>> parse_place("400 mm"), parse_place("−12 5/8 in"), parse_place("-320", "mm")
    (400.0, -320.675, -320.0)
    """
    bare = text.strip()
    left = bare[:1] in _MINUS
    length = parse_length(bare[1:] if left else text, default_unit, decimal_sign)
    return -length if left else length


def parse_size(
    text: str, default_unit: Unit | None = None, decimal_sign: DecimalSign | None = None
) -> tuple[float, float]:
    """Read a width and a height, such as ``24 x 30 in``, ``24⅜" × 30"`` or ``50 by 70 cm``.

    A side without a unit takes the other's.

    Returns
    -------
    Width and height, mm.

    Raises
    ------
    UnitError
        If it is not two lengths above 0.

    Examples
    --------
    >>> parse_size("24x30 in")
    (609.6, 762.0)
    """
    sides = re.split(r"\s*(?:x|\*|by)\s*", _plain(text))
    if len(sides) != 2 or not all(sides):
        raise UnitError(
            f"“{text}” is not a width and a height.", hint="Write them as in 24 x 30 in."
        )
    named = [_terms(text, side, decimal_sign)[-1][1] for side in sides]
    width, height = (
        parse_length(side, other or default_unit, decimal_sign)
        for side, other in zip(sides, (named[1], named[0]), strict=True)
    )
    if not (width > 0 and height > 0):
        raise UnitError(f"“{text}” has a side of 0.", hint="Give both sides above 0.")
    return width, height


def rounded_mm(length_mm: float, unit: Unit) -> float:
    """Nearest length that is printed in a unit: whole millimetres, or sixteenths of an inch.

    Halves go away from zero, so that a length and its mirror image round alike.
    """
    step = _STEP_MM[unit]
    return math.copysign(math.floor(abs(length_mm) / step + 0.5) * step, length_mm)


def round_up_mm(length_mm: float, unit: Unit) -> float:
    """Round up to what is printed in a unit, one step at least: for a ±.

    Examples
    --------
    >>> round_up_mm(4.2, "mm"), round_up_mm(0.0, "in")
    (5.0, 1.5875)
    """
    return _steps_up(length_mm, unit) * _STEP_MM[unit]


def _steps_up(length_mm: float, unit: Unit) -> int:
    return max(math.ceil(length_mm / _STEP_MM[unit] - 1e-9), 1)


def rounding_note(unit: Unit) -> str:
    """Say how printed lengths of a unit are rounded."""
    if unit in ("in", "ft"):
        return f"rounded to the nearest 1/{INCH_STEP} in (1.6 mm)"
    return "rounded to the nearest 1 mm"


def format_length(length_mm: float, unit: Unit) -> str:
    """Print a length to the trade's step: 1 mm, or 1/16 in.

    Examples
    --------
    >>> format_length(619.1, "in"), format_length(1524.2, "mm"), format_length(698.5, "ft")
    ('24 3/8 in', '1 524 mm', '2 ft 3 1/2 in')

    Raises
    ------
    ValueError
        If it is not finite, or the unit is unknown.
    """
    if not math.isfinite(length_mm) or unit not in get_args(Unit):
        raise ValueError(f"cannot print {length_mm!r} in {unit!r}")
    steps = round(abs(rounded_mm(length_mm, unit)) / _STEP_MM[unit])
    sign = "−" if length_mm < 0 and steps else ""
    if unit == "mm":
        return f"{sign}{_grouped(steps)} mm"
    if unit == "cm":
        return f"{sign}{_grouped(steps // 10)}.{steps % 10} cm"
    if unit == "m":
        return f"{sign}{_grouped(steps // 1000)}.{steps % 1000:03d} m"
    feet, sixteenths = divmod(steps, 12 * INCH_STEP) if unit == "ft" else (0, steps)
    inches = f"{_sixteenths(sixteenths)} in"
    return f"{sign}{feet} ft {inches}" if feet else f"{sign}{inches}"


def format_both(length_mm: float) -> str:
    """Print millimetres with inches beside them.

    Examples
    --------
    >>> format_both(1524)
    '1 524 mm (60 in)'
    """
    return f"{format_length(length_mm, 'mm')} ({format_length(length_mm, 'in')})"


def format_half_width(half_width_mm: float) -> str:
    """Print a half-width in mm and inches, rounded up: a ± never promises more than it holds.

    Examples
    --------
    >>> format_half_width(0.3)
    '± 1 mm (1/16 in)'
    >>> format_half_width(4.2)
    '± 5 mm (3/16 in)'
    """
    millimetres = format_length(round_up_mm(half_width_mm, "mm"), "mm")
    return f"± {millimetres} ({format_length(round_up_mm(half_width_mm, 'in'), 'in')})"


def format_uncertain(length_mm: float, half_width_mm: float, unit: Unit = "mm") -> str:
    """Print a measured length with its 95 % half-width, never rounded down to nothing.

    Examples
    --------
    >>> format_uncertain(1524, 3.2), format_uncertain(1524, 3.2, "in")
    ('1 524 mm ± 4', '60 in ± 3/16')
    """
    steps = _steps_up(half_width_mm, unit)
    if unit in ("in", "ft"):
        margin = _sixteenths(steps) + (" in" if unit == "ft" else "")
    else:
        margin = f"{steps / (_MM[unit] / _STEP_MM[unit]):g}"
    return f"{format_length(length_mm, unit)} ± {margin}"


def _plain(text: str) -> str:
    """One spelling for the many: vulgar fractions spelt out, one kind of each sign."""
    spelt = "".join(
        f" {unicodedata.normalize('NFKC', c)} "
        if unicodedata.decomposition(c)[:10] == "<fraction>"
        else c
        for c in text
    )
    plain = unicodedata.normalize("NFKC", spelt.translate(_SIGNS)).translate(_SIGNS)
    return re.sub(r" +", " ", plain.replace("''", '"')).strip().lower()


def _terms(
    text: str, plain: str, decimal_sign: DecimalSign | None
) -> list[tuple[Fraction, Unit | None]]:
    found: list[tuple[Fraction, Unit | None]] = []
    at = 0
    while at < len(plain):
        match = _TERM.match(plain, at)
        if match is None or match.end() == at:
            raise _unreadable(text)
        named = match["unit"]
        if named is not None and named not in _NAMES:
            raise UnitError(
                f"“{named}” in “{text}” is not a unit of length known here.",
                hint="Use mm, cm, m, in or ft.",
            )
        found.append((_number(text, match, decimal_sign), _NAMES[named] if named else None))
        at = match.end()
        if plain[at:].isspace():
            break
    if not found:
        raise _unreadable(text)
    return found


def _number(text: str, match: re.Match[str], decimal_sign: DecimalSign | None) -> Fraction:
    if match["number"] is not None:
        return _decimal(text, match["number"].replace(" ", ""), decimal_sign)
    above, below = int(match["above"] or match["top"]), int(match["below"] or match["bottom"])
    if below == 0 or (match["whole"] is not None and above >= below):
        raise UnitError(
            f"“{text}” holds {above}/{below}, which is no fraction of a unit.",
            hint="Write whole and fraction as in 24 3/8.",
        )
    return int(match["whole"] or 0) + Fraction(above, below)


def _decimal(text: str, number: str, decimal_sign: DecimalSign | None) -> Fraction:
    """Exact value of digits with at most one decimal sign and thousands marks of the other kind."""
    signs = [c for c in number if c in ".,"]
    decimal: str | None = decimal_sign
    if decimal is None and signs:
        decimal = signs[-1]
        if signs.count(decimal) > 1 or (
            signs == [","] and re.search(r"^[1-9]\d{0,2},\d{3}$", number)
        ):
            raise UnitError(
                f"“{number}” in “{text}” may mean thousands or a decimal.",
                hint="Write it without the comma, or with a point for the decimal.",
            )
    whole, _, part = number.partition(decimal) if decimal else (number, "", "")
    mark = "," if decimal == "." else "."
    ungrouped = re.fullmatch(r"\d*", whole) or re.fullmatch(
        rf"\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+", whole
    )
    if not ungrouped or not re.fullmatch(r"\d*", part) or number[-1] in ".,":
        raise _unreadable(text)
    return Fraction(f"{whole.replace(mark, '') or '0'}.{part or '0'}")


def _unreadable(text: str) -> UnitError:
    return UnitError(
        f"“{text}” is not a length.",
        hint="Write it as in 24 3/8 in, 2' 3 1/2\", 61.9 cm or 619 mm.",
    )


def _grouped(number: int) -> str:
    return f"{number:,}".replace(",", " ")


def _sixteenths(count: int) -> str:
    whole, rest = divmod(count, INCH_STEP)
    if not rest:
        return str(whole)
    part = Fraction(rest, INCH_STEP)
    fraction = f"{part.numerator}/{part.denominator}"
    return f"{whole} {fraction}" if whole else fraction
