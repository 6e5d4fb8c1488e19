"""The task in numbers: pieces in a fixed order, their sizes and visual weight, and the wall."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from visualiser.arrangement.furnishings import is_screen, ledges
from visualiser.arrangement.guidelines import Guidelines
from visualiser.arrangement.heights import eye_heights, highest_centre
from visualiser.arrangement.slopes import floor_heights, floor_rise, roof_side
from visualiser.arrangement.space import NEAR_MIDDLE, Boxes, WallSpace, eye_band, wall_space
from visualiser.errors import ArrangementError
from visualiser.geometry import Rect, frozen
from visualiser.inventory.piece import Piece
from visualiser.survey.survey import Survey, Zone
from visualiser.wording import Length, Lengths, sentence

Centres = NDArray[np.float64]
"""(..., N, 2) centres of N pieces on the wall, mm."""

DARKNESS_SHARE = 0.5
CHROMA_SHARE = 0.5
"""How much a black, or a strongly coloured, picture adds to its weight. Arnheim, *Art and Visual
Perception* (1974), says in words that size, darkness and saturation weigh; the shares are ours."""


NEAR_EYE = 0.25
"""Share of the centre height by which an object's middle may be off it and still set the line."""
MOST_OVERLAP = 0.35
"""Share of the narrower of two neighbours on a ledge by which they overlap at most."""
LAYERED_SHARE = 0.55
"""Share of their widths that pieces take of a ledge where low ones stand before tall ones."""
STEEPEST_STEP = 0.5
"""Rise over run at which pieces step down under a steeper roof: common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Setting:
    """Everything the families and the score look at.

    Parameters
    ----------
    pieces
        In canonical order, so that the order in which they were listed changes nothing.
    sizes
        (N, 2) outside width and height, mm.
    masses
        (N,) visual weight; mean 1.
    labs
        (N, 3) CIELAB mean colour of each; None when colours are not to be judged.
    space
        Where pieces may hang.
    survey, guidelines
        The wall and the rules.
    kept
        Number and centre of each piece that stays where it is.
    quick
        Whether a smaller search will do.
    """

    pieces: tuple[Piece, ...]
    sizes: NDArray[np.float64]
    masses: NDArray[np.float64]
    labs: NDArray[np.float64] | None
    space: WallSpace
    survey: Survey
    guidelines: Guidelines
    kept: tuple[tuple[int, float, float], ...] = ()
    quick: bool = False

    @property
    def count(self) -> int:
        """Number of pieces."""
        return len(self.pieces)

    @property
    def gap_mm(self) -> float:
        """The gap to aim at."""
        return self.guidelines.gap_mm

    def boxes(self, centres: Centres) -> Boxes:
        """Left, bottom, right and top (..., N, 4) of pieces at their centres."""
        half = self.sizes / 2
        return np.concatenate([centres - half, centres + half], axis=-1)

    def rest_height(self, height_mm: float, x_mm: float | None = None) -> float:
        """Height at which the centre of a group so tall is best hung, at a place along the wall."""
        x = None if x_mm is None else np.array([x_mm])
        return float(self.rest_heights(np.array([height_mm]), x)[0])

    def rest_heights(
        self, heights_mm: NDArray[np.float64], xs_mm: NDArray[np.float64] | None = None
    ) -> NDArray[np.float64]:
        """Heights (K,) at which the centres of groups so tall are best hung, at places (K,).

        Without places, about the axis on which a group is best centred.
        Above furniture the centre line gives way where it would bring the lower edge nearer to
        the furniture, or farther from it, than the clearances allow.
        """
        rules = self.guidelines
        if self.space.furniture is None:
            if floor_rise(self.survey.outline):
                xs = np.full_like(heights_mm, self.space.axis_mm) if xs_mm is None else xs_mm
                return rules.centre_height_mm + floor_heights(self.survey.outline, xs)
            return eye_heights(rules, heights_mm, self.space.ceiling_mm)
        top, half = self.space.furniture.rect.top_mm, heights_mm / 2
        low = top + rules.furniture_clearance_min_mm + half
        high = top + rules.furniture_clearance_max_mm + half
        lowest = rules.lowest_edge + half if rules.is_hard("lowest-edge") else 0.0
        return np.asarray(np.maximum(np.clip(rules.centre_height_mm, low, high), lowest))

    def settled(self, rects: Sequence[Rect], owner: str, hint: str) -> tuple[float, float]:
        """Shift a rigid group to the free place nearest to where it is best hung.

        Parameters
        ----------
        rects
            The group, mm, wherever it stands now.
        owner
            What the group comes from, such as "The layout", and
        hint
            what to do, for the error.

        Returns
        -------
        The shift, mm, right and up.

        Raises
        ------
        ArrangementError
            If the free wall has no place for it.
        """
        boxes = np.array([[r.left_mm, r.bottom_mm, r.right_mm, r.top_mm] for r in rects])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        width, height = (high - low).tolist()
        best = np.array([self.space.axis_mm, self.rest_height(height)]) - (low + high) / 2
        shift = self.space.settle(boxes, *best.tolist())
        if shift is None:
            free = self.space.whole
            raise ArrangementError(
                sentence(
                    f"{owner} takes ",
                    Lengths((width, height)),
                    ", for which the free wall of ",
                    Lengths((free.width_mm, free.height_mm)),
                    " has no place.",
                ),
                hint=hint,
            )
        return shift

    @property
    def highest_centre(self) -> float:
        """Greatest height of a group's centre; on a high wall more, and none up a stair."""
        if floor_rise(self.survey.outline) or not self.guidelines.is_hard("highest-centre"):
            return math.inf
        return highest_centre(self.survey, self.guidelines)


