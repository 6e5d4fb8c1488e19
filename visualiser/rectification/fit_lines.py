"""Let room lines join the fit, and only those that agree with it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.budget import Budget
from visualiser.rectification.camera.adjustment import Solution, adjust, huber_losses
from visualiser.rectification.camera.lens_profile import LensPrior
from visualiser.rectification.camera.line_observation import (
    BOW,
    LINE_TURN,
    PER_LINE,
    TURNING,
    Direction,
    LinesObservation,
)
from visualiser.rectification.camera.observation import Observation
from visualiser.rectification.camera.projection import (
    CAMERA_PARAMETERS,
    CAMERA_SIZE,
    CameraState,
    vector_from_rotation,
)
from visualiser.rectification.camera.shown_change import shown_change
from visualiser.rectification.camera.terms import BOW_SHARE, ModelTerms
from visualiser.rectification.lines.borders import told_beside_wall
from visualiser.rectification.lines.building import Building, scale_of
from visualiser.rectification.lines.classify import (
    Sorting,
    direction_slopes,
    propose_sortings,
    sort_lines,
)
from visualiser.rectification.lines.detect import (
    RoomLine,
    find_room_lines,
    join_pieces,
    snap_drawn_line,
)
from visualiser.rectification.lines.lone import lone_lines
from visualiser.rectification.lines.priors import KINDS, LinePriors
from visualiser.rectification.lines.straightness import prices_of_bent, vote_on_distortion
from visualiser.rectification.lines.things import without_lesser_edges
from visualiser.rectification.marks import Marks

Array = NDArray[np.float64]

ORIENTATION_DOUBT = 2.0
"""Factor on the reference's own idea of its orientation and focal length while lines are sorted."""
LINE_PARAMETERS = [
    CAMERA_PARAMETERS.index(name)
    for name in (
        "rotation_x", "rotation_y", "rotation_z", "log_focal", "centre_x_px", "centre_y_px",
    )
]  # fmt: skip
BENT_FACTOR = 9.0
"""A line whose squared residuals exceed this, in sigmas squared, isn't straight."""
MISJOINED_FACTOR = 3.5
"""A line joined of pieces whose squared residuals exceed this is not one edge but two beside each
other, as a moulding has: its pieces go on alone."""
ROUNDS = 6
SETTLED_SHARE = 0.2
"""Sorting ends when no line's spread changes by more than this share any more."""
GUIDING_SIGMA_DEG = 0.5
"""A line held to its direction better than this tells level."""
SAME_TURN = np.radians(0.02)
"""Sortings that turn the camera by no more than this apart are one."""
RIVAL_SHARE = 0.01
"""A sorting less likely than this is forgotten."""


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """An adjusted camera and what became of each line.

    Parameters
    ----------
    solution
        The adjustment; its first observations are those handed in, the lines follow.
    alone
        The same without any line.
    lines
        Lines that took part, in the order of the observations.
    directions
        What each was taken for.
    bent
        Lines left out because they aren't straight.
    price
        What it costs to explain everything this way; the lower of two is the better.
    priors
        What was expected of the lines; None where there are none.
    bow_share
        How far middles of edges stray from their chords in this building, as a share of their
        length.
    rivals
        Other sortings that explain nearly as much: their shares of the likelihood, and how far off
        (11,) they put the camera.
    repeated
        Part of the price that lines repeat of what others beside them say.
    unsettled
        How the last round of sorting moved the camera (11,), where the search ended before it
        settled.
    """

    solution: Solution
    alone: Solution
    lines: tuple[RoomLine, ...]
    directions: tuple[Direction, ...]
    bent: tuple[RoomLine, ...]
    price: float
    priors: LinePriors | None = None
    bow_share: float = BOW_SHARE
    rivals: tuple[tuple[float, Array], ...] = ()
    repeated: float = 0.0
    unsettled: Array | None = None

    @property
    def surprise(self) -> float:
        """Minus twice the logarithm of the evidence, up to what is the same for all sortings.

        A line that pins the camera down where nothing else does agrees with it whatever it is; the
        sides of one frame are one witness.
        """
        return (
            self.price
            - self.repeated
            - float(np.linalg.slogdet(self.solution.relative_covariance)[1])
        )

    @property
    def sorting_share(self) -> float:
        """How likely its sorting is among all that were tried."""
        return 1 - sum(share for share, _ in self.rivals)

    @property
    def gives_level(self) -> bool:
        """Whether a building edge of known direction took part."""
        return any(
            d.kind in ("plumb", "level") and _held(d) < np.radians(GUIDING_SIGMA_DEG)
            for d in self.directions
        )

    @property
    def loose_share(self) -> float:
        """Share of the lines' length that fits no direction."""
        length = np.array([line.length_px for line in self.lines])
        loose = np.array([d.kind == "straight" for d in self.directions], bool)
        return float(length[loose].sum() / length.sum()) if len(length) else 0.0

    def line_observations(self) -> list[Observation]:
        """Its lines as one observation, or none."""
        if not self.lines:
            return []
        samples = [line.samples for line in self.lines]
        return [LinesObservation.of(samples, self.directions, self.solution.camera, self.bow_share)]


