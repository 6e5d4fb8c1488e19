"""The as-hung check: one more photo tells what to nudge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import MeasurementError
from visualiser.geometry import PointsPx
from visualiser.hanging.coarse_plane import coarse_plane, plane_of_group
from visualiser.hanging.deviations import AsHungReport, Tolerances
from visualiser.hanging.frame_box import HungFrame, hung_frame
from visualiser.hanging.frame_fit import FrameFit, fit_frames
from visualiser.hanging.frame_search import Located
from visualiser.hanging.frame_sides import view_sides
from visualiser.hanging.judging import LEAST_CLEAR, judged
from visualiser.hanging.photo_limits import photo_findings, refuse_partial_view
from visualiser.hanging.registration import lay_plan, relaid, shifted
from visualiser.hanging.sightings import first_look, second_look
from visualiser.hanging.telling import told
from visualiser.inventory.piece import Piece
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
    places, found = _laid(photo, coarse, pieces, planned)
    if plane is None and not outlines_px and _clear(found) < LEAST_CLEAR * len(pieces):
        # What was taken for the sheet may be a picture, or another size of paper.
        alone = plane_of_group(photo, pieces, planned)
        if alone is not None:
            again = _laid(photo, alone, pieces, planned)
            if _evidence(again[1]) > _evidence(found):
                coarse, (places, found) = alone, again
    clear_share = _clear(found) / len(pieces)
    view = LinearView.whole(photo)
    sharp = coarse
    clear = {k: hit for k, hit in found.items() if hit.clear}
    if clear:
        fit = _look(view, coarse, coarse, [hit.frame for hit in clear.values()], 3.0)
        sharp = fit.plane
        for (k, hit), frame in zip(clear.items(), fit.frames, strict=True):
            found[k] = replace(hit, frame=frame)
        places = relaid(places, {k: found[k].frame for k in clear})
    sightings, reasons = second_look(photo.pixels, sharp, pieces, places, found)
    refuse_partial_view(sightings, reasons, len(pieces))
    frames = [s.located.frame for s in sightings]
    # Frames that have been refined together need no second wide look.
    known = len(clear) == len(frames) and all(s.piece == s.place in clear for s in sightings)
    for search_px in (2.0,) if known else (3.0, 2.0):
        fit = _look(view, coarse, sharp, frames, search_px)
        frames, sharp = list(fit.frames), fit.plane
    limits = photo_findings(fit, [reasons.get(piece.id, "") for piece in pieces])
    group = judged(
        fit, [planned[s.place] for s in sightings], tolerances or Tolerances(), clear_share
    )
    group = replace(group, findings=(*group.findings, *limits))
    return told(arrangement, sightings, reasons, fit, group, floor_mm)


def _laid(
    photo: Photo, plane: WallPlane, pieces: Sequence[Piece], planned: Sequence[HungFrame]
) -> tuple[list[HungFrame], dict[int, Located]]:
    """Lay the plan on a plane, and look for every piece near its place there."""
    dx, dy, _ = lay_plan(photo.pixels, plane, planned)
    places = shifted(planned, dx, dy)
    return places, first_look(photo.pixels, plane, pieces, places)


def _clear(found: Mapping[int, Located]) -> int:
    return sum(hit.clear for hit in found.values())


def _evidence(found: Mapping[int, Located]) -> float:
    """How well the pieces that were found agree with what is seen, summed over them."""
    return sum(hit.agreement for hit in found.values() if hit.convincing)


def _look(
    view: LinearView,
    coarse: WallPlane,
    known: WallPlane,
    frames: list[HungFrame],
    search_px: float,
) -> FrameFit:
    """Refine all frames together once, sides left out that turn out to be other edges."""
    views = view_sides(view, known, frames, search_px)
    fit = fit_frames(coarse, frames, views)
    good = [
        v
        for v, off in zip(views, fit.offsets_px, strict=True)
        if abs(off) < max(LOST_PX, 4 * v.sigma_px)
    ]
    return fit_frames(coarse, frames, good) if len(good) < len(views) else fit
