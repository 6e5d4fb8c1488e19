"""Which lens a photo was read under: the whole frame's, or that of a part or a turned picture.

Where the axis meets the picture is known only of a frame that was left as it was taken. The other
lens is tried where the first fit foresees that it may explain the photo as well; both fits then
share the answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.rectification.camera.lens_alternatives import (
    LensAlternative,
    Posterior,
    log_evidence,
    posteriors,
)
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.projection import CAMERA_SIZE
from visualiser.rectification.camera.reference_observation import ReferenceObservation
from visualiser.rectification.camera.shown_change import shown_change
from visualiser.rectification.checks import LOOSE_SHARE
from visualiser.rectification.fit_lines import LineFit
from visualiser.rectification.plane import WallPlane
from visualiser.rectification.sorting_doubt import sorting_covariance
from visualiser.wording import Length, sentence

UNLIKELY = 0.04
"""A lens less likely than this is no part of a region that is to hold 95 in 100."""
TRIED = 0.005
"""A lens that a fit under another foresees to be likelier than this is tried. (To first order: what
its lines are taken for may change as well. Rendered rooms whose perspective was straightened: 0.01
to 1; whole ones at most 0.002.)"""
SURE = 0.5
"""From this chance on a photo is called trimmed."""
WORTH_A_WORD = 0.2
"""From this chance on it is asked whether it was straightened."""
WIDER = 1.3
"""By so much a doubt about the frame must widen what is stated before it is worth a word."""


class Reading(NamedTuple):
    """The reference as it took part, the fits under one lens, best first, and what was found."""

    seen: ReferenceObservation
    fits: list[LineFit]
    findings: list[Finding]


class Rival(NamedTuple):
    """The fit under the lens that was not chosen, and how likely that lens is after both."""

    chance: float
    fit: LineFit


def choose_lens(
    lenses: Sequence[LensAlternative], read: Callable[[LensPrior], Reading]
) -> tuple[LensAlternative, Reading, Rival | None]:
    """Read the photo under the likeliest lens; under the other too where that may fit as well.

    It may where the first fit foresees so, and where it leaves many of the room's lines without
    any direction: with another lens they may have one.
    """
    first, *rest = lenses
    try:
        reading = read(first.prior)
    except MeasurementError:
        if not rest:
            raise
        return rest[0], read(rest[0].prior), None
    if not rest:
        return first, reading, None
    after = posteriors(reading.fits[0].solution, first.prior, lenses)
    if after[1].chance < TRIED and reading.fits[0].loose_share < LOOSE_SHARE:
        return first, reading, None
    try:
        other = read(rest[0].prior)
    except MeasurementError:
        return first, reading, None
    scores = [
        math.log(lens.chance)
        + log_evidence(one.fits[0].price, one.fits[0].solution.relative_covariance, lens.prior)
        # Other sortings speak for the lens as well.
        - math.log(one.fits[0].sorting_share)
        for lens, one in ((first, reading), (rest[0], other))
    ]
    chance = 1 / (1 + math.exp(min(abs(scores[1] - scores[0]), 50.0)))
    if scores[1] > scores[0]:
        return rest[0], other, Rival(chance, reading.fits[0])
    return first, reading, Rival(chance, other.fits[0])


def weigh_lenses(
    chosen: LensAlternative, best: LineFit, rival: Rival, lenses: Sequence[LensAlternative]
) -> list[Posterior]:
    """List what both lenses came to, in their order, each with its own fit."""
    apart = shown_change(best.solution.camera, rival.fit.solution.camera)
    same = Posterior(1 - rival.chance, np.zeros(CAMERA_SIZE), best.solution.covariance)
    doubt = rival.fit.solution.covariance + sorting_covariance(rival.fit)
    other = Posterior(rival.chance, apart, doubt)
    return [same if lens is chosen else other for lens in lenses]


def frame_findings(
    plane: WallPlane, lenses: Sequence[LensAlternative], after: Sequence[Posterior]
) -> list[Finding]:
    """Say so where a photo looks trimmed or straightened, and what the whole one would be worth."""
    trimmed = sum(p.chance for a, p in zip(lenses, after, strict=True) if a.trimmed)
    straightened = sum(p.chance * a.straightened for a, p in zip(lenses, after, strict=True))
    beside = np.array([[-1000.0, 0.0], [1000.0, 0.0]])
    now = float(plane.half_width(beside).max())
    if trimmed < UNLIKELY or not math.isfinite(now):
        return []
    whole = [p.covariance for a, p in zip(lenses, after, strict=True) if not a.trimmed]
    hint = sentence("Send the untouched one, as the phone wrote it")
    best = now
    if whole:
        best = float(replace(plane, parameter_covariance=whole[0]).half_width(beside).max())
    if now > WIDER * best:
        hint += sentence(", for ± ", Length(best, up=True))
    seen = "The room's uprights run exactly along the picture's sides: "
    if straightened >= SURE:
        text = seen + "this photo looks straightened by an editor."
        return [Finding("advice", text, hint + ".", "straightened-photo")]
    if straightened >= WORTH_A_WORD and trimmed < SURE:
        text = seen + "was this photo straightened by an editor?"
        return [Finding("note", text, hint + ".", "maybe-straightened")]
    if now <= WIDER * best and trimmed < SURE:
        return []
    said = sentence("± is larger, ", Length(now, up=True), " a metre from the reference.")
    if trimmed < SURE:
        text = "The file does not show whether this is the whole photo: " + said
        return [Finding("note", text, hint + ".", "maybe-trimmed")]
    known = all(a.trimmed for a in lenses)
    text = f"This photo looks trimmed{'' if known else ' or straightened'}: " + said
    return [Finding("advice", text, hint + ".", "trimmed-photo")]