def gather_lines(photo: Photo, marks: Marks, outlines_px: Sequence[PointsPx]) -> list[RoomLine]:
    """Drawn lines, snapped, and those found that were not rejected, pieces of an edge joined."""
    drawn = [snap_drawn_line(photo, line, f"drawn-{i + 1}") for i, line in enumerate(marks.lines)]
    found = find_room_lines(photo, outlines_px) if marks.find_lines else []
    long_side_px = max(photo.width_px, photo.height_px)
    whole = without_lesser_edges(join_pieces(found, long_side_px), long_side_px)
    # Joined after the rejected ones are gone, an edge would come back under its next piece's name.
    rejected = set(marks.rejected_lines)
    kept = [line for line in whole if rejected.isdisjoint(line.names)]
    return drawn + told_beside_wall(photo, kept, outlines_px)


@dataclass(frozen=True, slots=True, eq=False)
class SortedLines:
    """Lines by whether one lens straightens them.

    Parameters
    ----------
    straight, bent
        Those that it does and does not.
    k1
        Its distortion.
    """

    straight: tuple[RoomLine, ...]
    bent: tuple[RoomLine, ...]
    k1: float


def sort_by_straightness(
    lines: Sequence[RoomLine], prior: LensPrior, bow_share: float = BOW_SHARE
) -> SortedLines:
    """Sort lines, those taken apart again that come out bent as a whole."""
    k1_sigma = float(np.sqrt(prior.covariance[1, 1]))
    k1, is_straight = vote_on_distortion(lines, prior.lens, k1_sigma, bow_share)
    if any(line.pieces and not ok for line, ok in zip(lines, is_straight, strict=True)):
        lines = _taken_apart(lines, is_straight)
        k1, is_straight = vote_on_distortion(lines, prior.lens, k1_sigma, bow_share)
    pairs = list(zip(lines, is_straight, strict=True))
    return SortedLines(
        tuple(line for line, ok in pairs if ok), tuple(line for line, ok in pairs if not ok), k1
    )


