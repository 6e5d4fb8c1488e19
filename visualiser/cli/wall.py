"""``visualiser wall``: find the reference in a photo; scale, level and ± in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from visualiser.cli.output import (
    AsJson,
    fail,
    finding_data,
    print_json,
    read_file,
    say,
    say_findings,
    working,
    write_files,
)
from visualiser.errors import MeasurementError, ReferenceNotFound, VisualiserError
from visualiser.statistics import COVERAGE_95

if TYPE_CHECKING:
    from visualiser.photo.photo import Photo
    from visualiser.rectification.finder.questions import Question
    from visualiser.rectification.plane import WallPlane
    from visualiser.rectification.reference import Reference
    from visualiser.survey.suggestions import Suggestion
    from visualiser.survey.survey import Survey

HIGHEST_EDGE_MM = 10_000.0


def wall(
    photo: Annotated[Path, typer.Argument(help="Photograph of the wall.")],
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="What of known size is on the wall: a4, letter, …, card or target, "
            "a size such as “4 x 6 in”, or a printed marker by its black square, “marker 100 mm”.",
        ),
    ] = "a4",
    bar: Annotated[
        str,
        typer.Option(
            metavar="LENGTH",
            help="What the check bar of the printed target measures, where it is not 100 mm.",
        ),
    ] = "",
    keep_clear: Annotated[
        bool,
        typer.Option(
            "--keep-clear",
            help="Also look for switches, sockets, radiators, windows, doors and furniture, as "
            "suggestions to check.",
        ),
    ] = False,
    lower_edge: Annotated[
        str,
        typer.Option(
            metavar="LENGTH",
            help="Height of the reference's lower edge above the floor, such as “1200 mm”: of a "
            "sheet or printed target the page's; without it the floor must show in the photo.",
        ),
    ] = "",
    take: Annotated[
        int,
        typer.Option(
            metavar="NUMBER",
            help="Take a doubtful find after looking at it: its number in the picture that "
            "--guesses draws.",
            min=0,
        ),
    ] = 0,
    guesses: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Where nothing is surely the reference: draw what may be it, numbered, as PNG.",
        ),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Find the reference on a photographed wall: scale, level, and how far to trust them."""
    import numpy as np

    import visualiser as vis
    from visualiser.rectification.finder.target import CHECK_BAR_MM
    from visualiser.units import format_half_width, parse_length

    try:
        height_mm = parse_length(lower_edge, "mm") if lower_edge else None
        with working("Looking for the reference …"):
            picture = vis.load_photo(read_file(photo))
            bar_mm = parse_length(bar, "mm") if bar else CHECK_BAR_MM
            candidates = vis.find_references(picture, reference, measured_bar_mm=bar_mm)
            asked = vis.questions(candidates)
            if take:
                candidates = [_taken(asked, take, reference)]
            plane = vis.fit_wall_plane(picture, candidates)
            seen = _things_seen(picture, plane, height_mm) if keep_clear else None
    except ReferenceNotFound as doubt:
        _ask(doubt, picture, asked, guesses, as_json=as_json)
        return
    except VisualiserError as error:
        fail(error, as_json=as_json, extra={"found": False})
        return

    near, at_1m, at_2m = (half_width_at(picture, plane, r) for r in (0.0, 1000.0, 2000.0))
    scale = plane.mm_per_px(np.zeros((1, 2)))[0]
    if as_json:
        print_json(
            {
                "found": True,
                "reference": {
                    "kind": reference,
                    "confidence": round(1.0 if take else candidates[0].confidence, 3),
                    "corners_px": np.round(plane.reference_corners_px, 3).tolist(),
                },
                "reference_tilt_deg": round(plane.reference_tilt_deg, 3),
                "level_uncertainty_deg": round(COVERAGE_95 * plane.level_sigma_deg, 3),
                "mm_per_px_at_reference": round(float(scale), 5),
                "uncertainty_mm": {
                    "at_reference": round(near, 2),
                    "at_1m": round(at_1m, 2),
                    "at_2m": round(at_2m, 2),
                },
                "lens": {"focal_px": round(plane.lens.focal_px, 1), "k1": round(plane.lens.k1, 4)},
                "findings": finding_data(plane.findings),
                **({} if seen is None else {"keep_clear": _seen_data(seen)}),
            }
        )
        return
    say(f"Found: {reference}, taped {plane.reference_tilt_deg:+.1f}° off level.", as_json=False)
    say(f"One pixel there is {scale:.2f} mm of wall.", as_json=False)
    say(
        f"95 % of measurements are within {format_half_width(near)} at the reference, "
        f"{format_half_width(at_1m)} one metre away, {format_half_width(at_2m)} at two metres.",
        as_json=False,
    )
    say_findings(plane.findings, as_json=False)
    if seen is not None:
        _say_seen(seen)


