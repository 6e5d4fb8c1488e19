"""Doubtful finds, kept as questions: whether an outline is the sheet, and of which size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from visualiser.geometry import PointsPx
from visualiser.rectification.finder.close_look import same_place
from visualiser.rectification.kinds import reference_kind
from visualiser.rectification.reference import Reference

WORTH_ASKING = 0.03
"""Probability below which only the best guess is shown: a person sees soon enough that it is not
it, and no one wants to look at three of those."""
MOST_ASKED = 3


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """A doubtful find to show in the photo for a tap.

    Parameters
    ----------
    readings
        What it may be, likeliest first: one outline, as the kind looked for and as each other
        common kind that its shape fits as well.
    """

    readings: tuple[Reference, ...]

    @property
    def corners_px(self) -> PointsPx:
        """(4, 2) corners in the photo: top-left, top-right, bottom-right, bottom-left as seen."""
        return self.readings[0].corners_px

    @property
    def probability(self) -> float:
        """Probability of being what was looked for."""
        return self.readings[0].confidence

    @property
    def kinds(self) -> tuple[str, ...]:
        """Kinds it may be, likeliest first."""
        return tuple(reading.kind for reading in self.readings)

    def confirmed(self, kind: str | None = None) -> Reference:
        """Take it as a person's answer.

        Parameters
        ----------
        kind
            Which of `kinds` it is; the likeliest where none is given.

        Raises
        ------
        ValueError
            If it may not be of that kind.
        """
        kind = kind or self.readings[0].kind
        for reading in self.readings:
            if reading.kind == kind:
                return replace(reading, confidence=1.0, origin="clicked", doubt="", may_be=())
        raise ValueError(f"expected one of {', '.join(self.kinds)}, got {kind!r}")


def questions(candidates: Sequence[Reference], most: int = MOST_ASKED) -> tuple[Question, ...]:
    """List the doubtful finds worth showing for a tap, likeliest first.

    Parameters
    ----------
    candidates
        As `find_references` gives them.
    most
        How many at most.
    """
    asked: list[Question] = []
    for one in candidates:
        known = next((q for q in asked if same_place(q.corners_px, one.corners_px)), None)
        if known is not None:
            if one.kind not in known.kinds:
                asked[asked.index(known)] = Question((*known.readings, one))
            continue
        if asked and one.confidence < WORTH_ASKING:
            continue
        readings = [one, *(_as_kind(one, name) for name in one.may_be)]
        asked.append(Question(tuple(sorted(readings, key=lambda r: -r.confidence))))
    return tuple(asked[:most])


def _as_kind(reference: Reference, kind: str) -> Reference:
    """Read the same outline as of another kind, lying or standing as it does."""
    size = reference_kind(kind).size
    short, long = sorted((size.width_mm, size.height_mm))
    lying = reference.width_mm > reference.height_mm
    width, height = (long, short) if lying else (short, long)
    return replace(reference, kind=kind, width_mm=width, height_mm=height, doubt="", may_be=())