def fit_with_lines(
    alone: Solution,
    base: Sequence[Observation],
    lines: SortedLines,
    prior: LensPrior,
    long_side_px: int,
    terms: ModelTerms,
    *,
    thorough: bool = True,
    hopeless: float = math.inf,
    budget: Budget | None = None,
) -> LineFit:
    """Fit references and lines together, sorting the lines as the fit sharpens.

    Parameters
    ----------
    alone
        The references' own fit.
    base
        The references.
    lines
        The room's lines.
    prior
        What is known of the lens beforehand.
    long_side_px
        Longer side of the photo.
    terms
        What the model leaves out.
    thorough
        Whether other sortings than the likeliest are followed as well.
    hopeless
        A sorting whose camera leaves more than this is not followed up.
    budget
        Steps that it may take; one of its own where none is given. The likeliest sorting is
        followed in any case.
    """
    budget = Budget() if budget is None else budget
    if not lines.straight:
        return _fit_of_bent(alone, lines.bent, long_side_px, terms)
    rough = replace(alone.camera, lens=replace(alone.camera.lens, k1=lines.k1))
    doubt = line_covariance(alone)
    doubt[:4] *= ORIENTATION_DOUBT
    doubt[:, :4] *= ORIENTATION_DOUBT
    priors = LinePriors.of(lines.straight, long_side_px, terms)

    def settled(sorting: Sorting, lines: SortedLines) -> LineFit:
        return _settled(
            alone, base, sorting, lines, prior, long_side_px, terms,
            thorough=thorough, hopeless=hopeless, budget=budget,
        )  # fmt: skip

    sortings = propose_sortings(lines.straight, rough, doubt, priors)
    fits = [settled(sortings[0], lines)]
    untried = []
    for sorting in sortings[1:] if thorough else ():
        if budget.ended():
            untried.append(sorting)
        else:
            fits.append(settled(sorting, lines))
    best = min(fits, key=lambda fit: fit.surprise)
    # That a lone line may run anyhow is doubted in any case: see `sorting_covariance`.
    for apart in _without_lone_lines(best, lines.k1) if thorough else ():
        if budget.ended():
            break
        fits.append(settled(*apart))
    fits.sort(key=lambda fit: fit.surprise)
    foreseen = [_foreseen(alone, sortings[0], sorting, fits[0]) for sorting in untried]
    return replace(fits[0], rivals=_rivals(fits, foreseen))


def _foreseen(
    alone: Solution, first: Sorting, untried: Sorting, best: LineFit
) -> tuple[float, CameraState]:
    """Foresee the surprise and the camera of a sorting that was not tried, to first order.

    It costs as much more than the first as it did before either was followed; the camera follows
    its turn as far as the references leave it free.
    """
    covariance = alone.covariance
    change = alone.camera.change_to(untried.camera)[LINE_PARAMETERS]
    held = covariance[np.ix_(LINE_PARAMETERS, LINE_PARAMETERS)]
    moved = covariance[:, LINE_PARAMETERS] @ np.linalg.solve(held, change)
    return best.surprise + untried.surprise - first.surprise, alone.camera.moved(moved)


def _without_lone_lines(fit: LineFit, k1: float) -> list[tuple[Sorting, SortedLines]]:
    """Propose sortings in which one line that nothing else checks runs anyhow."""
    if not fit.lines:
        return []
    apart = SortedLines(fit.lines, fit.bent, k1)
    proposals = []
    for i in lone_lines(fit.solution, fit.directions):
        directions = list(fit.directions)
        directions[i] = replace(directions[i], kind="straight", askew_rad=0.0, hung=None)
        chance = np.ones(len(directions))
        sorting = Sorting(tuple(directions), chance, fit.solution.camera, np.zeros(len(chance)))
        proposals.append((sorting, apart))
    return proposals


