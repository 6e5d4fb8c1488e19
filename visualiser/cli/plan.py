"""``visualiser plan``: hooks, loads, fixings and a measured plan to hang a job by."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.lengths import both
from visualiser.cli.output import (
    AsJson,
    Force,
    finding_data,
    print_json,
    say,
    say_findings,
    target_of,
    working,
)
from visualiser.errors import HangingError
from visualiser.statistics import COVERAGE_95
from visualiser.units import format_both, format_half_width

if TYPE_CHECKING:
    from visualiser.hanging.plan import HangingPlan
    from visualiser.survey.studs import Studs


class FromSide(StrEnum):
    """Side of the wall that is measured from."""

    left = "left"
    right = "right"


SideOption = Annotated[FromSide, typer.Option(help="Side of the wall to measure from.")]
WallOption = Annotated[
    str,
    typer.Option(
        metavar="KIND",
        help="What the wall is built of: plasterboard, lath and plaster, brick, concrete, timber "
        "or unknown; the job's own when left out.",
    ),
]
OptionOption = Annotated[
    str,
    typer.Option("--option", metavar="ID", help="Option to hang; the chosen one when left out."),
]
DespiteOption = Annotated[
    str,
    typer.Option(
        metavar="WORDS",
        help="Say in your own words why a piece may hang where it is dangerous: past the wall's "
        "end, on or beside a switch or pipe, behind furniture, on another piece. They are printed.",
    ),
]
StudsOption = Annotated[
    str,
    typer.Option(
        metavar="LENGTHS",
        help="Where studs were found with a detector, from the side, such as “400 mm; 800 mm”; the "
        "job's own when left out.",
    ),
]
StudSpacingOption = Annotated[
    str,
    typer.Option(
        metavar="LENGTH",
        help="Between the centres of studs, where known: 400 mm, 600 mm, 16 in, 24 in.",
    ),
]
RatingOption = Annotated[
    list[str] | None,
    typer.Option(
        metavar="FIXING=KG",
        help="Maker's rating of a fixing in kg, from its packet, such as “nail hook=12”; may be "
        "given again. What “visualiser job” was given is kept.",
    ),
]
PaperOption = Annotated[
    str, typer.Option(metavar="PAPER", help="Paper to print on: a4, letter, a3, …")
]


def plan(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    out: Annotated[Path, typer.Option(help="PDF to write; - for standard output.")],
    option: OptionOption = "",
    wall: WallOption = "",
    side: SideOption = FromSide.left,
    paper: PaperOption = "a4",
    rating: RatingOption = None,
    safety_factor: Annotated[
        float,
        typer.Option(help="Divide makers' ratings by this: 4 lets a hook rated 12 kg carry 3 kg."),
    ] = 4.0,
    roll: Annotated[
        str,
        typer.Option(metavar="LENGTH", help="Width of the paper roll that papers are cut from."),
    ] = "36 in",
    seismic: Annotated[
        bool, typer.Option("--seismic", help="Earthquakes happen here: add what to do about them.")
    ] = False,
    studs: StudsOption = "",
    stud_spacing: StudSpacingOption = "",
    despite: DespiteOption = "",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Print how to hang a job: hooks, loads, fixings, measures, paper cuts and cautions."""
    import visualiser as vis
    from visualiser.printing.hanging_plan import plan_pdf
    from visualiser.sizes import paper_size
    from visualiser.units import parse_length

    place = target_of(out, (".pdf",), force=force, as_json=as_json)
    with working("Planning the hooks …"):
        made, title = planned(
            project,
            option,
            wall,
            side,
            safety_factor=safety_factor,
            ratings_kg=ratings(rating or []),
            roll_width_mm=parse_length(roll),
            seismic=seismic,
            studs=typed_studs(studs, stud_spacing),
            accepted=despite,
        )
        data = plan_pdf(made, paper_size(paper), title)
    place.write(data)
    if as_json:
        print_json({"done": True, "file": str(out), **plan_data(made)})
        return
    measures, units = made.measures, vis.open_project(project).document.units
    for piece in made.pieces:
        for name, (x, y) in zip(piece.hook_names(), piece.hooks_mm, strict=True):
            away = abs(measures.from_side_mm(x))
            across = measures.across_in_words(x).replace(format_both(away), both(away, units), 1)
            where = f"{across}, {both(y, units)} up"
            say(f"hook {name:<4} {piece.piece.called}: {where}", as_json=place.piped)
    kind = made.wall if made.wall != "unknown" else "nobody knows what: no fixing is named"
    say(
        f"Measures across {format_half_width(measures.across_half_width_mm)}, up "
        f"{format_half_width(measures.up_half_width_mm)} (95 %). The wall is taken for {kind}.",
        as_json=place.piped,
    )
    say(f"{out} is the plan to hang {len(made.pieces)} pieces by.", as_json=place.piped)
    say_findings(made.findings, as_json=place.piped, units=units)


