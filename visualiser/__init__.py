"""See groups of framed pictures to true scale on a photographed wall, and hang them level.

The names below are the main road. Each is loaded when first used, so that ``import visualiser``
stays quick.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from visualiser.arrangement.arrangement import Arrangement, Placement
    from visualiser.arrangement.guidelines import Guidelines
    from visualiser.arrangement.proposing import propose
    from visualiser.arrangement.rules import check_arrangement
    from visualiser.as_hung.check import check_as_hung
    from visualiser.colour.difference import delta_e_2000
    from visualiser.colour.distance import palette_distance
    from visualiser.colour.extraction import extract_palette
    from visualiser.colour.palette import Palette, Swatch
    from visualiser.errors import (
        ArrangementError,
        ColourError,
        HangingError,
        MeasurementError,
        PhotoError,
        PieceError,
        PrintingError,
        ProjectChanged,
        ProjectError,
        ReferenceNotFound,
        SizeError,
        UnitError,
        VisualiserError,
    )
    from visualiser.findings import Finding
    from visualiser.geometry import Polygon, Rect
    from visualiser.hanging.plan import HangingPlan, plan_hanging
    from visualiser.inventory.piece import Artwork, Hanger, Mat, Moulding, Piece
    from visualiser.inventory.piece_table import read_pieces
    from visualiser.laid_out.arranging import hang_as_laid
    from visualiser.laid_out.layout import LaidPiece, Layout
    from visualiser.laid_out.reading import read_layout
    from visualiser.photo.decoding import load_photo
    from visualiser.photo.encoding import encode_jpeg, encode_png
    from visualiser.photo.photo import Photo
    from visualiser.printing.approval import ApprovalOption, ApprovalSheet, approval_pdf
    from visualiser.printing.approval_page import approval_html
    from visualiser.printing.hanging_plan import plan_pdf
    from visualiser.printing.target import target_pdf
    from visualiser.printing.templates import templates_pdf
    from visualiser.project.store import Project, create_project, open_project
    from visualiser.rectification.camera.lens_calibration import calibrate_lens
    from visualiser.rectification.camera.lens_profile import LensProfile
    from visualiser.rectification.corner import CornerWalls, measure_corner
    from visualiser.rectification.finder.find import find_references
    from visualiser.rectification.finder.questions import Question, questions
    from visualiser.rectification.fit import fit_wall_plane
    from visualiser.rectification.joined.picture import JoinedPicture, straight_on_picture
    from visualiser.rectification.joined.wall import JoinedWall
    from visualiser.rectification.marks import DrawnLine, Marks, TapedLength
    from visualiser.rectification.plane import WallPlane, accuracy_map
    from visualiser.rectification.reference import Reference
    from visualiser.rendering.compositing import render_mockup
    from visualiser.rendering.elevation import draw_elevation
    from visualiser.rendering.mockup import Mockup, MockupOptions
    from visualiser.survey.suggestions import suggest_zones
    from visualiser.survey.survey import Furniture, Survey, Zone
    from visualiser.survey.surveying import survey_wall
    from visualiser.survey.wide_wall import join_photos


_HOME = {
    "check_as_hung": "as_hung.check",
    "Palette": "colour.palette",
    "Swatch": "colour.palette",
    "delta_e_2000": "colour.difference",
    "extract_palette": "colour.extraction",
    "palette_distance": "colour.distance",
    "ArrangementError": "errors",
    "ColourError": "errors",
    "HangingError": "errors",
    "MeasurementError": "errors",
    "PhotoError": "errors",
    "PieceError": "errors",
    "PrintingError": "errors",
    "ProjectChanged": "errors",
    "ProjectError": "errors",
    "ReferenceNotFound": "errors",
    "SizeError": "errors",
    "UnitError": "errors",
    "VisualiserError": "errors",
    "Finding": "findings",
    "load_photo": "photo.decoding",
    "encode_jpeg": "photo.encoding",
    "encode_png": "photo.encoding",
    "Photo": "photo.photo",
    "Reference": "rectification.reference",
    "find_references": "rectification.finder.find",
    "Question": "rectification.finder.questions",
    "questions": "rectification.finder.questions",
    "CornerWalls": "rectification.corner",
    "measure_corner": "rectification.corner",
    "WallPlane": "rectification.plane",
    "fit_wall_plane": "rectification.fit",
    "join_photos": "survey.wide_wall",
    "JoinedPicture": "rectification.joined.picture",
    "straight_on_picture": "rectification.joined.picture",
    "JoinedWall": "rectification.joined.wall",
    "DrawnLine": "rectification.marks",
    "Marks": "rectification.marks",
    "LensProfile": "rectification.camera.lens_profile",
    "calibrate_lens": "rectification.camera.lens_calibration",
    "accuracy_map": "rectification.plane",
    "TapedLength": "rectification.marks",
    "Survey": "survey.survey",
    "suggest_zones": "survey.suggestions",
    "survey_wall": "survey.surveying",
    "HangingPlan": "hanging.plan",
    "plan_hanging": "hanging.plan",
    "Artwork": "inventory.piece",
    "Hanger": "inventory.piece",
    "Mat": "inventory.piece",
    "Moulding": "inventory.piece",
    "Piece": "inventory.piece",
    "LaidPiece": "laid_out.layout",
    "Layout": "laid_out.layout",
    "hang_as_laid": "laid_out.arranging",
    "read_layout": "laid_out.reading",
    "Project": "project.store",
    "create_project": "project.store",
    "open_project": "project.store",
    "Arrangement": "arrangement.arrangement",
    "Placement": "arrangement.arrangement",
    "Guidelines": "arrangement.guidelines",
    "check_arrangement": "arrangement.rules",
    "propose": "arrangement.proposing",
    "Mockup": "rendering.mockup",
    "MockupOptions": "rendering.mockup",
    "render_mockup": "rendering.compositing",
    "Zone": "survey.survey",
    "Furniture": "survey.survey",
    "Rect": "geometry",
    "Polygon": "geometry",
    "draw_elevation": "rendering.elevation",
    "plan_pdf": "printing.hanging_plan",
    "templates_pdf": "printing.templates",
    "approval_html": "printing.approval_page",
    "approval_pdf": "printing.approval",
    "ApprovalOption": "printing.approval",
    "ApprovalSheet": "printing.approval",
    "target_pdf": "printing.target",
    "read_pieces": "inventory.piece_table",
}

__all__ = [
    "ApprovalOption",
    "ApprovalSheet",
    "Arrangement",
    "ArrangementError",
    "Artwork",
    "ColourError",
    "CornerWalls",
    "DrawnLine",
    "Finding",
    "Furniture",
    "Guidelines",
    "Hanger",
    "HangingError",
    "HangingPlan",
    "JoinedPicture",
    "JoinedWall",
    "LaidPiece",
    "Layout",
    "LensProfile",
    "Marks",
    "Mat",
    "MeasurementError",
    "Mockup",
    "MockupOptions",
    "Moulding",
    "Palette",
    "Photo",
    "PhotoError",
    "Piece",
    "PieceError",
    "Placement",
    "Polygon",
    "PrintingError",
    "Project",
    "ProjectChanged",
    "ProjectError",
    "Question",
    "Rect",
    "Reference",
    "ReferenceNotFound",
    "SizeError",
    "Survey",
    "Swatch",
    "TapedLength",
    "UnitError",
    "VisualiserError",
    "WallPlane",
    "Zone",
    "accuracy_map",
    "approval_html",
    "approval_pdf",
    "calibrate_lens",
    "check_arrangement",
    "check_as_hung",
    "create_project",
    "delta_e_2000",
    "draw_elevation",
    "encode_jpeg",
    "encode_png",
    "extract_palette",
    "find_references",
    "fit_wall_plane",
    "hang_as_laid",
    "join_photos",
    "load_photo",
    "measure_corner",
    "open_project",
    "palette_distance",
    "plan_hanging",
    "plan_pdf",
    "propose",
    "questions",
    "read_layout",
    "read_pieces",
    "render_mockup",
    "straight_on_picture",
    "suggest_zones",
    "survey_wall",
    "target_pdf",
    "templates_pdf",
]


def __getattr__(name: str) -> Any:
    """Load a name of the main road from its home on first use."""
    if name not in _HOME:
        raise AttributeError(f"module 'visualiser' has no attribute {name!r}")
    value = getattr(importlib.import_module(f"visualiser.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return sorted({*globals(), *__all__})