def _settled(
    alone: Solution,
    base: Sequence[Observation],
    sorting: Sorting,
    lines: SortedLines,
    prior: LensPrior,
    long_side_px: int,
    terms: ModelTerms,
    *,
    thorough: bool,
    hopeless: float,
    budget: Budget,
) -> LineFit:
    """Adjust the camera and sort the lines in turn, from one sorting on."""
    kept, bent, camera = list(lines.straight), list(lines.bent), sorting.camera
    building = Building()
    for n in range(ROUNDS + 1):
        if not kept:
            return _fit_of_bent(alone, bent, long_side_px, terms)
        bow_share = terms.bow_share * building.bow
        samples = [line.samples for line in kept]
        seen = LinesObservation.of(samples, sorting.directions, camera, bow_share)
        solution = adjust(camera, [*base, seen], prior, most_steps=budget.steps())
        budget.spend(solution.steps)
        if solution.cost > hopeless:
            return replace(fit_without_lines(alone), price=solution.cost)
        before, camera = camera, solution.camera
        factors = solution.variance_factors[-1]
        if (misjoined := [bool(line.pieces) for line in kept] & (factors > MISJOINED_FACTOR)).any():
            apart = SortedLines(tuple(_taken_apart(kept, ~misjoined)), tuple(bent), lines.k1)
            return fit_with_lines(
                alone, base, apart, prior, long_side_px, terms,
                thorough=thorough, hopeless=hopeless, budget=budget,
            )  # fmt: skip
        usual = LinePriors.of(kept, long_side_px, terms)
        other = _building_of(solution, sorting, usual, building.bow)
        priors = LinePriors.of(kept, long_side_px, terms, other)
        revised = _sorted_again(kept, sorting, solution, priors)
        as_straight = _prices_of_straight(seen, solution) + revised.misfits
        straight = as_straight <= prices_of_bent(kept, usual, bow_share)
        straight &= factors < BENT_FACTOR
        settled = _same_sorting(sorting, revised) and building.is_near(other, SETTLED_SHARE)
        done = n == ROUNDS or (straight.all() and settled)
        # One that may be the answer is sorted again by its own fit at least once.
        if done or ((n > 0 or not thorough) and budget.ended()):
            break
        building = other
        bent += [line for line, ok in zip(kept, straight, strict=True) if not ok]
        kept = [line for line, ok in zip(kept, straight, strict=True) if ok]
        directions = [d for d, ok in zip(revised.directions, straight, strict=True) if ok]
        sorting = replace(revised, directions=tuple(directions), chance=revised.chance[straight])
    # What keeps lines to their directions is in their likelihood already.
    count = PER_LINE * len(kept)
    turns = [*range(LINE_TURN, count, PER_LINE), *range(count + len(TURNING), len(seen.own_sigma))]
    strain = float(((solution.own[-1][turns] / seen.own_sigma[turns]) ** 2).sum())
    price = solution.cost - strain + revised.misfit + _price_of_bent(bent, long_side_px, terms)
    return LineFit(
        solution,
        alone,
        tuple(kept),
        sorting.directions,
        tuple(bent),
        price + building.surprise,
        priors,
        bow_share,
        repeated=revised.repeated,
        unsettled=None if done or n == 0 else shown_change(camera, before),
    )


def _building_of(
    solution: Solution, sorting: Sorting, usual: LinePriors, bow_before: float
) -> Building:
    """Estimate how straight the building is from what the fit leaves its edges with.

    Parameters
    ----------
    solution
        The fit.
    sorting
        What its lines were taken for.
    usual
        What is expected of them in a building like most.
    bow_before
        Factor on usual bows with which it was fitted.
    """
    count = PER_LINE * len(sorting.directions)
    own = solution.own[-1][:count].reshape(-1, PER_LINE)
    before = CAMERA_SIZE + sum(int(free.sum()) for free in solution.own_free[:-1])
    variance = np.diag(solution.joint)[before : before + count].reshape(-1, PER_LINE)
    held = np.array([direction.sigma_rad for direction in sorting.directions])
    determined = np.clip(1 - variance[:, LINE_TURN] / held**2, 0.0, 1.0)
    column = np.array([(*KINDS, "straight").index(d.kind) for d in sorting.directions])
    factors = []
    for columns in ((0,), (1, 2)):
        of = np.flatnonzero(np.isin(column, columns))
        # How a hung thing's edges stray from one another says nothing of the building.
        chance = np.where([sorting.directions[i].hung is None for i in of], sorting.chance[of], 0.0)
        strays = np.sqrt(chance) * own[of, LINE_TURN] / usual.usual_sigma[of, column[of]]
        factors.append(scale_of(strays, chance * determined[of]))
    bow_determined = np.clip(1 - variance[:, BOW], 0.0, 1.0)
    bow = scale_of(bow_before * own[:, BOW], bow_determined, bow_before)
    return Building(factors[0], factors[1], bow)


def fit_without_lines(alone: Solution) -> LineFit:
    """Take the references' own fit as it is."""
    return LineFit(alone, alone, (), (), (), alone.cost)


def _fit_of_bent(
    alone: Solution, bent: Sequence[RoomLine], long_side_px: int, terms: ModelTerms
) -> LineFit:
    """Take the references' own fit where every line is bent."""
    price = alone.cost + _price_of_bent(bent, long_side_px, terms)
    return LineFit(alone, alone, (), (), tuple(bent), price)


