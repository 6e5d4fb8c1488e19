"""What a colour is called: the ISCC-NBS names, exact, and the words a stylist uses."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources

import numpy as np
from numpy.typing import ArrayLike

from visualiser.colour.colorimetry import Colours, from_hex, srgb_to_lab
from visualiser.colour.difference import delta_e_2000

_HUES = frozenset(
    (
        *("pink", "red", "orange", "brown", "yellow", "olive", "green"),
        *("blue", "violet", "purple", "white", "gray", "black"),
    )
)
_HUE_MODIFIERS = frozenset(
    (
        *("yellowish", "reddish", "orange", "olive"),
        *("greenish", "bluish", "purplish", "yellow"),
    )
)
_NEUTRAL = frozenset(["white", "gray", "black"])


@dataclass(frozen=True, slots=True, eq=False)
class ColourNames:
    """A vocabulary: names and the colours that stand for them.

    Parameters
    ----------
    names
        N names.
    lab
        (N, 3) CIELAB (D65) of each.
    """

    names: tuple[str, ...]
    lab: Colours

    def nearest(self, lab: ArrayLike) -> list[str]:
        """Name of each of (N, 3) colours: that of the centroid with the least CIEDE2000."""
        colours = np.asarray(lab, float).reshape(-1, 3)
        best = delta_e_2000(colours[:, None], self.lab).argmin(1)
        return [self.names[int(i)] for i in best]


@cache
def iscc_nbs() -> ColourNames:
    """Load the 267 ISCC-NBS centroid colours.

    Spelling is that of the publication. The blocks of the system have drawn borders; the nearest
    centroid gives the block's name or, close to a border, its neighbour's.

    References
    ----------
    K. L. Kelly, D. B. Judd, "Color: Universal Language and Dictionary of Names", National Bureau
    of Standards Special Publication 440, 1976 (public domain). sRGB of the centroids as listed
    in Debian's libcolor-library-perl 0.021, dictionary NBS_ISCC.
    """
    table = resources.files("visualiser.colour").joinpath("iscc_nbs_centroids.csv")
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    lab = srgb_to_lab(np.array([from_hex(row["hex"]) for row in rows]))
    lab.flags.writeable = False
    return ColourNames(tuple(row["name"] for row in rows), lab)


def colour_name(lab: ArrayLike) -> str:
    """ISCC-NBS name of one colour.

    Examples
    --------
    >>> colour_name([50, 0, 0])
    'medium gray'
    """
    return iscc_nbs().nearest(lab)[0]


@cache
def stylist_words() -> ColourNames:
    """Load the words that people who furnish rooms use, such as sage, rust or ink blue.

    Every one of the 267 ISCC-NBS blocks has its word. The pale and dark near-neutrals, of which
    rooms and paper are made, are too coarse there and have points of their own. A word stands
    for several points; the choice of words is ours, common practice, no source.
    """
    table = resources.files("visualiser.colour").joinpath("stylist_words.csv")
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    lab = srgb_to_lab(np.array([from_hex(row["hex"]) for row in rows]))
    lab.flags.writeable = False
    return ColourNames(tuple(row["word"] for row in rows), lab)


@lru_cache(maxsize=4096)
def _word(lab: tuple[float, float, float]) -> str:
    return stylist_words().nearest(lab)[0]


def colour_word(lab: ArrayLike) -> str:
    """Name one colour in a stylist's words.

    Examples
    --------
    >>> colour_word([88, 2, 20]), colour_word([19, -2, -23])
    ('cream', 'navy')
    """
    lightness, red, yellow = (float(v) for v in np.asarray(lab, float).ravel())
    return _word((lightness, red, yellow))


def hue_name(name: str) -> str:
    """Level 2 of an ISCC-NBS name, one of 29: its hue without lightness and strength.

    Examples
    --------
    >>> hue_name("light grayish yellowish brown"), hue_name("bluish black")
    ('yellowish brown', 'black')
    """
    words = name.split()
    last = words[-1]
    if last in _NEUTRAL:
        return last
    kept = [w for w in words[:-1] if w in _HUE_MODIFIERS]
    return " ".join([*kept[-1:], last])


def hue_family(name: str) -> str:
    """Level 1 of an ISCC-NBS name: one of 13 plain words.

    Examples
    --------
    >>> hue_family("light grayish yellowish brown")
    'brown'
    """
    last = name.split()[-1]
    if last not in _HUES:
        raise ValueError(f"{name!r} is no ISCC-NBS colour name")
    return last
