"""A catalogue of candidate artworks in memory, searched in milliseconds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from visualiser.colour.palette import Palette, palette_from_lab
from visualiser.colour.ranking import Ranked, RankingWeights, rank_candidates
from visualiser.colour.search import PaletteIndex, nearest_palettes
from visualiser.colour.theme import overall_palette
from visualiser.errors import PieceError
from visualiser.findings import Finding
from visualiser.inventory.catalogue_database import MOST_SWATCHES, opened, unpack_palettes

_UNTRUSTED = Finding(
    "advice", "Its colours give little to go by.", "Look at the picture itself.", "palette-doubtful"
)


@dataclass(frozen=True, slots=True)
class Work:
    """One artwork of the catalogue."""

    file: str
    title: str
    width_mm: float | None
    height_mm: float | None
    palette: Palette


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One artwork found for a set or a room, and why."""

    work: Work
    ranked: Ranked


class Catalogue:
    """Artworks in memory, as they were when the catalogue was opened.

    Parameters
    ----------
    works
        Title and size of each; palettes are made when asked for.
    lab, shares
        (N, 8, 3) and (N, 8) palettes, unused places with shares of 0.
    trusted
        (N,) whether a palette says enough to judge by.
    """

    def __init__(
        self,
        works: Sequence[tuple[str, str, float | None, float | None]],
        lab: NDArray[np.float64],
        shares: NDArray[np.float64],
        trusted: NDArray[np.bool_],
    ) -> None:
        self._works = list(works)
        self._lab, self._shares, self._trusted = lab, shares, trusted
        self._index = PaletteIndex.of(lab, shares)
        self._sizes = np.array(
            [[np.nan if v is None else v for v in work[2:]] for work in works], float
        ).reshape(-1, 2)

    def __len__(self) -> int:
        return len(self._works)

    def work(self, row: int) -> Work:
        """One artwork with its palette."""
        findings = () if self._trusted[row] else (_UNTRUSTED,)
        palette = palette_from_lab(self._lab[row], self._shares[row], findings=findings)
        return Work(*self._works[row], palette)

    def of_size(
        self,
        width_mm: tuple[float, float] | None = None,
        height_mm: tuple[float, float] | None = None,
    ) -> NDArray[np.intp]:
        """Rows whose size is known and lies within both ranges (ends included)."""
        fits = np.ones(len(self), bool)
        for column, span in enumerate((width_mm, height_mm)):
            if span is not None:
                size = self._sizes[:, column]
                fits &= (size >= span[0]) & (size <= span[1])
        return np.flatnonzero(fits)

    def nearest(
        self,
        targets: Sequence[Palette],
        count: int = 20,
        weights: Sequence[float] | None = None,
        among: NDArray[np.intp] | None = None,
    ) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
        """Rows closest in colour to the targets brought together, and their search distances."""
        theme = overall_palette(targets, weights, MOST_SWATCHES)
        return nearest_palettes(self._index, [theme], count, among=among)

    def suggest(
        self,
        pieces: Sequence[Palette] = (),
        room: Palette | None = None,
        wall_lab: Sequence[float] | None = None,
        *,
        count: int = 20,
        width_mm: tuple[float, float] | None = None,
        height_mm: tuple[float, float] | None = None,
        weights: RankingWeights | None = None,
        shortlist: int = 120,
    ) -> list[Suggestion]:
        """Artworks that suit pieces and room, best first.

        A shortlist is found by the search distance to everything brought together; it is then
        ranked in full, on CIEDE2000.

        Parameters
        ----------
        pieces
            Palettes of the pieces to join.
        room, wall_lab
            Palette of the room and CIELAB of its wall's paint, where known.
        count
            How many to suggest.
        width_mm, height_mm
            Least and most size, where it matters; artworks of unknown size are then left out.
        weights
            What counts how much.
        shortlist
            How many are ranked in full.

        Raises
        ------
        ValueError
            If neither pieces nor a room are given.
        """
        rule = weights or RankingWeights()
        targets = [*pieces, *([room] if room is not None else [])]
        if not targets:
            raise ValueError("suggestions need pieces or a room to suit")
        each = [rule.kinship / max(len(pieces), 1)] * len(pieces)
        amounts = [*each, *([rule.room] if room is not None else [])]
        among = self.of_size(width_mm, height_mm)
        use = amounts if sum(amounts) > 0 else None
        rows, _ = self.nearest(targets, max(shortlist, count), use, among)
        if 2 * sum(t.trusted for t in targets) >= len(targets):
            # Greys lie close to everything and would fill the list; their cost comes later.
            telling = among[self._trusted[among]]
            sure, _ = self.nearest(targets, max(shortlist, count), use, telling)
            rows = np.unique(np.concatenate([rows, sure]))
        works = [self.work(int(row)) for row in rows]
        ranked = rank_candidates([w.palette for w in works], pieces, room, wall_lab, rule)
        return [Suggestion(works[r.index], r) for r in ranked[:count]]


def open_catalogue(database: Path) -> Catalogue:
    """Load a catalogue into memory.

    Raises
    ------
    PieceError
        If the file does not exist, or is no catalogue or a newer one.
    """
    if not database.is_file():
        raise PieceError(
            f"There is no catalogue at {database.name}.", hint="Index a folder of artworks first."
        )
    with opened(database) as connection:
        rows = connection.execute(
            "SELECT file, title, width_mm, height_mm, trusted, palette FROM works "
            "WHERE palette IS NOT NULL ORDER BY file"
        ).fetchall()
    lab, shares = unpack_palettes([row[5] for row in rows])
    trusted = np.array([bool(row[4]) for row in rows], bool)
    return Catalogue([row[:4] for row in rows], lab, shares, trusted)