def describe(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines,
    colours: Mapping[str, ArrayLike] | None = None,
) -> Setting:
    """Check the task and put it in numbers.

    Raises
    ------
    ArrangementError
        If there is nothing to hang, ids repeat, or a piece cannot fit however it is placed.
    """
    if not pieces:
        raise ArrangementError("There are no pieces to arrange.", hint="Add at least one piece.")
    ids = [piece.id for piece in pieces]
    if doubled := {i for i in ids if ids.count(i) > 1}:
        raise ArrangementError(
            f"Two pieces share the id {sorted(doubled)[0]}.",
            hint="Give each piece an id of its own.",
        )
    return _described(pieces, survey, guidelines, colours, whole=True)


def describe_hung(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines,
    colours: Mapping[str, ArrayLike] | None = None,
) -> Setting:
    """Put pieces that hang already in numbers, in the order given, whether or not they fit."""
    return _described(pieces, survey, guidelines, colours, whole=False)


def _described(
    pieces: Sequence[Piece],
    survey: Survey,
    guidelines: Guidelines,
    colours: Mapping[str, ArrayLike] | None,
    *,
    whole: bool,
) -> Setting:
    space = wall_space(survey, guidelines)
    order = list(pieces)
    if whole:
        order.sort(key=lambda p: (-p.width_mm * p.height_mm, -p.width_mm, p.id))
        _refuse_too_large(order, space.whole)
    sizes = frozen([[p.width_mm, p.height_mm] for p in order], (None, 2))
    if whole:
        _refuse_too_many(order, sizes, space, guidelines)
        _refuse_too_large(order, space.bounds)
    labs = None
    if colours is not None and all(p.id in colours for p in order):
        labs = frozen([colours[p.id] for p in order], (None, 3))
    return Setting(
        pieces=tuple(order),
        sizes=sizes,
        masses=visual_weights(sizes, labs),
        labs=labs,
        space=space,
        survey=survey,
        guidelines=guidelines,
    )


def objects(setting: Setting, *, screens: bool = True) -> list[Rect]:
    """Give the zones at eye level that a group could surround, the nearest to the axis first.

    Without ``screens`` those are left out that people watch: a crown of frames crowds them.
    """
    height = setting.guidelines.centre_height_mm
    out = []
    for zone in setting.survey.zones:
        bounds = zone.polygon.bounds
        small = zone.kind in ("switch", "socket", "thermostat", "pipe")
        if not screens and is_screen(zone.name):
            continue
        if not small and zone.kind != "door" and bounds.bottom_mm < height < bounds.top_mm:
            out.append(bounds)
    return sorted(out, key=lambda r: (abs(r.centre_mm[0] - setting.space.axis_mm), r.left_mm))


def near_eye(setting: Setting) -> list[Rect]:
    """Give the zones but doors and devices that reach to about eye level, screens among them."""
    low, high = eye_band(setting.guidelines)
    return [
        zone.polygon.bounds
        for zone in setting.survey.zones
        if zone.kind not in ("switch", "socket", "thermostat", "pipe", "door")
        and zone.polygon.bounds.bottom_mm < high
        and zone.polygon.bounds.top_mm > low
    ]


def stair_rise(setting: Setting) -> float | None:
    """Rise over run of the stair: as given, or of the outline's sloping lower side."""
    if setting.guidelines.stair_slope_deg is not None:
        return math.tan(math.radians(setting.guidelines.stair_slope_deg))
    return floor_rise(setting.survey.outline) or None


def ceiling_rise(setting: Setting) -> float | None:
    """Rise over run of the wall's sloping upper side, as under a roof; None without one."""
    side = roof_side(setting.survey.outline)
    if side is None:
        return None
    rise = (side[1][1] - side[0][1]) / (side[1][0] - side[0][0])
    return min(max(rise, -STEEPEST_STEP), STEEPEST_STEP)


