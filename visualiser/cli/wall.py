"""``visualiser wall``: find the reference in a photo; scale, level and ± in millimetres."""

from __future__ import annotations

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
)
from visualiser.errors import VisualiserError

if TYPE_CHECKING:
    from visualiser.photo.photo import Photo
    from visualiser.rectification.plane import WallPlane


def wall(
    photo: Annotated[Path, typer.Argument(help="Photograph of the wall.")],
    reference: Annotated[
        str,
        typer.Option(
            help="What of known size is on the wall: a4, letter, …, card or target, "
            "or a size such as “4 x 6 in”."
        ),
    ] = "a4",
    as_json: AsJson = False,
) -> None:
    """Find the reference on a photographed wall: scale, level, and how far to trust them."""
    import numpy as np

    import visualiser as vis
    from visualiser.units import format_half_width

    try:
        with working("Looking for the reference …"):
            picture = vis.load_photo(read_file(photo))
            candidates = vis.find_references(picture, reference)
            plane = vis.fit_wall_plane(picture, candidates)
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
                    "corners_px": np.round(plane.reference_corners_px, 3).tolist(),
                },
                "reference_tilt_deg": round(plane.reference_tilt_deg, 3),
                "level_uncertainty_deg": round(1.96 * plane.level_sigma_deg, 3),
                "mm_per_px_at_reference": round(float(scale), 5),
                "uncertainty_mm": {
                    "at_reference": round(near, 2),
                    "at_1m": round(at_1m, 2),
                    "at_2m": round(at_2m, 2),
                },
                "lens": {"focal_px": round(plane.lens.focal_px, 1), "k1": round(plane.lens.k1, 4)},
                "findings": finding_data(plane.findings),
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


def half_width_at(photo: Photo, plane: WallPlane, radius_mm: float) -> float:
    """95 % half-width, mm, at a distance from the reference: the worst of what the photo shows."""
    import numpy as np

    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ring = radius_mm * np.c_[np.cos(turn), np.sin(turn)]
    px = plane.to_photo(ring)
    shown = ((px >= 0) & (px <= [photo.width_px - 1, photo.height_px - 1])).all(axis=1)
    widths = plane.half_width(ring)
    return float(widths[shown].max() if shown.any() else widths.min())
