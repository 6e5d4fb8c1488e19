"""Studs behind a wall's board: where they were found, and where others follow from their spacing.

A stud is a mark on the wall like any other: found with a detector and typed, in survey mm. Where
the spacing is known as well, one that was found gives the others; each is still to be checked with
the detector before a hole is made.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from visualiser.errors import MeasurementError
from visualiser.units import MM_PER_INCH
from visualiser.wording import Length, sentence

USUAL_SPACINGS_MM = (400.0, 600.0, 16 * MM_PER_INCH, 24 * MM_PER_INCH)
"""Centres of studs: 16 and 24 in, IRC table R602.3(5); 400 and 600 mm with metric boards, common
practice, no source."""
STUD_WIDTH_MM = 38.0
"""A nominal 2 in stud is 1 1/2 in wide: common practice, no source."""
CLOSEST_MM = 100.0


@dataclass(frozen=True, slots=True)
class Studs:
    """What is known of a wall's studs.

    Parameters
    ----------
    found_mm
        Centres of studs that were found with a detector, survey mm from the side datum.
    spacing_mm
        Between the centres of neighbours; None where that is not known.
    """

    found_mm: tuple[float, ...] = ()
    spacing_mm: float | None = None

    def __post_init__(self) -> None:
        if not all(math.isfinite(x) for x in self.found_mm):
            raise MeasurementError("A stud has no place.", hint="Give its distance from the side.")
        if self.spacing_mm is not None and not CLOSEST_MM <= self.spacing_mm < 2000:
            raise MeasurementError(
                sentence("Studs ", Length(self.spacing_mm, None), " apart are not built."),
                hint="Give the distance between their centres: 400 or 600 mm, 16 or 24 in.",
            )

    @property
    def known(self) -> bool:
        """Whether any stud was found: a spacing alone places none."""
        return bool(self.found_mm)

    def between(self, left_mm: float, right_mm: float) -> tuple[float, ...]:
        """List the studs in a part of the wall, ascending: found, or following from one found.

        Examples
        --------
        >>> Studs((500.0,), 400.0).between(0, 1400)
        (100.0, 500.0, 900.0, 1300.0)
        """
        places = {x for x in self.found_mm if left_mm <= x <= right_mm}
        if self.found_mm and self.spacing_mm:
            first = self.found_mm[0]
            low = math.ceil((left_mm - first) / self.spacing_mm)
            high = math.floor((right_mm - first) / self.spacing_mm)
            for step in range(low, high + 1):
                x = first + step * self.spacing_mm
                # One found just outside the part asked for rules it out as well as one inside.
                if all(abs(x - found) >= CLOSEST_MM for found in self.found_mm):
                    places.add(x)
        return tuple(sorted(places))


NO_STUDS = Studs()
"""Nothing is known of the studs."""
