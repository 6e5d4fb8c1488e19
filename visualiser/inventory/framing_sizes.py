"""From print, mat and moulding to the frame's outside, as a framer adds them up; and back.

The trade quotes a frame by the sheet that fits its rebate ("a 24 x 30 in frame"), not by its
outside. From the outside in: moulding face, of which the lip (the rebate's width) covers the
sheet's edge; mat; window, which overlaps the print a little so that it cannot fall through.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from visualiser.errors import PieceError
from visualiser.findings import Finding
from visualiser.inventory.piece import Artwork, Mat, Moulding, Piece
from visualiser.wording import Length, Lengths, sentence

BOTTOM_WEIGHT = 1.2
"""A bottom border a fifth deeper than the others. Common practice, no source."""
_SLACK_MM = 1.5


@dataclass(frozen=True, slots=True)
class FramedSize:
    """Sizes of a framed print, each as (width, height) in mm.

    Parameters
    ----------
    outside_mm
        What hangs: the moulding's outside.
    rebate_mm
        What goes into the frame: the size that the trade calls the frame's.
    window_mm
        What is seen of the print.
    mat
        Window mat; None where the print fills the frame.
    """

    outside_mm: tuple[float, float]
    rebate_mm: tuple[float, float]
    window_mm: tuple[float, float]
    mat: Mat | None


def outside_of_frame(frame_mm: tuple[float, float], moulding: Moulding) -> tuple[float, float]:
    """Outside of a frame that is sold for sheets of a size."""
    grow = 2 * (moulding.width_mm - min(moulding.rebate_mm, moulding.width_mm))
    return frame_mm[0] + grow, frame_mm[1] + grow


def print_in_frame(
    print_mm: tuple[float, float],
    frame_mm: tuple[float, float],
    moulding: Moulding,
    *,
    overlap_mm: float = 3.0,
    bottom_weighted: bool = False,
    mat_colour: str = "#f4f1ea",
) -> FramedSize:
    """Work out a print of one size in a frame of another: the mat fills what is between.

    Parameters
    ----------
    print_mm, frame_mm
        Width and height of the print, and of the sheet that the frame takes.
    moulding
        The frame's moulding.
    overlap_mm
        How far the window covers the print on each side.
    bottom_weighted
        Put the mat's spare height below rather than share it evenly: the bottom border becomes
        a fifth deeper than the top.
    mat_colour
        Colour code of the mat.

    Raises
    ------
    PieceError
        If the print is larger than the frame, or so little smaller that no mat fits between.

    Examples
    --------
    An 18 x 24 in print in a 24 x 30 in frame of 20 mm moulding with a 6 mm rebate:

    >>> size = print_in_frame((457.2, 609.6), (609.6, 762.0), Moulding(20.0, rebate_mm=6.0))
    >>> [round(side, 1) for side in size.outside_mm]
    [637.6, 790.0]
    >>> round(size.mat.sides_mm, 1)
    73.2
    """
    for name, sides in (("print", print_mm), ("frame", frame_mm)):
        if not all(0 < side < 1e5 for side in sides):
            raise PieceError(
                sentence(f"The {name} is ", Lengths((sides[0], sides[1]), " x ", None), "."),
                hint="Give a width and a height above 0.",
            )
    outside = outside_of_frame(frame_mm, moulding)
    spare = (frame_mm[0] - print_mm[0], frame_mm[1] - print_mm[1])
    if min(spare) < -_SLACK_MM:
        turned = " It would fit turned by a quarter." if _fits_turned(print_mm, frame_mm) else ""
        raise PieceError(
            sentence(
                "A print of ",
                Lengths((print_mm[0], print_mm[1])),
                " does not go into a frame for ",
                Lengths((frame_mm[0], frame_mm[1])),
                f".{turned}",
            ),
            hint="Choose a larger frame, trim the print, or turn the frame.",
        )
    lip = min(moulding.rebate_mm, moulding.width_mm)
    sight = (frame_mm[0] - 2 * lip, frame_mm[1] - 2 * lip)
    if max(spare) <= _SLACK_MM:
        return FramedSize(outside, frame_mm, sight, None)
    window = (print_mm[0] - 2 * overlap_mm, print_mm[1] - 2 * overlap_mm)
    border = (sight[0] - window[0]) / 2
    upright = sight[1] - window[1]
    if min(border, upright / 2) < 0 or min(window) <= 0:
        raise PieceError(
            sentence(
                "Between a print of ",
                Lengths((print_mm[0], print_mm[1])),
                " and a frame for ",
                Lengths((frame_mm[0], frame_mm[1])),
                " the mat would lie wholly under the lip.",
            ),
            hint="Choose a larger frame or a smaller overlap, or frame the print without a mat.",
        )
    top = upright / (1 + BOTTOM_WEIGHT) if bottom_weighted else upright / 2
    mat = Mat(top, border, upright - top, overlap_mm, mat_colour)
    return FramedSize(outside, frame_mm, window, mat)


def _fits_turned(print_mm: tuple[float, float], frame_mm: tuple[float, float]) -> bool:
    return print_mm[0] <= frame_mm[1] + _SLACK_MM and print_mm[1] <= frame_mm[0] + _SLACK_MM


def mat_to_fit(piece: Piece) -> Piece:
    """Widen a piece's mat at two sides until its window has the artwork's shape.

    Nothing is cropped then, and the frame stays as large as it is. A piece without an artwork
    comes back as it is.
    """
    if piece.artwork is None:
        return piece
    mat = piece.mat or Mat(0.0, 0.0, 0.0)
    width, height = piece.window_mm
    aspect = piece.artwork.aspect
    if width > aspect * height:
        more = (width - aspect * height) / 2
        mat = replace(mat, sides_mm=mat.sides_mm + more)
    else:
        more = height - width / aspect
        mat = replace(mat, top_mm=mat.top_mm + more / 2, bottom_mm=mat.bottom_mm + more / 2)
    return replace(piece, mat=mat)


def padded(
    artwork: Artwork, aspect: float, paper: tuple[int, int, int] = (244, 241, 234)
) -> Artwork:
    """Whole picture on paper of a window's shape: nothing cropped, blank strips at two sides."""
    if not 0 < aspect < 1e4:
        raise ValueError(f"an aspect must be above 0, got {aspect!r}")
    rows, columns = artwork.pixels.shape[:2]
    full_w = max(columns, round(rows * aspect))
    full_h = max(rows, round(columns / aspect))
    sheet = np.full((full_h, full_w, 3), paper, np.uint8)
    top, left = (full_h - rows) // 2, (full_w - columns) // 2
    sheet[top : top + rows, left : left + columns] = artwork.pixels
    return Artwork(sheet, artwork.name)


def print_findings(piece: Piece) -> tuple[Finding, ...]:
    """Tell what to look at in a piece's picture: its shape and its resolution."""
    if piece.artwork is None:
        return ()
    width, height = piece.window_mm
    ratio = piece.artwork.aspect / (width / height)
    title = piece.name or piece.id
    findings = []
    if (lost := 1 - min(ratio, 1 / ratio)) >= 0.02 and piece.artwork_fit == "cut":
        findings.append(
            Finding(
                "advice",
                f"The picture of {title} does not have its window's shape: {100 * lost:.0f} % "
                "of it is cut off.",
                "Keep the crop, show it whole on paper, or widen the mat at two sides.",
                code="print-aspect",
                piece_ids=(piece.id,),
            )
        )
    columns = piece.artwork.pixels.shape[1]
    if columns / width < 0.4:
        findings.append(
            Finding(
                "advice",
                sentence(
                    f"The picture of {title} has only {columns} px for ",
                    Length(width),
                    " and looks soft.",
                ),
                "Use a larger scan or photo of it.",
                code="print-coarse",
                piece_ids=(piece.id,),
            )
        )
    return tuple(findings)