def planned(
    project: Path, option: str, wall: str, side: FromSide, **options: Any
) -> tuple[HangingPlan, str]:
    """Plan a job's arrangement; also the job's name.

    Raises
    ------
    VisualiserError
        If the job cannot be read, measured or hung.
    """
    import visualiser as vis
    from visualiser.project.products import prepared

    job = vis.open_project(project)
    return prepared(job, option).hanging_plan(wall, side=side.value, **options), job.document.name


def typed_studs(places: str, spacing: str) -> Studs | None:
    """Read studs as typed: lengths with semicolons between; None where none are.

    Raises
    ------
    VisualiserError
        If one is not a length, or studs cannot be so near together.
    """
    from visualiser.survey.studs import Studs
    from visualiser.units import parse_length, parse_place

    if not places.strip():
        if spacing.strip():
            raise HangingError(
                "A spacing of studs alone places none.",
                hint="Find one stud with a detector and give --studs as well.",
            )
        return None
    found = tuple(parse_place(part) for part in places.split(";") if part.strip())
    return Studs(found, parse_length(spacing) if spacing.strip() else None)


def ratings(entries: list[str]) -> dict[str, float]:
    """Read ratings typed as ``nail hook=12``.

    Raises
    ------
    HangingError
        If one is not a class of fixing, an equals sign and kilograms.
    """
    found: dict[str, float] = {}
    for entry in entries:
        name, _, kg = entry.partition("=")
        try:
            found[name.strip()] = float(kg.strip().removesuffix("kg").replace(",", "."))
        except ValueError:
            raise HangingError(
                f"“{entry}” is not a rating.", hint="Write class and kilograms: 'nail hook=12'."
            ) from None
    return found


def plan_data(made: HangingPlan) -> dict[str, Any]:
    """Turn a plan into plain data for programs: mm, kg, N and degrees."""
    measures = made.measures
    return {
        "wall": made.wall,
        "despite": made.accepted,
        "side": measures.side,
        "side_known": measures.side_known,
        "floor_known": measures.floor_known,
        "uncertainty_mm": {
            "across": round(measures.across_half_width_mm, 1),
            "up": round(measures.up_half_width_mm, 1),
        },
        "border_mm": {
            "from_side": round(
                measures.from_side_mm(
                    made.border.rect.left_mm
                    if measures.side == "left"
                    else made.border.rect.right_mm
                ),
                1,
            ),
            "up": round(made.border.rect.bottom_mm, 1),
            "width": round(made.border.rect.width_mm, 1),
            "height": round(made.border.rect.height_mm, 1),
            "diagonal": round(made.border.diagonal_mm, 1),
        },
        "pieces": [
            {
                "number": piece.number,
                "id": piece.piece.id,
                "hooks_mm": [
                    {
                        "name": name,
                        "from_side": round(measures.from_side_mm(x), 1),
                        "up": round(y, 1),
                    }
                    for name, (x, y) in zip(piece.hook_names(), piece.hooks_mm, strict=True)
                ],
                "drop_mm": round(piece.bearing.drop_mm, 1),
                "drop_is": piece.bearing.drop_origin,
                "weight_kg": round(piece.load.weight.kg, 2),
                "weight_uncertainty_kg": round(COVERAGE_95 * piece.load.weight.sigma_kg, 2),
                "weight_estimated": piece.load.weight.estimated,
                "down_n": round(piece.load.down_n, 1),
                "pull_out_n": round(piece.load.pull_out_n, 1),
                "wire_n": piece.load.wire_n and round(piece.load.wire_n, 1),
                "wire_angle_deg": piece.load.wire_angle_deg and round(piece.load.wire_angle_deg, 1),
                "hanger": piece.piece.hanger.kind,
                "spacing_assumed": piece.bearing.spacing_assumed,
                "places": [place for place, _ in piece.places],
                "fixing": piece.fixing.fixing.name if piece.fixing.fixing else None,
                "closed_hook": piece.fixing.closed,
                "no_fixing_because": list(piece.fixing.reasons),
                "fixings": piece.fixing.count,
                "basis": piece.fixing.basis,
            }
            for piece in made.pieces
        ],
        "cuts_mm": {
            "roll_width": round(made.cuts.roll_width_mm, 1),
            "length": round(made.cuts.length_mm, 1),
            "waste": round(made.cuts.waste, 4),
        },
        "purchases": [
            {"amount": item.amount, "what": item.what, "note": item.note} for item in made.purchases
        ],
        "findings": finding_data(made.findings),
    }
