"""The reference in a photo: candidates, best first, and whether the best one convinces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import assert_never

import numpy as np
from scipy.special import expit

from visualiser.errors import ReferenceNotFound
from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.finder.acceptance import (
    ACCEPTANCE,
    ANOTHER_KIND,
    CONTRADICTED,
    DOUBTS,
    EITHER,
    NOT_FOUND_AGAIN,
    SLOPE,
    WEIGHTS,
    against,
    is_either,
    log_odds,
    log_odds_of_another_kind,
    probability,
)
from visualiser.rectification.finder.candidates import distinct, judge_outlines, variants
from visualiser.rectification.finder.close_look import (
    Candidate,
    look_closely,
    same_place,
)
from visualiser.rectification.finder.common_size import (
    COMMON_KINDS,
    size_gain,
    thing_gain,
    thing_says,
    together,
)
from visualiser.rectification.finder.light_planes import LightPlanes, light_planes
from visualiser.rectification.finder.lone_marker import find_square_markers
from visualiser.rectification.finder.target import CHECK_BAR_MM, find_target
from visualiser.rectification.finder.weighing import Look, Thing, looks, shape_fit, things_in
from visualiser.rectification.kinds import ReferenceKind, reference_kind, with_article
from visualiser.rectification.reference import Reference
from visualiser.sizes import PaperSize

UNDECIDED = 3.0
"""Log-likelihood by which a shape must fit its own size better, or the other is offered as well:
one in twenty."""
CLOSE = 2.0
"""The best must be this much likelier, in log-odds, than the next, or both are in doubt. An outline
of typed size that is as likely by itself is looked at no further."""
SMALLEST_PX = 32
"""A photo less wide or high shows nothing that could be measured by."""
MAX_CANDIDATES = 8
HOPELESS, HOPELESS_SMALL = -2.0, -10.0
"""Votes at which other outlines of a thing, and at which the thing, are not worth a close look."""
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
    Candidates, best first, maybe none. `convincing` takes the best, or raises where it cannot be
    trusted.

    Raises
    ------
    SizeError, UnitError
        If the kind is unknown, or no size.
    """
    if kind is None:
        return _of_any_kind(photo)
    wanted = reference_kind(kind)
    match wanted.make:
        case "target":
            return find_target(photo, wanted.name, measured_bar_mm)
        case "marker":
            return find_square_markers(photo, wanted.size.width_mm)
        case "sheet" | "card" | "rectangle":
            return _outlined(photo, wanted)
        case _:
            assert_never(wanted.make)