def host_of(item: Rect, setting: Setting) -> tuple[float, float, float, float]:
    """Centre, width and height of an object, grown where its clearance is more than the gap."""
    grow = max(setting.guidelines.zone_clearance_mm - setting.gap_mm, 0.0)
    return (*item.centre_mm, item.width_mm + 2 * grow, item.height_mm + 2 * grow)


def small_in_the_middle(setting: Setting) -> list[Zone]:
    """Give switches and thermostats about the middle of the wall at about eye level."""
    middle, width = setting.space.bounds.centre_mm[0], setting.space.bounds.width_mm
    height = setting.guidelines.centre_height_mm
    out = []
    for zone in setting.survey.zones:
        x, y = zone.polygon.bounds.centre_mm
        near = abs(x - middle) < NEAR_MIDDLE * width and abs(y - height) < NEAR_EYE * height
        if zone.kind in ("thermostat", "switch") and near:
            out.append(zone)
    return out


def takes_all(setting: Setting) -> bool:
    """Whether the picture ledges are long enough for all the pieces, overlapping a little."""
    tops = ledges(setting.survey, setting.guidelines)
    length = sum(ledge.width_mm for ledge in tops)
    free = max((setting.space.ceiling_mm - ledge.top_mm for ledge in tops), default=0.0)
    return bool(
        tops
        and LAYERED_SHARE * setting.sizes[:, 0].sum() <= length
        and setting.sizes[:, 1].max() + setting.guidelines.edge_clearance_mm <= free
    )


def visual_weights(
    sizes: NDArray[np.float64], labs: NDArray[np.float64] | None
) -> NDArray[np.float64]:
    """Weight of each piece to the eye (N,), mean 1: its area, more if dark or colourful."""
    weights = sizes[:, 0] * sizes[:, 1]
    if labs is not None:
        darkness = 1 - labs[:, 0] / 100
        chroma = np.hypot(labs[:, 1], labs[:, 2]) / 100
        weights = weights * (1 + DARKNESS_SHARE * darkness + CHROMA_SHARE * chroma)
    return frozen(weights / weights.mean(), (None,))


def _refuse_too_large(pieces: Sequence[Piece], bounds: Rect) -> None:
    lacks = {p.id: (p.width_mm - bounds.width_mm, p.height_mm - bounds.height_mm) for p in pieces}
    too_large = [i for i, lack in lacks.items() if max(lack) > 1e-6]
    if not too_large:
        return
    worst = max(too_large, key=lambda i: max(lacks[i]))
    axis = "wide" if lacks[worst][0] >= lacks[worst][1] else "tall"
    others = f" So are {', '.join(i for i in too_large if i != worst)}." if too_large[1:] else ""
    raise ArrangementError(
        sentence(
            f"Piece {worst} is ",
            Length(max(lacks[worst])),
            f" too {axis} for the free wall, ",
            Lengths((bounds.width_mm, bounds.height_mm)),
            f".{others}",
        ),
        hint=f"Leave out {', '.join(too_large)}, or lower the clearance from the wall's ends.",
    )


def _refuse_too_many(
    pieces: Sequence[Piece],
    sizes: NDArray[np.float64],
    space: WallSpace,
    guidelines: Guidelines,
) -> None:
    """Refuse a set whose frames and gaps need more area than there is: no packing can help."""
    gap = guidelines.gap_min_mm if guidelines.is_hard("gap-min") else 0.0
    room = (space.whole.width_mm + gap) * (space.whole.height_mm + gap)
    needs = np.prod(sizes + gap, axis=1)
    if (needed := float(needs.sum())) <= room * (1 + 1e-9):
        return
    drop: list[str] = []
    left = needed
    for piece, need in zip(pieces, needs, strict=True):
        if left <= room:
            break
        drop.append(piece.id)
        left -= float(need)
    raise ArrangementError(
        f"The pieces and the gaps between them need {needed / 1e6:.2f} m², "
        f"{(needed - room) / 1e6:.2f} m² more than the free wall has.",
        hint=f"Leave out {', '.join(drop)}, or choose smaller sizes.",
    )


def piece_colours(pieces: Sequence[Piece]) -> dict[str, NDArray[np.float64]]:
    """Mean CIELAB colour of each piece's artwork, by id; pieces without one are left out."""
    from visualiser.colour.colorimetry import srgb_to_lab

    out = {}
    for piece in pieces:
        if piece.artwork is None:
            continue
        pixels = piece.artwork.pixels
        step = max(1, int(np.sqrt(pixels.shape[0] * pixels.shape[1] / 4000)))
        lab = np.asarray(srgb_to_lab(pixels[::step, ::step])).reshape(-1, 3)
        out[piece.id] = lab.mean(axis=0)
    return out
