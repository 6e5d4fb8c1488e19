"""The as-hung check: one more photo tells what to nudge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import MeasurementError
from visualiser.geometry import PointsPx
from visualiser.hanging.coarse_plane import coarse_plane, plane_of_group
from visualiser.hanging.deviations import AsHungReport, Tolerances
from visualiser.hanging.doubted_sheet import agree_in_size, sides_mm
from visualiser.hanging.frame_box import HungFrame, hung_frame
from visualiser.hanging.frame_fit import FrameFit, fit_frames
from visualiser.hanging.frame_sides import SideView, view_sides
from visualiser.hanging.judging import LEAST_CLEAR, from_group, judged
from visualiser.hanging.laying import laid_on
from visualiser.hanging.open_scale import at_best_scale
from visualiser.hanging.photo_limits import photo_findings, refuse_partial_view
from visualiser.hanging.registration import relaid
from visualiser.hanging.sightings import inner_rectangles, second_look
from visualiser.hanging.telling import told
from visualiser.photo.photo import Photo
from visualiser.rectification.linear_view import LinearView
from visualiser.rectification.plane import WallPlane

LOST_PX = 1.0
"""An edge that is left this far from its frame is another edge."""


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
        Which of the usual kinds to try first: what was taped up for the first photo, say.
    plane
        The photo's wall plane, when it has been fitted already.
    outlines_px
        Clicked outer corners (4, 2) of one or more pieces by id, for a photo without a reference.
    floor_mm
        The floor's y in the plane's mm, when known: the height of the group's centre is then told.
    tolerances
        Limits of what passes for well hung.

    Returns
    -------
    Deviation of every piece with its 95 % half-width, the gaps, and the fewest corrections.

    Raises
    ------
    MeasurementError
        If nothing in the photo tells its scale, or hardly any planned piece is in it.
    """
    pieces = [arrangement.piece(p.piece_id) for p in arrangement.placements]
    if not pieces:
        raise MeasurementError(
            "The plan has no piece placed.", hint="Place the pieces first, then check them."
        )
    planned = [hung_frame(p, arrangement.rect(p.id).centre_mm) for p in pieces]
    coarse = plane or coarse_plane(photo, pieces, planned, reference, outlines_px, likely)
    laid = laid_on(photo, coarse, pieces, planned)
    if plane is None and not outlines_px and laid.clear < LEAST_CLEAR * len(pieces):
        # What was taken for the sheet may be a picture, or another size of paper.
        alone = None if from_group(coarse) else plane_of_group(photo, pieces, planned)
        if alone is not None and not _same_scale(coarse, alone):
            again = laid_on(photo, alone, pieces, planned)
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
    group = judged(
        fit, [planned[s.place] for s in sightings], tolerances or Tolerances(), clear_share
    )
    group = replace(group, findings=(*group.findings, *limits))
    return told(arrangement, sightings, reasons, fit, group, floor_mm)


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
