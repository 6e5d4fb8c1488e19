"""How straight rooms are built: chances and spreads of an edge's direction, by its length.

An edge is plumb, level along the wall or level away from it, as well as buildings are; or meant so,
and as crooked as things hang or stand by eye; or runs anyhow. Shares and spreads are those of edges
found in photographs of real buildings and rooms, held against directions labelled by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.rectification.camera.line_observation import AXES, LineKind
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.lines.building import Building
from visualiser.rectification.lines.detect import RoomLine
from visualiser.rectification.lines.things import NONE, PARALLEL, side_by_side, things_of

Array = NDArray[np.float64]

KINDS: tuple[LineKind, ...] = ("plumb", "level", "away")
"""Kinds of known direction, in the order of the columns of all arrays here."""
AXIS_OF = np.array([AXES[kind] for kind in KINDS])
LENGTHS = (0.12, 0.24, 0.40)
"""Lengths, as shares of the picture's long side, at which the next four are given; between them
they change with the logarithm of the length. (1,151 edges of 49 photographs of York Urban.)"""
TRUE_SIGMA_DEG = {"plumb": (0.26, 0.15, 0.13), "level": (0.20, 0.15, 0.07)}
"""How far an edge of a building strays from plumb and from level."""
TRUE_SHARE = {"plumb": (0.70, 0.82, 0.90), "level": (0.58, 0.72, 0.80)}
"""Share of edges near such a direction that are of a building."""
CROOKED_SHARE = {"plumb": (0.25, 0.15, 0.08), "level": (0.30, 0.20, 0.13)}
"""Share that are only meant so; what is left runs anyhow."""
CROOKED_SIGMA_DEG = 1.3
"""How crooked such things are."""
ADJOINING_SIGMA_DEG = 0.5
"""How far adjoining walls are off square: shared by all edges that run away from the wall. (Lines
labelled in 46 photographs of York Urban, those of either wall fitted apart: 0.46°, robust, their
own doubt taken out.)"""
ASKEW_SIGMA_DEG = 1.5
"""How far from the wall's direction things stand on a floor before it (common practice, no
source): shared by all level edges that no wall borders."""
COMPANION_CORRELATION, COMPANION_REACH = 0.7, 0.12
"""How alike parallel edges stray that all but touch, as the sides of a frame or door do, and the
distance, as a share of the picture's long side, at which that has fallen to 1/e. (Long edges of
York Urban 0.7 next to each other, 0.5 at 0.05 of the long side apart, 0.3 at 0.12 and 0.1 at 0.24;
in rendered rooms with hung frames 0.3 to 0.9, 0 to 0.8, 0.1 to 0.6 and 0 to 0.4.)"""
SQUARE_SIGMA_DEG = 0.12
"""How far an edge of a hung thing strays from where its roll puts it: 1 mm in half a metre, and
what shadows and mats add (common practice, no source)."""
OF_ITSELF = 0.05
"""Share of a hung thing's edges that are crooked by themselves: a print askew in its mat."""
LEAST_OWN = 0.05
"""Least that correlations of strays leave to a combination of them by itself."""
LONG, MEDIUM = 0.35, 0.22
"""From the first share of the picture's long side on an edge is as long as a room's are; below the
second it may be a piece of furniture's or a picture's."""
ANYHOW_DENSITY = 0.5
"""Density of the sine of the angle between a direction and a line that runs anyhow: it is spread
evenly, -1 to 1."""
USUAL = Building()