def _price_of_bent(bent: Sequence[RoomLine], long_side_px: int, terms: ModelTerms) -> float:
    """Sum up what bent lines cost."""
    if not bent:
        return 0.0
    priors = LinePriors.of(bent, long_side_px, terms)
    return float(prices_of_bent(bent, priors, terms.bow_share).sum())


def _prices_of_straight(seen: LinesObservation, solution: Solution) -> Array:
    """Find what samples and bow of each line (L,) cost in a fit of which they are the last part."""
    own = solution.own[-1]
    residual = seen.linearise(solution.camera, own).residual
    bow = own[BOW : PER_LINE * len(seen.directions) : PER_LINE]
    return np.asarray(np.bincount(seen.groups, huber_losses(residual)) + bow**2)


def _sorted_again(
    lines: Sequence[RoomLine], before: Sorting, solution: Solution, priors: LinePriors
) -> Sorting:
    """Sort lines by the fitted camera; those that had no part in it by its own doubt as well."""
    slope = direction_slopes(lines, solution.camera, priors)
    doubt = np.einsum("lka,ab,lkb->lk", slope, line_covariance(solution), slope)
    apart = np.array([[d.kind != kind for kind in KINDS] for d in before.directions], float)
    shared = solution.own[-1][PER_LINE * len(lines) :][: len(TURNING)]
    askew = np.array([shared[TURNING.index(k)] if k in TURNING else 0.0 for k in KINDS])
    return sort_lines(lines, solution.camera, priors, doubt * apart, askew)


def line_covariance(solution: Solution) -> Array:
    """Covariance (6, 6) of what directions of lines depend on: see `propose_sortings`."""
    scale = np.array([1, 1, 1, 1, *np.full(2, 1 / solution.camera.lens.focal_px)])
    return np.asarray(solution.covariance[np.ix_(LINE_PARAMETERS, LINE_PARAMETERS)]) * np.outer(
        scale, scale
    )


def _same_sorting(one: Sorting, other: Sorting) -> bool:
    return all(
        a.kind == b.kind
        and (a.kind == "straight" or abs(np.log(_held(a) / _held(b))) < SETTLED_SHARE)
        for a, b in zip(one.directions, other.directions, strict=True)
    )


def _held(direction: Direction) -> float:
    """How closely a line is held to its direction, with the thing that it is of."""
    roll = 0.0 if direction.hung is None else direction.hung.roll_rad
    return math.hypot(direction.sigma_rad, roll)


def _rivals(
    fits: Sequence[LineFit], foreseen: Sequence[tuple[float, CameraState]]
) -> tuple[tuple[float, Array], ...]:
    """Shares of the likelihood of all sortings but the first, and how they move the camera.

    Those that were followed, the likeliest first, and those that were only foreseen.
    """
    kept: list[tuple[float, CameraState]] = []
    for surprise, camera in [*((f.surprise, f.solution.camera) for f in fits), *foreseen]:
        turns = [camera.rotation @ one.rotation.T for _, one in kept]
        if all(np.linalg.norm(vector_from_rotation(turn)) > SAME_TURN for turn in turns):
            kept.append((surprise, camera))
    more = np.array([surprise - kept[0][0] for surprise, _ in kept])
    # What was foreseen to be likelier than what was followed is as likely at the most.
    share = np.exp(-0.5 * np.clip(more, 0.0, 100.0))
    share /= share.sum()
    return tuple(
        (float(part), shown_change(kept[0][1], camera))
        for part, (_, camera) in zip(share[1:], kept[1:], strict=True)
        if part > RIVAL_SHARE
    )


def _taken_apart(lines: Sequence[RoomLine], is_straight: NDArray[np.bool_]) -> list[RoomLine]:
    """Undo the joining of lines that came out bent: a piece of another edge may be among them."""
    apart = []
    for line, ok in zip(lines, is_straight, strict=True):
        if ok or not line.pieces:
            apart.append(line)
        else:
            apart += [replace(piece, beside_wall=line.beside_wall) for piece in line.pieces]
    return apart
