"""Lay a plan on a plane, look for its pieces there, and say how well the two agree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from visualiser.hanging.frame_box import HungFrame
from visualiser.hanging.frame_search import Located
from visualiser.hanging.registration import lay_plan, shifted
from visualiser.hanging.sightings import first_look
from visualiser.inventory.piece import Piece
from visualiser.photo.photo import Photo
from visualiser.rectification.plane import WallPlane


@dataclass(frozen=True, slots=True)
class Laid:
    """A plan laid on a plane: where every piece should be, and the pieces found near there."""

    places: list[HungFrame]
    found: Mapping[int, Located]

    @property
    def clear(self) -> int:
        """How many pieces are seen beyond doubt."""
        return sum(hit.clear for hit in self.found.values())

    @property
    def evidence(self) -> float:
        """How well the pieces that were found agree with what is seen, summed over them."""
        return sum(hit.agreement for hit in self.found.values() if hit.convincing)


def laid_on(
    photo: Photo, plane: WallPlane, pieces: Sequence[Piece], planned: Sequence[HungFrame]
) -> Laid:
    """Lay the plan on a plane, and look for every piece near its place there."""
    dx, dy, _ = lay_plan(photo.pixels, plane, planned)
    places = shifted(planned, dx, dy)
    return Laid(places, first_look(photo.pixels, plane, pieces, places))