@dataclass(frozen=True, slots=True, eq=False)
class LinePriors:
    """What is expected of each of L lines before its direction is seen.

    Parameters
    ----------
    true_sigma, crooked_sigma
        (L, 3) spread about each of `KINDS`, radians.
    true_share, crooked_share
        (L, 3) chance of each.
    none_share
        (L,) chance that it runs anyhow.
    askew_rad
        (L, 3) turn about the plumb that it shares with others of its kind.
    usual_sigma
        (L, 3) spread about each in a building like most.
    alike
        (L, L) correlations of their strays: edges of one crooked shelf are all crooked.
    things
        (L,) the hung thing that each is an edge of, or `NONE`: its edges stray by themselves by
        little, and all with its roll.
    """

    true_sigma: Array
    crooked_sigma: Array
    true_share: Array
    crooked_share: Array
    none_share: Array
    askew_rad: Array
    usual_sigma: Array
    alike: Array
    things: NDArray[np.intp]

    @classmethod
    def of(
        cls,
        lines: Sequence[RoomLine],
        long_side_px: int,
        terms: ModelTerms,
        building: Building = USUAL,
    ) -> LinePriors:
        """Look up what is expected of lines of these lengths; a drawn one is what it is drawn as.

        Parameters
        ----------
        lines
            Room lines.
        long_side_px
            Longer side of the photo.
        terms
            What the model leaves out: no edge is straighter than rooms are built.
        building
            How straight this one is.
        """
        where = np.log(np.maximum([line.length_px / long_side_px for line in lines], 1e-3))

        def looked_up(table: Mapping[str, Sequence[float]]) -> Array:
            knots = np.log(LENGTHS)
            level = np.interp(where, knots, table["level"])
            return np.stack([np.interp(where, knots, table["plumb"]), level, level], axis=1)

        table = looked_up(TRUE_SIGMA_DEG)
        usual_sigma = np.radians(np.maximum(table, terms.building_sigma_deg))
        table = table * [building.plumb, building.level, building.level]
        true_sigma = np.radians(np.maximum(table, terms.building_sigma_deg))
        true_share, crooked_share = looked_up(TRUE_SHARE) / 3, looked_up(CROOKED_SHARE) / 3
        none = 1 - (true_share + crooked_share).sum(axis=1)
        things = things_of(lines, long_side_px)
        askew = np.zeros_like(true_sigma)
        askew[:, KINDS.index("away")] = np.radians(ADJOINING_SIGMA_DEG)
        for i, line in enumerate(lines):
            if line.drawn is not None:
                wish = np.array([kind == line.drawn.direction for kind in KINDS], float)
                true_share[i], crooked_share[i] = 0.9 * wish, 0.08 * wish
                true_sigma[i] = usual_sigma[i] = np.radians(terms.building_sigma_deg)
                none[i] = 1 - 0.98 * wish.sum()
            elif not line.beside_wall and things[i] == NONE:
                askew[i, KINDS.index("level")] = np.radians(ASKEW_SIGMA_DEG)
        hung = things != NONE
        true_sigma[hung, :2] = np.radians(SQUARE_SIGMA_DEG)
        whole = (true_share + crooked_share)[hung]
        true_share[hung], crooked_share[hung] = (1 - OF_ITSELF) * whole, OF_ITSELF * whole
        alike = companions(lines, long_side_px)
        alike[hung], alike[:, hung] = 0.0, 0.0
        alike[hung, hung] = 1.0
        crooked = np.full_like(true_sigma, np.radians(CROOKED_SIGMA_DEG))
        return cls(
            true_sigma,
            crooked,
            true_share,
            crooked_share,
            none,
            askew,
            usual_sigma,
            alike,
            things,
        )

    @property
    def own_share(self) -> Array:
        """How much of a witness each is (L,): one of some that stray together is a part of one."""
        return np.asarray(1 / self.alike.sum(axis=1))

    def joint_misfit(self, misfit: Array) -> Array:
        """Sum up lines' misfits (..., L), each thing's once (...).

        Sides of one crooked frame are one misfit; an edge that strays where those beside it do not
        is alone in that. So each counts by what it adds to what those that stray more say: the
        information on one mean in observations that are as alike as these lines.

        References
        ----------
        G. Choquet, "Theory of capacities", 1954: the integral of a function over a measure that
        does not add up; A. C. Aitken, "On least squares and linear combination of observations",
        1935: the mean of correlated observations (both from memory).
        """
        order = np.argsort(-misfit, axis=-1)
        falling = np.take_along_axis(misfit, order, axis=-1)
        root = np.linalg.cholesky(self.alike[order[..., :, None], order[..., None, :]])
        added = np.linalg.solve(root, np.ones_like(falling)[..., None])[..., 0] ** 2
        return np.asarray((added * falling).sum(axis=-1))

    @property
    def best_density(self) -> Array:
        """Highest density (L,) of a line's angle, of one that is true in a usual building."""
        best = (self.true_share / np.sqrt(2 * np.pi) / self.usual_sigma).max(axis=-1)
        return np.asarray(np.where(best > 0, best, self.none_share * ANYHOW_DENSITY))

    def taken(
        self, off: Array, extra_variance: Array, possible: Array | float = 1.0
    ) -> tuple[Array, Array, Array]:
        """Chances that lines are true (..., L, 3) or crooked (..., L, 3), and their evidence.

        Parameters
        ----------
        off
            Angle (..., L, 3) by which each line misses each direction, radians.
        extra_variance
            (..., L, 3) or less: what else is unsure of it, squared radians.
        possible
            (..., L, 3) or less: factor on the chance of each direction.

        Returns
        -------
        Chances of true and of crooked, and minus twice the logarithm (..., L) of how likely the
        line is at all, against one that is true and exactly so in a usual building.
        """
        parts = []
        for sigma, share in (
            (self.true_sigma, self.true_share),
            (self.crooked_sigma, self.crooked_share),
        ):
            variance = sigma**2 + extra_variance
            density = np.exp(-0.5 * off**2 / variance) / np.sqrt(2 * np.pi * variance)
            parts.append(share * possible * density)
        none = self.none_share * ANYHOW_DENSITY
        whole = parts[0].sum(axis=-1) + parts[1].sum(axis=-1) + none
        chances = [part / whole[..., None] for part in parts]
        return chances[0], chances[1], np.asarray(2 * np.log(self.best_density / whole))


def companions(lines: Sequence[RoomLine], long_side_px: int) -> Array:
    """Find how alike the strays of lines are, by how near to each other they run.

    Parameters
    ----------
    lines
        Room lines.
    long_side_px
        Longer side of the photo.

    Returns
    -------
    Correlations (L, L); none for a line that a person drew.
    """
    apart, cosine = side_by_side(lines)
    alike = COMPANION_CORRELATION * np.exp(-apart / long_side_px / COMPANION_REACH)
    drawn = np.array([line.drawn is not None for line in lines], bool)
    alike[(cosine < PARALLEL) | drawn[:, None] | drawn[None]] = 0.0
    np.fill_diagonal(alike, 1.0)
    least = float(np.linalg.eigvalsh(alike).min(initial=1.0))
    if least < LEAST_OWN:  # nearness is no proper distance: lines may be alike in a way none can be
        alike = (1 - LEAST_OWN) * alike + (LEAST_OWN - least) * np.eye(len(lines))
        alike /= np.diag(alike)[:, None]
    return np.asarray(alike)
