"""Lenses that a photo may have been taken through, and which of them the fit bears out.

The optical axis meets the middle of a whole frame. Of a trimmed one it is known only to within a
part of the picture, and so is the focal length where it was worked out from the size. Both are
tried where the file leaves them open; how likely each is follows from what the file shows and from
how well it explains the photo (its evidence). Where the photo cannot decide, the doubt is carried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.photo.frame import UNKNOWN_CUT_SIGMA
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.adjustment import Solution
from visualiser.rectification.camera.lens_profile import LensPrior, LensProfile, lens_prior
from visualiser.rectification.camera.projection import CAMERA_SIZE, LENS, Lens
from visualiser.rectification.camera.terms import ModelTerms

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class LensAlternative:
    """One lens that may have been used.

    Parameters
    ----------
    chance
        Probability before the photo is looked at.
    prior
        What is expected of it.
    trimmed
        Whether the picture is then a part of the frame.
    straightened
        How likely it is then a part of a turned one, its perspective straightened by an editor.
    """

    chance: float
    prior: LensPrior
    trimmed: bool = False
    straightened: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What becomes of a fit under one alternative, to first order.

    Parameters
    ----------
    chance
        Probability of the alternative after the fit.
    shift
        (11,) change of the camera's parameters.
    covariance
        (11, 11) of them.
    """

    chance: float
    shift: Array
    covariance: Array


def lens_alternatives(
    photo: Photo,
    terms: ModelTerms,
    profile: LensProfile | None = None,
    straightened: float = 0.0,
) -> tuple[LensAlternative, ...]:
    """List the lenses that a photo may have been taken through, the likeliest first.

    Parameters
    ----------
    photo
        The photo; its ``frame`` says whether it is whole.
    terms
        What the model leaves out.
    profile
        A profile that matches the photo; then there is no other.
    straightened
        Chance that an editor straightened its perspective: that moves the axis as trimming does, by
        nobody knows how much.
    """
    whole = lens_prior(photo, terms, profile)
    frame = photo.frame
    if profile is not None or frame.whole_chance == 1:
        return (LensAlternative(1.0, whole),)
    left = frame.whole_chance * (1 - straightened)
    share = straightened / (1 - left) if left < 1 else 0.0
    unknown = UNKNOWN_CUT_SIGMA * float(np.hypot(photo.width_px, photo.height_px))
    cut = (1 - share) * np.square(frame.cut_sigma_px) + share * unknown**2
    covariance = np.array(whole.covariance)
    covariance[[0, 3, 4], [0, 3, 4]] += [frame.log_focal_sigma**2, *cut]
    focal_px = whole.lens.focal_px * float(np.exp(frame.log_focal))
    part = LensPrior(replace(whole.lens, focal_px=focal_px), covariance)
    trimmed = LensAlternative(1 - left, part, trimmed=True, straightened=share)
    if left == 0:
        return (trimmed,)
    both = (LensAlternative(left, whole), trimmed)
    return both if left >= 0.5 else both[::-1]


def log_evidence(price: float, camera_covariance: Array, prior: LensPrior) -> float:
    """Logarithm of how well a fit explains a photo, its lens's prior included; up to a constant.

    Parameters
    ----------
    price
        Sum of squares of the fit, in sigmas, priors included.
    camera_covariance
        (11, 11) of the fitted camera.
    prior
        What was expected of the lens.

    References
    ----------
    Laplace's approximation: D. J. C. MacKay, "Bayesian interpolation", Neural Computation 4, 1992
    (from memory).
    """
    posterior = float(np.linalg.slogdet(camera_covariance)[1])
    expected = float(np.linalg.slogdet(prior.covariance)[1])
    return -0.5 * (price - posterior + expected)


def posteriors(
    solution: Solution, used: LensPrior, alternatives: Sequence[LensAlternative]
) -> list[Posterior]:
    """Foresee what a fit would be under other lenses than the one it was made with.

    What the photo alone says of the lens is the fit's information less the prior's. With it every
    alternative's evidence, estimate and covariance follow in closed form, to first order.

    Parameters
    ----------
    solution
        The fit.
    used
        The prior it was made with.
    alternatives
        The alternatives, the one used among them.
    """
    joint = solution.covariance
    lens_block = np.asarray(joint[LENS, LENS])
    fitted, expected = _vector(solution.camera.lens), _vector(used.lens)
    pull = np.linalg.inv(used.covariance)
    said = _positive_part(np.linalg.inv(lens_block) - pull, np.sqrt(np.diag(used.covariance)))
    moment = said @ fitted + pull @ (fitted - expected)
    gain = np.linalg.solve(lens_block, joint[LENS]).T
    score, found = [], []
    for alternative in alternatives:
        other, mean = np.linalg.inv(alternative.prior.covariance), _vector(alternative.prior.lens)
        information, right = said + other, moment + other @ mean
        lens = np.linalg.solve(information, right)
        spread = np.linalg.inv(information)
        score.append(
            np.log(max(alternative.chance, 1e-300))
            - 0.5 * float(np.linalg.slogdet(alternative.prior.covariance)[1])
            - 0.5 * float(np.linalg.slogdet(information)[1])
            - 0.5 * float(mean @ other @ mean - right @ lens)
        )
        found.append((gain @ (lens - fitted), joint + gain @ (spread - lens_block) @ gain.T))
    chance = np.exp(np.array(score) - max(score))
    chance /= chance.sum()
    return [Posterior(float(p), *rest) for p, rest in zip(chance, found, strict=True)]


def mixed_covariance(parts: Sequence[Posterior], least_chance: float) -> Array:
    """Second moment (11, 11) of all alternatives about the fit; the unlikely ones are left out.

    Parameters
    ----------
    parts
        The alternatives after the fit.
    least_chance
        A region that is to hold 95 in 100 need not reach what is less likely than this.
    """
    kept = [part for part in parts if part.chance >= least_chance]
    total = sum(part.chance for part in kept)
    mixed = np.zeros((CAMERA_SIZE, CAMERA_SIZE))
    for part in kept:
        moment = part.covariance + np.outer(part.shift, part.shift)
        mixed += part.chance / total * moment
    return mixed


def _vector(lens: Lens) -> Array:
    return np.array([np.log(lens.focal_px), lens.k1, lens.k2, lens.centre_x_px, lens.centre_y_px])


def _positive_part(matrix: Array, scale: Array) -> Array:
    """Nearest matrix without the negative eigenvalues that rounding may leave, in given units."""
    values, vectors = np.linalg.eigh(matrix * np.outer(scale, scale))
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T / np.outer(scale, scale))
