"""A palette: the few colours that stand for a picture or a room, and how much of it each takes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.colour.colorimetry import Colours, lab_to_srgb, to_hex
from visualiser.colour.names import colour_word, iscc_nbs
from visualiser.findings import Finding


@dataclass(frozen=True, slots=True)
class Swatch:
    """One colour of a palette.

    Parameters
    ----------
    lab
        CIELAB, D65.
    share
        Part of the picture's area, above 0 and up to 1.
    hex
        Nearest sRGB as ``#rrggbb``.
    name
        ISCC-NBS colour name.
    accent
        Whether it was kept for its vividness although its area is small.
    """

    lab: tuple[float, float, float]
    share: float
    hex: str
    name: str
    accent: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.share <= 1 + 1e-9:
            raise ValueError(f"a swatch's share must be above 0 and at most 1, got {self.share!r}")
        if not np.isfinite(self.lab).all():
            raise ValueError(f"a swatch's colour must be finite, got {self.lab!r}")

    @property
    def word(self) -> str:
        """What a stylist calls it; `name` is exact."""
        return colour_word(self.lab)


@dataclass(frozen=True, slots=True)
class Palette:
    """Swatches, largest share first; shares sum to 1.

    Parameters
    ----------
    swatches
        At least one.
    findings
        What limits it: a monochrome picture, mostly transparent, one pixel.
    """

    swatches: tuple[Swatch, ...]
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        if not self.swatches:
            raise ValueError("a palette needs at least one swatch")
        total = sum(s.share for s in self.swatches)
        if abs(total - 1) > 1e-6:
            raise ValueError(f"the shares of a palette must sum to 1, got {total!r}")

    @property
    def lab(self) -> Colours:
        """(N, 3) CIELAB of the swatches."""
        return np.array([s.lab for s in self.swatches])

    @property
    def shares(self) -> NDArray[np.float64]:
        """(N,) shares of the swatches."""
        return np.array([s.share for s in self.swatches])

    @property
    def trusted(self) -> bool:
        """Whether nothing found speaks against judging by it."""
        return not any(f.severity in ("advice", "caution", "broken") for f in self.findings)


def palette_from_lab(
    lab: ArrayLike,
    shares: ArrayLike,
    accents: Iterable[bool] | None = None,
    findings: tuple[Finding, ...] = (),
) -> Palette:
    """Palette of known colours, ordered by share.

    Parameters
    ----------
    lab
        (N, 3) CIELAB, D65.
    shares
        (N,) amounts, 0 or more; scaled to sum to 1, those of 0 dropped.
    accents
        Whether each is an accent; none is by default.
    findings
        What limits the palette.

    Raises
    ------
    ValueError
        If no colour has a share.
    """
    colours = np.asarray(lab, float).reshape(-1, 3)
    amounts = np.asarray(shares, float).ravel()
    flags = np.zeros(len(colours), bool) if accents is None else np.array(list(accents), bool)
    kept = amounts > 0
    if not kept.any():
        raise ValueError("a palette needs at least one colour with a share above 0")
    colours, amounts, flags = colours[kept], amounts[kept] / amounts[kept].sum(), flags[kept]
    order = np.lexsort((colours[:, 2], colours[:, 1], colours[:, 0], -amounts))
    names, codes = iscc_nbs().nearest(colours), lab_to_srgb(colours)
    return Palette(
        tuple(
            Swatch(
                (float(colours[i, 0]), float(colours[i, 1]), float(colours[i, 2])),
                float(amounts[i]),
                to_hex(codes[i]),
                names[i],
                bool(flags[i]),
            )
            for i in order
        ),
        findings,
    )


def blend(palettes: Iterable[Palette], weights: ArrayLike | None = None) -> Palette:
    """One palette that holds the swatches of several, each palette counted by its weight."""
    items = list(palettes)
    if not items:
        raise ValueError("a blend needs at least one palette")
    amounts = np.ones(len(items)) if weights is None else np.asarray(weights, float)
    shares = np.concatenate([w * p.shares for w, p in zip(amounts, items, strict=True)])
    shares /= shares.sum()
    swatches = [s for p in items for s in p.swatches]
    mixed = [replace(s, share=float(v)) for s, v in zip(swatches, shares, strict=True) if v > 0]
    findings = tuple(dict.fromkeys(f for p in items for f in p.findings))
    return Palette(tuple(sorted(mixed, key=lambda s: -s.share)), findings)
