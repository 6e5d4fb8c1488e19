"""How likely the edges of hung things are, each thing's roll being one unknown.

Frames hang by eye: some true, most a little askew, a few far out. How one hangs moves its level and
its upright edges together. Given the camera, the chances of its edges are those of one roll,
whichever it is: their likelihood is summed up over all rolls that it may have.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.lines.priors import ANYHOW_DENSITY, KINDS, LinePriors
from visualiser.rectification.lines.things import NONE

Array = NDArray[np.float64]

TRUE_SHARE, TRUE_SIGMA_DEG, BY_EYE_SIGMA_DEG = 0.55, 0.25, 1.3
"""Share of hung things that hang true, to within the second; the third is how the others hang.
(Common practice, no source; windows and panels are among the first.)"""
LEAN_SIGMA_DEG = 0.7
"""How far the top of a thing on a wire or nail stands further out than its foot (common practice,
no source): its uprights are plumb as seen from before it only."""
ROLL_SHARES = np.array([TRUE_SHARE, 1 - TRUE_SHARE])
ROLL_SIGMAS = np.radians([TRUE_SIGMA_DEG, BY_EYE_SIGMA_DEG])
"""The two ways to hang: their shares, and spreads in radians."""
COARSE = np.radians(np.linspace(-5.0, 5.0, 41))
"""Rolls among which the likeliest is looked for."""
FINE = np.radians(np.sinh(np.linspace(-5.0, 5.0, 41)) / np.sinh(5.0) * 4.0)
"""Rolls about it over which the likelihood is summed up: close together at it."""
PLUMB, LEVEL, AWAY = (KINDS.index(kind) for kind in ("plumb", "level", "away"))


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """What lines may be, before H cameras.

    Parameters
    ----------
    true, crooked
        (H, L, 3) chances that each truly has a direction, and that it is only meant to.
    misfits
        (H, L) minus twice the logarithm of how likely each is, given all others.
    misfit
        (H,) of how likely all are together: edges that stray as one count once.
    roll_sigma
        (H, T) how far each hung thing may be rolled by what is known of it, radians.
    """

    true: Array
    crooked: Array
    misfits: Array
    misfit: Array
    roll_sigma: Array


def take(
    priors: LinePriors,
    off: Array,
    extra: Array,
    possible: Array,
    *,
    roughly: bool = False,
) -> Taken:
    """Work out the chances of lines, those of hung things together.

    Parameters
    ----------
    priors
        What is expected of L lines.
    off, extra, possible
        (H, L, 3) as `LinePriors.taken` wants them.
    roughly
        Whether rolls half a degree apart will do, as where many cameras are compared.
    """
    lean = np.zeros_like(off)
    lean[..., PLUMB] = (off[..., AWAY] * np.radians(LEAN_SIGMA_DEG)) ** 2
    extra = extra + np.where((priors.things != NONE)[:, None], lean, 0.0)
    true, crooked, misfits = priors.taken(off, extra, possible)
    alone = np.where(priors.things == NONE, misfits, 0.0)
    whole = priors.joint_misfit(alone)
    count = int(priors.things.max(initial=NONE)) + 1
    roll_sigma = np.empty((len(off), count))
    for thing in range(count):
        of = np.flatnonzero(priors.things == thing)
        edges = _Edges.of(priors, of, off[:, of], extra[:, of], possible[:, of])
        true[:, of], crooked[:, of], misfits[:, of], joint, roll_sigma[:, thing] = edges.summed_up(
            roughly=roughly
        )
        whole = whole + joint
    return Taken(true, crooked, misfits, whole, roll_sigma)


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """The n edges of one thing before H cameras.

    Parameters
    ----------
    off, rolled
        (H, n, 3) angles to the directions, and their change with its roll.
    variance, peak
        (H, n, 3) of these angles, and the height of their density, by its share.
    loose
        (H, n, 3) density where an edge is crooked by itself.
    rest
        (H, n) density of all that does not roll with it.
    best
        (n,) highest density of such a line in a usual building.
    """

    off: Array
    rolled: Array
    variance: Array
    peak: Array
    loose: Array
    rest: Array
    best: Array

    @classmethod
    def of(
        cls, priors: LinePriors, of: NDArray[np.intp], off: Array, extra: Array, possible: Array
    ) -> _Edges:
        """Look up what is expected of them."""
        variance = priors.true_sigma[of] ** 2 + extra
        wide = priors.crooked_sigma[of] ** 2 + extra
        loose = priors.crooked_share[of] * possible / np.sqrt(2 * np.pi * wide)
        loose = loose * np.exp(-0.5 * off**2 / wide)
        return cls(
            off,
            by_roll(off),
            variance,
            priors.true_share[of] * possible / np.sqrt(2 * np.pi * variance),
            loose,
            loose.sum(axis=2) + priors.none_share[of] * ANYHOW_DENSITY,
            priors.best_density[of],
        )

    def at(self, roll: Array, wider: float = 0.0) -> tuple[Array, Array]:
        """Density (H, G, n, 3) of true edges at each roll (H, G), and of all (H, G, n)."""
        gap = self.off[:, None] + self.rolled[:, None] * roll[..., None, None]
        spread = self.variance[:, None] + wider
        part = self.peak[:, None] * np.sqrt(self.variance[:, None] / spread)
        part = part * np.exp(-0.5 * gap**2 / spread)
        return part, part.sum(axis=3) + self.rest[:, None]

    def summed_up(self, *, roughly: bool) -> tuple[Array, Array, Array, Array, Array]:
        """Sum up over all rolls: chances, misfits of each and of all, and how it may be rolled."""
        rolls = COARSE[::2] if roughly else COARSE
        roll = np.broadcast_to(rolls, (len(self.off), len(rolls)))
        part, density = self.at(roll, float(rolls[1] - rolls[0]) ** 2 / 4)
        if not roughly:
            worth = np.log(density).sum(axis=2) + np.log(_hangs(roll).sum(axis=2))
            roll = COARSE[worth.argmax(axis=1)][:, None] + FINE
            part, density = self.at(roll)
        ways = _hangs(roll)
        worth = np.log(density / self.best).sum(axis=2)
        worth = worth + np.log(ways.sum(axis=2) * np.gradient(rolls if roughly else FINE))
        top = worth.max(axis=1, keepdims=True)
        share = np.exp(worth - top)
        total = share.sum(axis=1, keepdims=True)
        share = share / total
        true = np.einsum("hg,hgnk->hnk", share, part / density[..., None])
        crooked = self.loose * np.einsum("hg,hgn->hn", share, 1 / density)[..., None]
        misfits = 2 * np.log(self.best / np.einsum("hg,hgn->hn", share, density))
        way = np.einsum("hg,hgw->hw", share, ways / ways.sum(axis=2, keepdims=True))
        sigma = 1 / np.sqrt((way / ROLL_SIGMAS**2).sum(axis=1))
        return true, crooked, misfits, -2 * (np.log(total) + top)[:, 0], sigma


def by_roll(off: Array) -> Array:
    """Find the change (..., 3) of angles to directions with a roll about that out of the wall.

    The upright turns to the level backwards, and that to the upright.
    """
    return np.stack([-off[..., LEVEL], off[..., PLUMB], np.zeros_like(off[..., AWAY])], axis=-1)


def _hangs(roll: Array) -> Array:
    """Density (..., 2) of a thing's roll (...) for each of the ways to hang, by its share."""
    scaled = roll[..., None] / ROLL_SIGMAS
    return np.asarray(ROLL_SHARES / ROLL_SIGMAS / np.sqrt(2 * np.pi) * np.exp(-0.5 * scaled**2))