def _taken(asked: Sequence[Question], number: int, kind: str) -> Reference:
    """Take a guess that a person has looked at."""
    from visualiser.rectification.kinds import check_kind

    if not 1 <= number <= len(asked):
        raise MeasurementError(
            f"There is no guess number {number}.",
            hint="Leave --take out and give --guesses FILE to see them, numbered.",
        )
    question, name = asked[number - 1], check_kind(kind)
    return question.confirmed(name if name in question.kinds else None)


def _ask(
    doubt: ReferenceNotFound,
    picture: Photo,
    asked: Sequence[Question],
    to: Path | None,
    *,
    as_json: bool,
) -> None:
    """Show doubtful finds for an answer, and leave with exit code 1."""
    import numpy as np

    from visualiser.photo.encoding import encode_png
    from visualiser.rendering.guesses import draw_guesses

    data = [
        {
            "number": number,
            "kinds": list(one.kinds),
            "probability": round(one.probability, 3),
            "corners_px": np.round(one.corners_px, 1).tolist(),
            "doubt": one.readings[0].doubt,
        }
        for number, one in enumerate(asked, start=1)
    ]
    if asked and to is not None:
        drawn = draw_guesses(picture, [one.corners_px for one in asked])
        write_files({to: encode_png(drawn)})
        doubt.hint = f"Look at {to}: if one of them is it, give its number, as in --take 1."
    elif asked:
        doubt.hint += " Or give --guesses FILE to see what may be it, numbered, and then --take 1."
    fail(doubt, as_json=as_json, extra={"found": False, "guesses": data})


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was seen on and before the wall; nothing where the floor is not known."""

    survey: Survey
    suggestions: tuple[Suggestion, ...]


def _things_seen(picture: Photo, plane: WallPlane, lower_edge_mm: float | None) -> _Seen:
    import visualiser as vis

    if lower_edge_mm is not None and not 0 <= lower_edge_mm < HIGHEST_EDGE_MM:
        raise MeasurementError(
            "A reference's lower edge cannot be that far from the floor.",
            hint="Type how high it is taped above the finished floor, such as 1200 mm.",
        )
    survey = vis.survey_wall(picture, plane, vis.Marks(reference_height_mm=lower_edge_mm))
    return _Seen(survey, vis.suggest_zones(picture, survey))


def _seen_data(seen: _Seen) -> list[dict[str, object]]:
    data: list[dict[str, object]] = []
    for suggestion in seen.suggestions:
        box = suggestion.bounds
        data.append(
            {
                "kind": suggestion.what.kind,
                "before_the_wall": suggestion.stands,
                "left_mm": round(box.left_mm),
                "bottom_mm": round(box.bottom_mm),
                "width_mm": round(box.width_mm),
                "height_mm": round(box.height_mm),
                "uncertainty_mm": round(suggestion.half_width_mm(seen.survey), 1),
                "confidence": round(suggestion.confidence, 2),
                "why": suggestion.why,
            }
        )
    return data


def _say_seen(seen: _Seen) -> None:
    from visualiser.units import format_both, format_half_width

    if not seen.survey.floor_known:
        say(
            "The floor is not known: give --lower-edge to look for switches and doors.",
            as_json=False,
        )
        return
    if not seen.suggestions:
        say("Nothing to keep clear of stands out. Look for yourself: much does not.", as_json=False)
        return
    say("Perhaps to keep clear of (check each, and look for what is missing):", as_json=False)
    for suggestion in seen.suggestions:
        box = suggestion.bounds
        what = "furniture" if suggestion.stands else suggestion.what.kind
        say(
            f"  {what}, {format_both(box.left_mm)} to {format_both(box.right_mm)} along the wall, "
            f"{format_both(box.bottom_mm)} to {format_both(box.top_mm)} above the floor, "
            f"{format_half_width(suggestion.half_width_mm(seen.survey))}. {suggestion.why}",
            as_json=False,
        )


def half_width_at(photo: Photo, plane: WallPlane, radius_mm: float) -> float:
    """95 % half-width, mm, at a distance from the reference: the worst of what the photo shows."""
    import numpy as np

    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = radius_mm * np.c_[np.cos(turn), np.sin(turn)]
    px = plane.to_photo(ring)
    shown = ((px >= 0) & (px <= [photo.width_px - 1, photo.height_px - 1])).all(axis=1)
    widths = plane.half_width(ring)
    return float(widths[shown].max() if shown.any() else widths.min())
