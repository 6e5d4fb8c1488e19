"""Changes made by hand, as pure functions: each gives a new arrangement, judged anew.

Nothing is forbidden here: a piece may be dragged across another on its way. The findings of the
result say which rules it breaks. Undo is keeping the arrangement one had.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.arrangement.contexts import evaluate
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.slots import closed_up
from visualiser.arrangement.snapping import REACH_MM, Guide, snap
from visualiser.errors import ArrangementError
from visualiser.findings import Finding
from visualiser.geometry import Rect, bounding_rect
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey
from visualiser.wording import Length, sentence

Line = Literal["left", "right", "top", "bottom", "plumb centre", "level centre"]
Direction = Literal["left", "right", "up", "down"]
Along = Literal["across", "upright"]

NUDGE_MM = {"mm": 1.0, "in": 25.4 / 16}
"""One press of an arrow key: 1 mm, or 1/16 in."""
HAIR_MM = 0.5
"""What lies nearer than this is taken to be of one size, or in one line."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What edits are judged by, and which pieces are kept where they are.

    Parameters
    ----------
    survey, guidelines
        The wall and the rules.
    kept
        Ids of pieces that no edit moves.
    """

    survey: Survey
    guidelines: Guidelines
    kept: frozenset[str] = frozenset()

    def keep(self, piece_ids: Iterable[str]) -> Bench:
        """Keep more pieces where they are."""
        return replace(self, kept=self.kept | frozenset(piece_ids))

    def release(self, piece_ids: Iterable[str]) -> Bench:
        """Let pieces be moved again."""
        return replace(self, kept=self.kept - frozenset(piece_ids))


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit gave: the new arrangement and the lines that were met."""

    arrangement: Arrangement
    guides: tuple[Guide, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the rules say of it."""
        return self.arrangement.findings


def move(
    arrangement: Arrangement,
    piece_ids: Collection[str],
    dx_mm: float,
    dy_mm: float,
    bench: Bench,
    *,
    reach_mm: float = REACH_MM,
    tape_mm: float | None = None,
) -> Edited:
    """Move pieces together; the group falls into a line that is near. ``reach_mm`` 0: into none.

    Raises
    ------
    ArrangementError
        If a piece is unknown or kept.
    """
    rects = _chosen(arrangement, piece_ids, bench)
    others = {i: r for i, r in arrangement.rects().items() if i not in rects}
    target = bounding_rect(rects.values()).moved(dx_mm, dy_mm)
    extra_x, extra_y = 0.0, 0.0
    guides: tuple[Guide, ...] = ()
    if reach_mm > 0:
        extra_x, extra_y, guides = snap(
            target,
            others,
            bench.survey,
            bench.guidelines,
            reach_mm=reach_mm,
            tape_mm=tape_mm,
        )
    moved = {i: r.moved(dx_mm + extra_x, dy_mm + extra_y) for i, r in rects.items()}
    return _edited(arrangement, moved, bench, guides)


def nudge(
    arrangement: Arrangement,
    piece_ids: Collection[str],
    direction: Direction,
    bench: Bench,
    *,
    unit: Literal["mm", "in"] = "mm",
    steps: int = 1,
) -> Edited:
    """Move pieces by steps of 1 mm or 1/16 in, into no line.

    Raises
    ------
    ArrangementError
        If a piece is unknown or kept.
    """
    step = NUDGE_MM[unit] * steps
    ways = {"left": (-step, 0.0), "right": (step, 0.0), "up": (0.0, step), "down": (0.0, -step)}
    return move(arrangement, piece_ids, *ways[direction], bench, reach_mm=0.0)


def swap(arrangement: Arrangement, one: str, other: str, bench: Bench) -> Edited:
    """Exchange two pieces, centre for centre; of unlike sizes, the group closes up.

    Raises
    ------
    ArrangementError
        If a piece is unknown or kept.
    """
    rects = _chosen(arrangement, [one, other], bench)
    a, b = rects[one], rects[other]
    exchanged = {one: _at(a, *b.centre_mm), other: _at(b, *a.centre_mm)}
    unlike = abs(a.width_mm - b.width_mm) > HAIR_MM or abs(a.height_mm - b.height_mm) > HAIR_MM
    if unlike and not bench.kept:
        sizes = {one: (b.width_mm, b.height_mm), other: (a.width_mm, a.height_mm)}
        closed = closed_up(arrangement.rects(), sizes)
        if closed is not None:
            closed[one], closed[other] = closed[other], closed[one]
            return _edited(arrangement, closed, bench)
    return _edited(arrangement, exchanged, bench)


def align(arrangement: Arrangement, piece_ids: Sequence[str], line: Line, bench: Bench) -> Edited:
    """Bring pieces to one line: that of the outermost edge, or of the middle of them all.

    Kept pieces among them set the line and stay.

    Raises
    ------
    ArrangementError
        If none is chosen, a piece is unknown, or all are kept.
    """
    everything = arrangement.rects()
    if not piece_ids:
        raise _none_chosen()
    _known(arrangement, piece_ids)
    free = [i for i in piece_ids if i not in bench.kept]
    if not free:
        raise _all_kept(arrangement, piece_ids)
    guide = bounding_rect(everything[i] for i in (set(piece_ids) & bench.kept or set(piece_ids)))
    moved = {i: _aligned(everything[i], guide, line) for i in free}
    return _edited(arrangement, moved, bench)


def _aligned(rect: Rect, guide: Rect, line: Line) -> Rect:
    shifts: dict[Line, tuple[float, float]] = {
        "left": (guide.left_mm - rect.left_mm, 0.0),
        "right": (guide.right_mm - rect.right_mm, 0.0),
        "top": (0.0, guide.top_mm - rect.top_mm),
        "bottom": (0.0, guide.bottom_mm - rect.bottom_mm),
        "plumb centre": (guide.centre_mm[0] - rect.centre_mm[0], 0.0),
        "level centre": (0.0, guide.centre_mm[1] - rect.centre_mm[1]),
    }
    return rect.moved(*shifts[line])


def distribute(
    arrangement: Arrangement, piece_ids: Sequence[str], along: Along, bench: Bench
) -> Edited:
    """Even out the gaps of three pieces or more; the outermost two stay.

    Raises
    ------
    ArrangementError
        If there are fewer than three, one is unknown, or one between the outermost is kept.
    """
    if len(set(piece_ids)) < 3:
        raise ArrangementError(
            "Gaps can be evened out between three pieces or more.", hint="Choose another piece."
        )
    _known(arrangement, piece_ids)
    line = _in_line(arrangement, piece_ids, along)
    inner = _chosen(arrangement, [i for i, _ in line[1:-1]], bench)
    span = bounding_rect(rect for _, rect in line)
    whole = span.width_mm if along == "across" else span.height_mm
    gap = (whole - sum(_length(r, along) for _, r in line)) / (len(line) - 1)
    placed = _strung(line, gap, along)
    return _edited(arrangement, {i: placed[i] for i in inner}, bench)


def match_gap(
    arrangement: Arrangement,
    piece_ids: Sequence[str],
    along: Along,
    bench: Bench,
    *,
    gap_mm: float | None = None,
) -> Edited:
    """Set the gaps of a line of pieces, the rules' gap when none is given, about its middle.

    Pieces beside and above each other keep their structure: gaps in both directions are set.

    Raises
    ------
    ArrangementError
        If there are fewer than two, one is unknown or kept, or the gap is below 0.
    """
    gap = bench.guidelines.gap_mm if gap_mm is None else gap_mm
    if len(set(piece_ids)) < 2 or not gap >= 0:
        raise ArrangementError(
            sentence(
                "A gap of ",
                Length(gap, None),
                f" was asked for between {len(set(piece_ids))} piece(s).",
            ),
            hint="Choose two pieces or more and a gap of 0 or more.",
        )
    _chosen(arrangement, piece_ids, bench)
    chosen = {i: arrangement.rect(i) for i in set(piece_ids)}
    if _in_two_directions(chosen):
        spaced = closed_up(chosen, {}, gap)
        if spaced is not None:
            return _edited(arrangement, spaced, bench)
    line = _in_line(arrangement, piece_ids, along)
    before = bounding_rect(rect for _, rect in line).centre_mm
    placed = _strung(line, gap, along)
    after = bounding_rect(placed.values()).centre_mm
    shift = (before[0] - after[0], before[1] - after[1])
    return _edited(arrangement, {i: r.moved(*shift) for i, r in placed.items()}, bench)


def mirror(
    arrangement: Arrangement, bench: Bench, piece_ids: Collection[str] | None = None
) -> Edited:
    """Exchange left and right of pieces, or of the whole group, about their own middle.

    Raises
    ------
    ArrangementError
        If a piece is unknown or kept.
    """
    chosen = list(arrangement.rects()) if piece_ids is None else piece_ids
    rects = _chosen(arrangement, chosen, bench)
    middle = bounding_rect(rects.values()).centre_mm[0]
    moved = {i: _at(r, 2 * middle - r.centre_mm[0], r.centre_mm[1]) for i, r in rects.items()}
    return _edited(arrangement, moved, bench)


def replace_piece(arrangement: Arrangement, piece_id: str, piece: Piece, bench: Bench) -> Edited:
    """Put another piece, or another size, in the place of one, keeping the group's outline.

    An edge that lies on the group's outline stays on it; otherwise the centre stays. Where that
    would crowd the others the group opens to its own gap, about its middle.

    Raises
    ------
    ArrangementError
        If the piece is unknown or kept, or the new id is taken by another.
    """
    old = _chosen(arrangement, [piece_id], bench)[piece_id]
    group = arrangement.bounds
    x = _kept_centre((old.left_mm, old.right_mm), (group.left_mm, group.right_mm), piece.width_mm)
    y = _kept_centre((old.bottom_mm, old.top_mm), (group.bottom_mm, group.top_mm), piece.height_mm)
    centres = {piece_id: (x, y)}
    if not bench.kept and _crowds(
        arrangement, piece_id, Rect.from_centre(x, y, piece.width_mm, piece.height_mm), bench
    ):
        spaced = closed_up(arrangement.rects(), {piece_id: (piece.width_mm, piece.height_mm)})
        centres = {i: r.centre_mm for i, r in spaced.items()} if spaced else centres
    changed = replace(
        arrangement,
        pieces=tuple(piece if p.id == piece_id else p for p in arrangement.pieces),
        placements=tuple(
            Placement(
                piece.id if p.piece_id == piece_id else p.piece_id,
                *centres.get(p.piece_id, (p.x_mm, p.y_mm)),
            )
            for p in arrangement.placements
        ),
        terms=(),
        findings=(),
    )
    return Edited(evaluate(changed, bench.survey, bench.guidelines))


def _crowds(arrangement: Arrangement, piece_id: str, new: Rect, bench: Bench) -> bool:
    """Whether a rectangle in the place of a piece comes nearer to the rest than the least gap."""
    grown = new.grown(bench.guidelines.gap_min_mm - HAIR_MM)
    return any(grown.overlaps(r) for i, r in arrangement.rects().items() if i != piece_id)


def _in_two_directions(rects: dict[str, Rect]) -> bool:
    """Whether some pieces stand beside each other and some above each other."""
    gaps = [a.gap_to(b) for a, b in combinations(rects.values(), 2)]
    beside = any(across > -HAIR_MM and up < -HAIR_MM for across, up in gaps)
    above = any(up > -HAIR_MM and across < -HAIR_MM for across, up in gaps)
    return beside and above


def _kept_centre(old: tuple[float, float], group: tuple[float, float], length_mm: float) -> float:
    on_low, on_high = abs(old[0] - group[0]) < HAIR_MM, abs(old[1] - group[1]) < HAIR_MM
    if on_low and not on_high:
        return old[0] + length_mm / 2
    if on_high and not on_low:
        return old[1] - length_mm / 2
    return (old[0] + old[1]) / 2


def _strung(line: list[tuple[str, Rect]], gap_mm: float, along: Along) -> dict[str, Rect]:
    """Pieces one after another at a gap, from where the first one is."""
    first = line[0][1]
    at = first.left_mm if along == "across" else first.bottom_mm
    out = {}
    for piece_id, rect in line:
        shift = at - (rect.left_mm if along == "across" else rect.bottom_mm)
        out[piece_id] = rect.moved(shift, 0.0) if along == "across" else rect.moved(0.0, shift)
        at += _length(rect, along) + gap_mm
    return out


def _in_line(
    arrangement: Arrangement, piece_ids: Sequence[str], along: Along
) -> list[tuple[str, Rect]]:
    axis = 0 if along == "across" else 1
    line = [(i, arrangement.rect(i)) for i in set(piece_ids)]
    return sorted(line, key=lambda item: (item[1].centre_mm[axis], item[0]))


def _length(rect: Rect, along: Along) -> float:
    return rect.width_mm if along == "across" else rect.height_mm


def _at(rect: Rect, x_mm: float, y_mm: float) -> Rect:
    return Rect.from_centre(x_mm, y_mm, rect.width_mm, rect.height_mm)


def _known(arrangement: Arrangement, piece_ids: Iterable[str]) -> None:
    hung = {p.piece_id for p in arrangement.placements}
    if unknown := sorted(set(piece_ids) - hung):
        raise ArrangementError(
            f"Piece {unknown[0]} does not hang in this arrangement.",
            hint="Choose a piece that hangs.",
        )


def _none_chosen() -> ArrangementError:
    return ArrangementError("No piece was chosen.", hint="Choose one first.")


def _all_kept(arrangement: Arrangement, piece_ids: Iterable[str]) -> ArrangementError:
    names = [arrangement.called(piece_id) for piece_id in sorted(piece_ids)]
    stay = "is kept where it is" if len(names) == 1 else "are kept where they are"
    return ArrangementError(
        f"{', '.join(names)} {stay}.", hint="Let it be moved first, or choose another."
    )


def _chosen(arrangement: Arrangement, piece_ids: Collection[str], bench: Bench) -> dict[str, Rect]:
    """Rectangles of pieces that hang and may be moved."""
    _known(arrangement, piece_ids)
    if kept := sorted(set(piece_ids) & bench.kept):
        raise _all_kept(arrangement, kept)
    if not piece_ids:
        raise _none_chosen()
    return {i: arrangement.rect(i) for i in dict.fromkeys(piece_ids)}


def _edited(
    arrangement: Arrangement,
    rects: dict[str, Rect],
    bench: Bench,
    guides: tuple[Guide, ...] = (),
) -> Edited:
    placements = tuple(
        Placement(p.piece_id, *rects[p.piece_id].centre_mm) if p.piece_id in rects else p
        for p in arrangement.placements
    )
    changed = replace(arrangement, placements=placements)
    return Edited(evaluate(changed, bench.survey, bench.guidelines), guides)
