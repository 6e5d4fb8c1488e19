"""Check a hung group: one more photo gives each piece's deviation and what to nudge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from visualiser.arrangement.arrangement import Arrangement
from visualiser.as_hung.edges import SideView, view_sides
from visualiser.as_hung.fit import FrameFit, fit_frames
from visualiser.as_hung.frame import HungFrame, hung_frame
from visualiser.as_hung.identify import OUTSIDE, Sighting, inner_rectangles, second_look
from visualiser.as_hung.judge import LEAST_CLEAR, Tolerances, compare_with_plan, from_group
from visualiser.as_hung.place import match_plan, relaid
from visualiser.as_hung.report import AsHungReport, build_report
from visualiser.as_hung.scale import (
    agree_in_size,
    at_best_scale,
    coarse_plane,
    plane_of_group,
    sides_mm,
)
from visualiser.errors import MeasurementError
from visualiser.findings import Finding
from visualiser.geometry import PointsPx
from visualiser.photo.photo import Photo
from visualiser.rectification.edges.linear_view import LinearView
from visualiser.rectification.plane import WallPlane

SOFT_PX, BLURRED_PX = 1.8, 3.0
"""Blur of the frames' edges, as a standard deviation, to warn of, and to refuse: sides are looked
for within 3 px of where they should be, and a wider step does not show which line it is."""
FEW_SIDES = 1.5
"""Where fewer sides to a frame than this can be measured, nothing is reported of it."""
LOST_PX = 1.0
"""An edge that is left this far from its frame is another edge."""


def refuse_partial_view(
    sightings: Sequence[Sighting], reasons: Mapping[str, str], planned: int
) -> None:
    """Refuse a photo that shows too little of the group to lay the plan on it.

    Parameters
    ----------
    sightings
        What was seen.
    reasons
        By piece id, why the others were not.
    planned
        How many pieces the plan has.

    Raises
    ------
    MeasurementError
        If hardly any piece is seen; or no more than half, with others outside the picture and no
        picture that distinguishes one frame from its equal.
    """
    count = len(sightings)
    told_apart = any(sighting.likeness is not None for sighting in sightings)
    hint = "Photograph the whole hung group from the front, or check the plan that is open."
    if 2 * count <= planned and not any(sighting.recognised for sighting in sightings):
        raise MeasurementError(
            f"None of the {planned} planned pieces is recognised in this photo: it may show "
            "another wall, or they do not hang yet.",
            hint=hint,
        )
    cut = OUTSIDE in reasons.values() and 2 * count <= planned and not told_apart
    if cut or count < max(1, planned // 3):
        raise MeasurementError(
            f"Only {count} of the {planned} planned pieces can be seen in this photo.",
            hint=hint,
        )


def photo_findings(fit: FrameFit, reasons: Sequence[str]) -> list[Finding]:
    """Tell what limits the check.

    Parameters
    ----------
    fit
        The frames as fitted.
    reasons
        Why each planned piece was not seen; empty for one that was.

    Raises
    ------
    MeasurementError
        If the photo is too blurred to measure millimetres.
    """
    found = []
    hint = "Hold the telephone against something firm and take the photo again in more light."
    if fit.blur_px > BLURRED_PX or fit.sides.mean() < FEW_SIDES:
        raise MeasurementError(
            "The photo is too blurred or too dark: hardly any edge of the frames can be measured.",
            hint=hint,
        )
    if fit.blur_px > SOFT_PX:
        message = f"The photo is blurred: edges of frames are {2 * fit.blur_px:.0f} px wide."
        found.append(Finding("advice", message, hint, "as-hung-blurred"))
    outside = sum(reason == OUTSIDE for reason in reasons)
    if outside:
        message = (
            f"{outside} of {len(reasons)} planned pieces are outside the picture; "
            "equal frames may have been taken for one another."
        )
        hint = "Photograph the whole group."
        found.append(Finding("advice", message, hint, "as-hung-outside"))
    return found


def check_as_hung(
    photo: Photo,
    arrangement: Arrangement,
    *,
    reference: str | None = None,
    likely: str | None = None,
    plane: WallPlane | None = None,
    outlines_px: Mapping[str, PointsPx] | None = None,
    floor_mm: float | None = None,
    tolerances: Tolerances | None = None,
) -> AsHungReport:
    """Compare hung pieces with their plan.

    Parameters
    ----------
    photo
        Photo of the hung group.
    arrangement
        The plan; outside sizes and depths of its pieces are the measure.
    reference
        Kind of the reference taped beside the group; several usual kinds are tried when None, and
        none is looked for when it is ``"none"``.
    likely
        Sheet or target to try first: what was taped up for the first photo, say.
    plane
        The photo's wall plane, when it has been fitted already.
    outlines_px
        Clicked outer corners (4, 2) of one or more pieces by id, for a photo without a reference.
    floor_mm
        The floor's y in the plane's mm, when known: the group's centre height is then reported.
    tolerances
        Limits of what passes for well hung.

    Returns
    -------
    Deviation of every piece with its 95 % half-width, the gaps, and the fewest corrections.

    Raises
    ------
    MeasurementError
        If nothing in the photo gives its scale, or hardly any planned piece is in it.
    """
    pieces = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    if not pieces:
        raise MeasurementError(
            "The plan has no piece placed.", hint="Place the pieces first, then check them."
        )
    planned = [hung_frame(p, arrangement.rect(p.id).centre_mm) for p in pieces]
    coarse = plane or coarse_plane(photo, pieces, planned, reference, outlines_px, likely)
    laid = match_plan(photo, coarse, pieces, planned)
    if plane is None and not outlines_px and laid.clear < LEAST_CLEAR * len(pieces):
        # What was taken for the sheet may be a picture, or another size of paper.
        alone = None if from_group(coarse) else plane_of_group(photo, pieces, planned)
        if alone is not None and not _same_scale(coarse, alone):
            again = match_plan(photo, alone, pieces, planned)
            if again.evidence > laid.evidence:
                coarse, laid = alone, again
    clear_share = laid.clear / len(pieces)
    places, found = laid.places, dict(laid.found)
    view = LinearView.whole(photo)
    sharp, views = coarse, list[SideView]()
    clear = {k: hit for k, hit in found.items() if hit.clear}
    if clear:
        located = [hit.frame for hit in clear.values()]
        if not from_group(coarse):
            insets = [inner_rectangles(pieces[k]) for k in clear]
            sharp, located = at_best_scale(photo.pixels, coarse, located, insets)
        fit, views = _look(view, coarse, sharp, located, 3.0)
        sharp = fit.plane
        for (k, hit), frame in zip(clear.items(), fit.frames, strict=True):
            found[k] = replace(hit, frame=frame)
        places = relaid(places, {k: found[k].frame for k in clear})
    sightings, reasons = second_look(photo.pixels, sharp, pieces, places, found)
    refuse_partial_view(sightings, reasons, len(pieces))
    frames = [s.located.frame for s in sightings]
    # Frames that have been refined together need no second wide look.
    known = len(clear) == len(frames) and all(s.piece == s.place in clear for s in sightings)
    views = views if known else []
    for search_px in (2.0,) if known else (3.0, 2.0):
        fit, views = _look(view, coarse, sharp, frames, search_px, views)
        frames, sharp = list(fit.frames), fit.plane
    limits = photo_findings(fit, [reasons.get(piece.id, "") for piece in pieces])
    group = compare_with_plan(
        fit, [planned[s.place] for s in sightings], tolerances or Tolerances(), clear_share
    )
    group = replace(group, findings=(*group.findings, *limits))
    return build_report(arrangement, sightings, reasons, fit, group, floor_mm)


def _same_scale(plane: WallPlane, alone: WallPlane) -> bool:
    """Whether a sheet is as large as the frames alone have it: then it is the better measure."""
    corners = plane.reference_corners_px
    return agree_in_size(sides_mm(corners, alone), sides_mm(corners, plane))


def _look(
    view: LinearView,
    coarse: WallPlane,
    known: WallPlane,
    frames: list[HungFrame],
    search_px: float,
    before: Sequence[SideView] = (),
) -> tuple[FrameFit, list[SideView]]:
    """Refine all frames together once, sides left out that turn out to be other edges.

    Of an earlier look at the same frames what was seen ``before`` is looked at again where needed.
    """
    views = view_sides(view, known, frames, search_px, before)
    fit = fit_frames(coarse, frames, views)
    good = [
        v
        for v, off in zip(views, fit.offsets_px, strict=True)
        if abs(off) < max(LOST_PX, 4 * v.sigma_px)
    ]
    return (fit_frames(coarse, frames, good) if len(good) < len(views) else fit), good