def convincing(candidates: Sequence[Reference]) -> Reference:
    """Take the best candidate if it can be trusted; one clicked, or read by marks, always is.

    Raises
    ------
    ReferenceNotFound
        If there is none, none convinces, or another is nearly as likely.
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
    if best.confidence < ACCEPTANCE:
        doubt = f": {best.doubt}" if best.doubt else ""
        raise ReferenceNotFound(
            f"Nothing in the photo is surely {with_article(best.kind)}; the best candidate is not "
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
            f"Two objects in the photo look equally like {with_article(best.kind)}.",
            hint="Take one of them down, or click the four corners of the one to measure from.",
        )
    return best


def _outlined(photo: Photo, wanted: ReferenceKind) -> list[Reference]:
    """List what has the outline of a kind."""
    if min(photo.width_px, photo.height_px) < SMALLEST_PX:
        return []
    planes = light_planes(photo.pixels)
    if wanted.name in COMMON_KINDS or wanted.is_white:
        return _weighed(photo, planes, things_in(photo), wanted)
    judged = judge_outlines(planes, photo, wanted)
    outlines = distinct(judged)
    found = []
    for i, one in enumerate(outlines[:MAX_CANDIDATES]):
        if i >= ALWAYS_LISTED and one.log_odds <= HOPELESS_SMALL:
            continue
        looks = [look_closely(photo, planes, wanted, one)]
        if one.log_odds > HOPELESS and looks[0].log_odds < CLOSE:
            others = [v for v in variants(judged, one) if v.log_odds > HOPELESS]
            looks += [look_closely(photo, planes, wanted, other) for other in others]
        found.append(max(looks, key=lambda look: look.log_odds))
    found.sort(key=lambda candidate: -candidate.log_odds)
    return [_as_reference(wanted.size, candidate) for candidate in found]


def _of_any_kind(photo: Photo) -> list[Reference]:
    """Try every common kind, each as likely as the others before anything was seen."""
    if min(photo.width_px, photo.height_px) < SMALLEST_PX:
        return []
    planes, things = light_planes(photo.pixels), things_in(photo)
    found = [
        one
        for name in COMMON_KINDS
        for one in _weighed(photo, planes, things, reference_kind(name), another_kind=1.0)
    ]
    return sorted(found, key=lambda one: -one.confidence)


def _weighed(
    photo: Photo,
    planes: LightPlanes,
    things: Sequence[Thing],
    kind: ReferenceKind,
    another_kind: float = ANOTHER_KIND,
) -> list[Reference]:
    """List what the network sees with its probability."""
    listed: list[Reference] = []
    elsewhere: list[tuple[float, str, PointsPx]] = []
    seen = [(log_odds(one.features), one) for one in looks(photo, planes, things, kind)]
    seen.sort(key=lambda pair: -pair[0])
    alone = [size_gain(photo, one, kind) for _, one in seen]
    for (odds, one), (gain, other) in zip(seen, beside_each_other(photo, seen, alone), strict=True):
        if gain < 0:
            elsewhere.append((_as_another(photo, one, gain, other), other, one.corners_px))
        if any(same_place(known.corners_px, one.corners_px) for known in listed):
            continue
        # Of three that were right enough without their sides, two had a corner 0.9 and 1.3 % of the
        # picture's diagonal off; of 63 with them, two by 0.6 and 0.8 %.
        sure = probability(odds, gain, another_kind)
        listed.append(
            Reference(
                kind.name,
                one.corners_px,
                *_sides_mm(kind.size, upright=one.upright),
                confidence=sure if one.sides else min(sure, EITHER),
                sides=one.sides,
                doubt=_size_doubt(gain, other, another_kind)
                or against(one.features)
                or ("" if one.sides else NOT_FOUND_AGAIN),
                may_be=(other,) if gain < UNDECIDED else (),
            )
        )
    if another_kind < 1:
        listed = [_beside_others(one, elsewhere) for one in listed]
    return sorted(listed, key=lambda one: -one.confidence)[:MAX_CANDIDATES]


def _as_another(photo: Photo, one: Look, gain: float, other: str) -> float:
    """Give the log-odds that something is a sheet of the other size."""
    fits = shape_fit(photo, one.corners_px, reference_kind(other).size)
    return log_odds_of_another_kind(one.features, fits, gain)


def beside_each_other(
    photo: Photo, seen: Sequence[tuple[float, Look]], alone: Sequence[tuple[float, str]]
) -> list[tuple[float, str]]:
    """Weigh what an outline's shape says of the size with its thing's others and the other things.

    Parameters
    ----------
    photo
        The photo.
    seen
        Outlines with their log-odds; several may be of one thing.
    alone
        Gain and other size of each by itself.

    Returns
    -------
    Gain and other size of each.
    """
    things: list[list[int]] = []
    for i, (_, one) in enumerate(seen):
        corners_px = one.corners_px
        known = [t for t in things if same_place(seen[t[0]][1].corners_px, corners_px)]
        if known:
            known[0].append(i)
        else:
            things.append([i])

    def shapeless(i: int) -> float:
        odds, one = seen[i]
        return SLOPE * (odds - WEIGHTS["misfit"] * one.features["misfit"])

    def said_by(thing: Sequence[int]) -> tuple[float, float]:
        sheet = 0.0
        for i in thing:
            (odds, one), (gain, other) = seen[i], alone[i]
            sheet = max(sheet, probability(odds, another_kind=0.0))
            if gain < 0:
                sheet = max(sheet, float(expit(_as_another(photo, one, gain, other))))
        return thing_says([alone[i][0] for i in thing], [shapeless(i) for i in thing], sheet)

    said = [said_by(thing) for thing in things]
    weighed = list(alone)
    for k, thing in enumerate(things):
        others = [*said[:k], *said[k + 1 :]]
        own = thing_gain([alone[i][0] for i in thing], [shapeless(i) for i in thing])
        for i in thing:
            gain, other = alone[i]
            weighed[i] = together(min(gain, own) if np.isfinite(gain) else gain, others), other
    return weighed


def _beside_others(one: Reference, elsewhere: Sequence[tuple[float, str, PointsPx]]) -> Reference:
    """Doubt a find beside what looks more like a sheet, though one of another common size.

    Of 651 photographs and 76 path-traced rooms, each asked for three kinds, this holds back what
    was taken in three rooms that hold A4 and were asked for Letter (two blank canvases and a framed
    print, behind the A4 sheet by 0.7 to 0.9), one Letter of 10 taken as A4, and none of 113 right
    finds, the nearest of which is ahead by 0.4.

    Parameters
    ----------
    one
        A find, of the size that was named.
    elsewhere
        Log-odds, kind and (4, 2) corners of each thing that another size fits better.
    """
    for odds, kind, corners_px in elsewhere:
        if odds > _log_odds(one) and not same_place(one.corners_px, corners_px):
            doubt = f"something else in the photo looks like {with_article(kind)}"
            return replace(one, confidence=min(one.confidence, CONTRADICTED), doubt=doubt)
    return one


def _size_doubt(gain: float, other: str, another_kind: float) -> str:
    """Say which other size it may be, where that is too likely for a find."""
    if gain < 0:
        return f"it looks like {with_article(other)}"
    return f"it may as well be {with_article(other)}" if is_either(gain, another_kind) else ""


def _sides_mm(size: PaperSize, *, upright: bool) -> tuple[float, float]:
    width, height = size.width_mm, size.height_mm
    return (width, height) if upright else (height, width)


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
    return DOUBTS.get(name, "")


def _log_odds(reference: Reference) -> float:
    p = float(np.clip(reference.confidence, 1e-6, 1 - 1e-6))
    return float(np.log(p / (1 - p)))
