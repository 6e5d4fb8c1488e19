"""Whether references and taped lengths can all be true, and which of them to doubt where not.

Two that contradict each other are each explained well alone and badly together: the squared misfit
of the joint fit exceeds that of the two alone by more than chance gives. Averaging them would spoil
both. The one that was typed is doubted before the one that is printed to a standard; where nothing
tells, the stated ± takes in both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.rectification.camera.adjustment import Solution, adjust
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.projection import (
    CAMERA_SIZE,
    CameraState,
    rotation_from_vector,
)
from visualiser.rectification.camera.reference_observation import TURN, ReferenceObservation, X, Y
from visualiser.rectification.kinds import kind_in_words, make_of
from visualiser.rectification.reference import Reference
from visualiser.wording import Lengths, sentence

Array = NDArray[np.float64]

SHARED = 8
"""What two references on one wall have in common: the lens's five parameters, the distance and two
leans of the wall. So many degrees of freedom has the misfit by which they contradict each other."""
LIMIT = 26.124
"""One pair in a thousand that does not contradict itself is taken for one that does: the 99.9 %
point of chi² with eight degrees of freedom (NIST/SEMATECH e-Handbook, 1.3.6.7.4)."""
TYPED_WRONG = 0.9
"""Chance that of a typed size and a standard's it is the typed one that is wrong (common practice,
no source)."""
HELD_LENS = np.array([1e-5, 1e-5, 1e-5, 1e-2, 1e-2]) ** 2
"""Variances that hold a lens where it is: log focal, k1, k2 and the centre, px."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """By how much two references contradict each other.

    Parameters
    ----------
    squared
        Squared misfit of both together beyond that of each alone, in sigmas.
    log_size
        Logarithm of the further one's size, measured by the first, over its own.
    """

    squared: float
    log_size: float

    @property
    def is_one(self) -> bool:
        """Whether chance does not give so much."""
        return self.squared > LIMIT


def disagreement(
    before: Solution, joined: Solution, observation: ReferenceObservation, index: int
) -> Disagreement:
    """Hold a further reference against the fit that it is to join.

    Parameters
    ----------
    before, joined
        The fit without it and with it.
    observation
        The further reference.
    index
        Its place among the joint fit's observations.
    """
    camera, own = joined.camera, joined.own[index]
    about = rotation_from_vector(np.array([0.0, 0.0, float(own[TURN])]))
    place = camera.translation_mm + camera.rotation @ np.array([own[X], own[Y], 0.0])
    start = CameraState(camera.rotation @ about, place, before.camera.lens)
    held = LensPrior(before.camera.lens, np.diag(HELD_LENS))
    alone = adjust(start, [replace(observation, at_origin=True)], held)
    squared = joined.cost - before.cost - alone.cost
    # Seen alone it lies where its own size puts it; on the wall so far its pixels span another.
    normal = before.camera.rotation[:, 2]
    ray = alone.camera.translation_mm / np.linalg.norm(alone.camera.translation_mm)
    on_wall = ray * float(normal @ before.camera.translation_mm) / float(normal @ ray)
    log_size = np.log(np.linalg.norm(on_wall) / np.linalg.norm(alone.camera.translation_mm))
    return Disagreement(float(squared), float(log_size))


def contradiction_finding(first: Reference, further: Reference, found: Disagreement) -> Finding:
    """Say which two contradict each other, by how much, and which one to doubt."""
    one, other = in_words(first), in_words(further)
    times = float(np.exp(found.log_size))
    seen = Lengths((further.width_mm * times, further.height_mm * times), " × ", 1)
    typed = [_is_typed(first), _is_typed(further)]
    doubt: str
    if typed == [True, False]:
        doubt = sentence("Doubt the ", one, " first: measure it again and type its size.")
    elif typed == [False, True]:
        doubt = sentence("Doubt the ", other, " first: measure it again and type its size.")
    else:
        doubt = "Measure both with a ruler, or type one length taped on the wall."
    return Finding(
        "advice",
        sentence(
            "The ",
            one,
            " and the ",
            other,
            " contradict each other: measured by the first, the other is ",
            seen,
            ". It was left out, and ± takes in both.",
        ),
        doubt,
        "references-contradict",
    )


def contradiction_spread(
    solution: Solution, first: Reference, further: Reference, found: Disagreement
) -> Solution:
    """Widen a fit by what its scale would be were the other reference right."""
    typed = [_is_typed(first), _is_typed(further)]
    share = 0.5 if typed[0] == typed[1] else TYPED_WRONG if typed[0] else 1 - TYPED_WRONG
    return _scale_doubted(solution, found.log_size, share)


def doubt_reference(
    solution: Solution, first: Reference, logs: Sequence[float], sigmas: Sequence[float]
) -> tuple[Solution, Finding] | None:
    """Doubt the reference where taped lengths agree with each other and not with it.

    Parameters
    ----------
    solution
        The fit, in the reference's scale.
    first
        The reference.
    logs, sigmas
        Logarithm of each taped length over what the photo says, and its sigma by reading and
        clicks alone.

    Returns
    -------
    The fit with its scale in doubt and word of it; None where the lengths do not agree either.
    """
    if len(logs) < 2:
        return None
    from scipy.special import chdtri  # takes longer to load than a command that needs none of it

    weight = 1 / np.square(sigmas)
    mean = float(np.average(logs, weights=weight))
    if float((np.square(np.asarray(logs) - mean) * weight).sum()) > chdtri(len(logs) - 1, 1 - 0.99):
        return None
    times, named = float(np.exp(mean)), in_words(first)
    finding = Finding(
        "advice",
        sentence(
            f"The {len(logs)} taped lengths agree with each other and contradict the ",
            named,
            ": by them it measures ",
            Lengths((first.width_mm * times, first.height_mm * times), " × ", 1),
            ". ± takes in both.",
        ),
        sentence("Doubt the ", named, " first: measure it with a ruler and type its size."),
        "reference-doubted",
    )
    return _scale_doubted(solution, mean, TYPED_WRONG), finding


def _scale_doubted(solution: Solution, log_size: float, share: float) -> Solution:
    """Widen a fit by a scale that another has with this chance."""
    scaled = np.zeros(CAMERA_SIZE)
    scaled[3:6] = solution.camera.translation_mm * log_size
    return replace(solution, covariance=solution.covariance + share * np.outer(scaled, scaled))


def _is_typed(reference: Reference) -> bool:
    match make_of(reference.kind):
        case "marker" | "rectangle":
            return True
        case "sheet" | "card" | "target":
            return False


def in_words(reference: Reference) -> str:
    """Name a reference as people do, by its size where that was typed."""
    if reference.kind == "custom":
        return sentence(
            "rectangle typed ", Lengths((reference.width_mm, reference.height_mm), " × ", None)
        )
    return kind_in_words(reference.kind)
