"""The reference in a photo: candidates, best first, and whether the best one convinces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from visualiser.errors import ReferenceNotFound
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.acceptance import confidence, log_odds
from visualiser.rectification.finder.candidates import distinct, judge_sheets, variants
from visualiser.rectification.finder.close_look import (
    Candidate,
    hold_against_each_other,
    look_around,
    look_closely,
    same_place,
)
from visualiser.rectification.finder.light_planes import LightPlanes, light_planes
from visualiser.rectification.finder.lone_marker import find_square_markers
from visualiser.rectification.finder.model import Judged
from visualiser.rectification.finder.target import CHECK_BAR_MM, find_target
from visualiser.rectification.finder.weighing import looks, misfit
from visualiser.rectification.kinds import (
    TARGETS,
    check_kind,
    is_white_paper,
    kind_in_words,
    marker_side_mm,
    reference_size,
)
from visualiser.rectification.reference import Reference
from visualiser.sizes import PaperSize, paper_names

CONVINCING = 2 / 3
"""A candidate below this confidence is not taken: a wrong scale costs more than four clicks."""
COMMON_KINDS = ("a4", "letter", "card")
"""What is looked for where nobody says what hangs there; and what is held against what was said."""
ALIKE = 0.02
"""Kinds whose ratios of sides differ by less, as a logarithm, are one shape: A4 and A3."""
OUTDONE = 0.3
"""Confidence at most of what another common kind fits better: below acceptance, still offered."""
DEMOTED = 0.1
"""Factor on the confidence of outlines elsewhere that did not convince, beside one that does."""
CLOSE = 2.0
"""The best must be this much likelier, in log-odds, than the next, or both are in doubt."""
SMALLEST_PX = 32
"""A photo less wide or high shows nothing that could be measured by."""
MAX_CANDIDATES = 8
HOPELESS, HOPELESS_SMALL = -2.0, -10.0
"""Votes at which no close look can help any more: of a sheet; and of a card, or what else is of any
colour, that corners off by two px already make another thing of."""
ALWAYS_LISTED = 3
"""As many are listed however unlikely, so that a person can pick."""


def find_references(
    photo: Photo, kind: str | None = None, *, measured_bar_mm: float = CHECK_BAR_MM
) -> list[Reference]:
    """Look for something of known size in a photo.

    Parameters
    ----------
    photo
        The photo.
    kind
        A paper size, ``card``, ``target`` or ``target-letter``; the size of a rectangle as the
        trade writes it, such as ``4 x 6 in``; or a printed ArUco or AprilTag marker by the side of
        its black square, such as ``marker 100 mm``. Without one the common kinds are tried.
    measured_bar_mm
        What the check bar of a printed target measures, where it is not 100 mm.

    Returns
    -------
    Candidates, best first, maybe none. `convincing` says whether the best can be trusted.

    Raises
    ------
    SizeError, UnitError
        If the kind is unknown, or no size.
    """
    if kind is None:
        every = [one for name in COMMON_KINDS for one in find_references(photo, name)]
        return sorted(every, key=lambda one: -one.confidence)
    kind = check_kind(kind)
    if kind in TARGETS:
        return find_target(photo, kind, measured_bar_mm)
    side_mm = marker_side_mm(kind)
    if side_mm is not None:
        return find_square_markers(photo, side_mm)
    if min(photo.width_px, photo.height_px) < SMALLEST_PX:
        return []
    size = reference_size(kind)
    planes = light_planes(photo.pixels)
    judged = judge_sheets(planes, photo, size)
    outlines = distinct(judged)
    hopeless = HOPELESS if is_white_paper(size) else HOPELESS_SMALL
    found = []
    for i, one in enumerate(outlines[:MAX_CANDIDATES]):
        if i >= ALWAYS_LISTED and one.log_odds <= hopeless:
            continue
        looks = [look_closely(photo, planes, size, one)]
        if one.log_odds > HOPELESS and looks[0].log_odds < CLOSE:
            others = [v for v in variants(judged, one) if v.log_odds > HOPELESS]
            looks += [look_closely(photo, planes, size, other) for other in others]
        found.append(max(looks, key=lambda look: look.log_odds))
    if is_white_paper(size):
        found = hold_against_each_other([look_around(one, outlines) for one in found])
    found.sort(key=lambda candidate: -candidate.log_odds)
    references = [_as_reference(size, candidate) for candidate in found]
    if is_white_paper(size) or size.name == "card":
        if not references or references[0].confidence < CONVINCING:
            references = _with_learned(photo, planes, size, outlines, references)
        references = [_against_other_kinds(photo, one) for one in references]
        references.sort(key=lambda one: -one.confidence)
    return references


def convincing(candidates: Sequence[Reference]) -> Reference:
    """Take the best candidate if it can be trusted.

    Raises
    ------
    ReferenceNotFound
        If there is none, none convinces, or two are equally likely.
    """
    if not candidates:
        raise ReferenceNotFound(
            "No reference was found in the photo.",
            hint="Photograph the whole sheet flat on the wall, or click its four corners.",
        )
    best = candidates[0]
    # What was read by its own pattern is not one of several that look alike.
    if best.origin == "clicked" or len(best.marks_px):
        return best
    if best.confidence < CONVINCING:
        doubt = f": {best.doubt}" if best.doubt else ""
        raise ReferenceNotFound(
            f"Nothing in the photo is surely {_called(best.kind)}; the best candidate is not "
            f"trusted{doubt}.",
            hint="Photograph the whole of it on the wall, sharp and in even light, or click its "
            "four corners.",
        )
    rivals = [
        c
        for c in candidates[1:]
        if _log_odds(best) - _log_odds(c) < CLOSE and not same_place(best.corners_px, c.corners_px)
    ]
    if rivals:
        raise ReferenceNotFound(
            f"Two objects in the photo look equally like {_called(best.kind)}.",
            hint="Take one of them down, or click the four corners of the one to measure from.",
        )
    return best


def _with_learned(
    photo: Photo,
    planes: LightPlanes,
    size: PaperSize,
    outlines: Sequence[Judged],
    judged: Sequence[Reference],
) -> list[Reference]:
    """Put what the network sees beside the judged outlines, and before them where it convinces."""
    weighed = [(log_odds(one.features), one) for one in looks(photo, planes, size, outlines)]
    weighed.sort(key=lambda pair: -pair[0])
    learned: list[Reference] = []
    for odds, one in weighed:
        if all(not same_place(k.corners_px, one.corners_px) for k in learned):
            width, height = size.width_mm, size.height_mm
            sides = (width, height) if one.upright else (height, width)
            sure = confidence(odds)
            learned.append(
                Reference(size.name, one.corners_px, *sides, confidence=sure, sides=one.sides)
            )
    convinced = bool(learned) and learned[0].confidence >= CONVINCING
    kept = []
    for reference in judged:
        twin = next((k for k in learned if same_place(k.corners_px, reference.corners_px)), None)
        if twin is not None and twin.confidence > reference.confidence:
            continue
        if twin is not None:
            learned.remove(twin)
        factor = DEMOTED if convinced else 1.0
        kept.append(replace(reference, confidence=factor * reference.confidence))
    return sorted([*learned, *kept], key=lambda one: -one.confidence)[:MAX_CANDIDATES]


def _against_other_kinds(photo: Photo, reference: Reference) -> Reference:
    """Doubt a reference whose shape another common kind fits better, and say which."""
    size = reference_size(reference.kind)
    own = misfit(photo, reference.corners_px, size)
    for name in COMMON_KINDS:
        other = reference_size(name)
        alike = abs(float(np.log(other.aspect / size.aspect))) < ALIKE
        if alike or is_white_paper(other) != is_white_paper(size):
            continue
        if misfit(photo, reference.corners_px, other) < own:
            return replace(
                reference,
                confidence=min(reference.confidence, OUTDONE),
                doubt=f"it looks like {_called(name)}",
            )
    return reference


def _as_reference(size: PaperSize, found: Candidate) -> Reference:
    width, height = size.width_mm, size.height_mm
    if not found.upright:
        width, height = height, width
    return Reference(
        size.name,
        found.corners_px,
        width,
        height,
        confidence=float(1 / (1 + np.exp(-found.log_odds))),
        sides=found.sides,
        doubt=_doubt(found.votes, size, found.ratio),
    )


def _called(kind: str) -> str:
    article = "the" if kind in TARGETS or (kind in paper_names() and kind != "card") else "a"
    return f"{article} {kind_in_words(kind)}"


def _doubt(votes: dict[str, float], size: PaperSize, ratio: float) -> str:
    """Say in words what speaks most against a candidate."""
    name = min(votes, key=lambda vote: votes[vote])
    if votes[name] > -1:
        return ""
    if name == "rectangle":
        seen = max(ratio, 1 / ratio)
        wanted = max(size.aspect, 1 / size.aspect)
        if abs(seen / wanted - 1) > 0.02:
            return f"it is {seen:.2f} times as long as it is wide, not {wanted:.2f}"
        return "its corners are not those of a rectangle"
    return _DOUBTS.get(name, "")


_DOUBTS = {
    "edges": "its edges hardly stand out",
    "support": "its edges do not show all along its sides",
    "unbroken": "one of its sides breaks off: something of its colour goes on there",
    "askew": "its edges lie beside others that were as likely",
    "telling": "it is too small in the picture for its shape to tell",
    "distance": "it would be very far away",
    "near": "it would be nearer than walls are photographed from",
    "facing": "it is seen very much from the side",
    "even": "its sides are not of one colour",
    "whole": "it runs into the edge of the picture",
    "smooth": "it is not as smooth as paper",
    "free": "it has a frame around it",
    "rimmed": "it has a frame around it",
    "flat": "it casts a shadow, as a frame or a canvas does",
    "one edge": "something of its own colour adjoins it",
    "loose": "it lies in the middle of a larger rectangle, as a print does in its mat",
    "straight": "its sides are not straight",
    "rounded": "its corners are not rounded as a card's are",
    "own corners": "its edges run on past its corners",
    "alone": "it borders on several things",
    "one wall": "it borders on several things",
    "rare": "the picture holds several like it",
    "plain": "there is a picture on it, or it is dark inside",
    "brightest": "things around it are lighter than it is",
    "lighter": "it is darker than what surrounds it",
    "white": "it is not white",
    "whitest": "something else in the picture is whiter",
    "blankest": "there is a picture on it, and something else in the photo is blank",
    "seen close": "its edges are not found again at full resolution",
    "bluer": "it is yellower than what surrounds it",
}


def _log_odds(reference: Reference) -> float:
    p = float(np.clip(reference.confidence, 1e-6, 1 - 1e-6))
    return float(np.log(p / (1 - p)))
