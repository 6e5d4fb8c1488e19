"""What stops a paper: dangerous places of pieces that nobody answers for in words."""

from __future__ import annotations

from collections.abc import Sequence

from visualiser.arrangement.arrangement import Arrangement
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.rules import check_arrangement
from visualiser.errors import HangingError
from visualiser.findings import Finding
from visualiser.survey.survey import Survey

DANGEROUS = ("outside", "zone", "furniture", "overlap")
"""Rules whose breach can hurt: past the wall's end, on or beside a switch or a pipe, behind
furniture, two pieces at one place."""


def dangers(
    arrangement: Arrangement, survey: Survey, guidelines: Guidelines | None = None
) -> tuple[Finding, ...]:
    """Find what is dangerous in an arrangement, by the rules it was to keep.

    Parameters
    ----------
    arrangement
        Pieces and places, proposed or placed by hand.
    survey
        The wall they hang on.
    guidelines
        The rules; the usual ones when None.
    """
    found = check_arrangement(arrangement, survey, guidelines or Guidelines())
    return tuple(f for f in found if f.severity == "broken" and f.code in DANGEROUS)


def refuse_dangers(found: Sequence[Finding], accepted: str) -> None:
    """Stop where something dangerous was found and nobody answers for it in words.

    Parameters
    ----------
    found
        Of `dangers`.
    accepted
        What the person says to it; it is printed on every paper.

    Raises
    ------
    HangingError
        If there is a danger and no word.
    """
    if not found or accepted.strip():
        return
    more = len(found) - 1
    also = f" (and {more} more)" if more else ""
    raise HangingError(
        f"No paper is printed for this arrangement: {found[0].text}{also}",
        hint=f"{found[0].hint} Or say in your own words why it may hang there all the same: they "
        "are printed on every paper.",
    )
