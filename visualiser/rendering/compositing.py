"""The mock-up: framed works put on the photographed wall, in its own light.

Order: things to hide are painted out; every piece's shadow dims the wall; then the pieces are
drawn, farthest from the camera first. Each works on its own patch of the photo in linear light,
so that memory stays small and pixels that nothing touches keep their bytes.
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from visualiser.arrangement.arrangement import Arrangement
from visualiser.errors import PieceError
from visualiser.findings import Finding
from visualiser.geometry import PointsPx, Rect
from visualiser.inventory.framing_sizes import print_findings
from visualiser.inventory.moulding_section import edge_depth_mm
from visualiser.inventory.piece import Piece
from visualiser.photo.linear_light import LUMINANCE_32, LinearRgb, to_levels, to_linear
from visualiser.photo.photo import Photo, PixelsRgb
from visualiser.raster import resized_px, shrunk
from visualiser.rendering.cast_shadow import cast_shadow
from visualiser.rendering.finishes import moulding_finish
from visualiser.rendering.foreground import Matte, foreground_matte, put_in_front
from visualiser.rendering.framing import draw_piece
from visualiser.rendering.grain import Grain, add_grain, measure_grain
from visualiser.rendering.mockup import Mockup, MockupOptions
from visualiser.rendering.prints import visible_print
from visualiser.rendering.sharpness import HALO_PX, Sharpness, halo_of, measure_sharpness
from visualiser.rendering.sight_lines import Field, Region, camera_centre, sight_lines
from visualiser.rendering.things_in_front import ThingsInFront, find_things_in_front
from visualiser.rendering.wall_colour import paint_reflectance, relight, repaint_wall
from visualiser.rendering.wall_mask import find_wall_mask
from visualiser.rendering.wall_repair import paint_out
from visualiser.survey.light import WallLight, estimate_light
from visualiser.survey.main_light import MainLight
from visualiser.survey.survey import Survey
from visualiser.wording import Lengths, sentence

_NOT_REPAINTED = Finding(
    "advice",
    "Less than a third of the wall in view could be told from what stands before it and repainted.",
    "Patterned and very uneven walls cannot be tried in another colour; mark the usable wall.",
    code="wall-not-repainted",
)
_TAP_TO_PAINT = Finding(
    "note",
    "Some places may be wall or not, and were left unpainted.",
    "Tap them to add them to the wall.",
    code="wall-unsure",
)
_LEAST_REPAINTED = 0.3
_EDGE_FILTER_PX = 0.29
"""Blur that covering pixels by share already brings: standard deviation of a pixel's breadth."""


@dataclass(frozen=True, slots=True, eq=False)
class _Layer:
    """A piece as drawn: light (H, W, 3) times cover, and cover (H, W), over a region.

    ``calm`` (H, W) is the luminance of the light before noise was added.
    """

    region: Region
    drawn: LinearRgb
    cover: Field
    calm: Field


_LayerKey = tuple[Piece, Rect, MainLight, bool, int]
_LAYERS_KEPT = 60


@dataclass(frozen=True, slots=True, eq=False)
class PreparedWall:
    """Photo made ready for drawing: what does not change while pieces are moved about.

    Parameters
    ----------
    pixels
        (H, W, 3) the wall, at the size of drawing, with the reference painted out.
    survey
        Survey for these pixels.
    light
        Light on the wall.
    grain
        The photo's noise.
    sharpness
        What drawn edges need to look as sharp as the photo's own.
    mattes
        What stays in front.
    findings
        What was assumed.
    layers
        Pieces as drawn for earlier previews of this wall: while one is dragged, the others stay.
        None where nothing is kept, as at full size.
    things
        What was found to stand before the wall.
    unsure
        (h, w) at reduced size: what may be wall and was not painted.
    """

    pixels: PixelsRgb
    survey: Survey
    light: WallLight
    grain: Grain
    sharpness: Sharpness
    mattes: tuple[Matte, ...] = ()
    findings: tuple[Finding, ...] = ()
    layers: dict[_LayerKey, _Layer] | None = None
    things: ThingsInFront | None = None
    unsure: NDArray[np.bool_] | None = None


def prepare_wall(
    photo: Photo,
    survey: Survey,
    options: MockupOptions | None = None,
    *,
    wall_reflectance: NDArray[np.float32] | None = None,
) -> PreparedWall:
    """Prepare a photo for many mock-ups: reduced if asked, light measured, reference hidden.

    ``wall_reflectance`` (3,) is that of the paint, where another photo of the wall has shown it.
    """
    options = options or MockupOptions()
    if survey.plane is None:
        raise ValueError("this survey was typed, it has no photo to draw on")
    layers: dict[_LayerKey, _Layer] | None = None
    if options.max_side_px is not None:
        layers = {}
        photo, survey, options = reduced(photo, survey, options)
    assert survey.plane is not None
    light = estimate_light(photo, survey, wall_reflectance=wall_reflectance)
    sharpness = measure_sharpness(photo, survey.plane.reference_corners_px)
    grain = measure_grain(photo, _calm_regions(survey, photo)) if options.grain else Grain()
    pixels = photo.pixels.copy()
    hidden, failed = _hide(pixels, survey, options)
    findings = (*light.findings, *failed)
    mattes = tuple(foreground_matte(photo.pixels, thing) for thing in options.foreground)
    mask, things = None, None
    if options.things_in_front or options.wall_colour:
        mask = find_wall_mask(pixels, survey, light, taps=options.wall_taps, hidden_px=hidden)
    if mask is not None and options.things_in_front:
        things = find_things_in_front(pixels, mask)
    if mask is not None and options.wall_colour:
        wanted = paint_reflectance(options.wall_colour)
        if mask.covered < _LEAST_REPAINTED:
            findings = (*findings, _NOT_REPAINTED)
        else:
            before = pixels.copy() if mattes else pixels
            repaint_wall(pixels, survey, light, options.wall_colour, mask)
            put_in_front(pixels, before, mattes)
            things = things and things.repainted(wanted / light.wall_reflectance)
            # What stands on the wall mirrors the new paint.
            light = replace(light, wall_reflectance=wanted)
            if mask.unsure.any():
                findings = (*findings, _TAP_TO_PAINT)
    pixels.flags.writeable = False
    unsure = None if mask is None else mask.unsure
    return PreparedWall(
        pixels, survey, light, grain, sharpness, mattes, findings, layers, things, unsure
    )


def render_mockup(
    photo: Photo,
    survey: Survey,
    arrangement: Arrangement,
    options: MockupOptions | None = None,
    *,
    wall: PreparedWall | None = None,
) -> Mockup:
    """Draw an arrangement over the photo of its wall.

    Parameters
    ----------
    photo
        The wall.
    survey
        Its survey, with the plane fitted to this photo.
    arrangement
        Pieces and their places; pieces without a place are left out.
    options
        How to draw it.
    wall
        What ``prepare_wall`` made of the same photo, survey and options, to share it between
        variants or while a piece is dragged; prepared here when None.

    Returns
    -------
    The mock-up, at the photo's size unless the options ask for a preview.

    Raises
    ------
    PieceError
        If a piece is larger than the wall, or a colour cannot be read.
    ValueError
        If the survey has no photo behind it.
    """
    options = options or MockupOptions()
    rects = arrangement.rects()
    told = _check_places(arrangement, rects, survey)
    wall = wall or prepare_wall(photo, survey, options)
    main = options.main_light or wall.light.main
    pixels = wall.pixels.copy()
    pieces = [_with_finish(arrangement.piece(i), options) for i in rects]
    if options.shadows:
        ground = round(float(wall.light.wall_reflectance.mean()), 2)
        for piece in pieces:
            pale = _side_reflectance(piece)
            cast_shadow(
                pixels, wall.survey, rects[piece.id], piece.stand_off_mm, main, pale, ground
            )
    centre = camera_centre(wall.survey)
    for piece in sorted(pieces, key=lambda p: -_distance(centre, rects[p.id])):
        _draw(pixels, wall, piece, rects[piece.id], main, options)
    if wall.things is not None:
        wall.things.put_before(pixels, wall.pixels)
    put_in_front(pixels, wall.pixels, wall.mattes)
    relight(pixels, wall.light, options.room_light)
    corners = {p.id: front_corners_px(wall.survey, p, rects[p.id]) for p in pieces}
    return Mockup(pixels, corners, (*wall.findings, *told))


def front_corners_px(survey: Survey, piece: Piece, rect: Rect) -> PointsPx:
    """Outer corners (4, 2) of a piece's front in the photo: TL, TR, BR, BL."""
    return survey.project(np.c_[rect.corners(), np.full(4, edge_depth_mm(piece))])


def reduced(
    photo: Photo, survey: Survey, options: MockupOptions
) -> tuple[Photo, Survey, MockupOptions]:
    """Photo, survey and options at the size of a preview."""
    assert survey.plane is not None
    limit = options.max_side_px
    longest = max(photo.width_px, photo.height_px)
    if limit is None or limit >= longest:
        return photo, survey, replace(options, max_side_px=None)
    width, height = (max(round(n * limit / longest), 1) for n in (photo.width_px, photo.height_px))
    pixels = shrunk(photo.pixels, width, height)
    # Pixel p of the photo lies at (p + 0.5) s - 0.5 of the preview.
    s = width / photo.width_px
    lens = survey.plane.lens
    lens = replace(
        lens,
        focal_px=lens.focal_px * s,
        centre_x_px=float(resized_px(lens.centre_x_px, s)),
        centre_y_px=float(resized_px(lens.centre_y_px, s)),
    )
    plane = replace(
        survey.plane,
        lens=lens,
        reference_corners_px=resized_px(survey.plane.reference_corners_px, s),
    )
    small = replace(photo, pixels=pixels, focal_px=photo.focal_px and photo.focal_px * s)

    def moved(points: PointsPx) -> PointsPx:
        return resized_px(points, s)

    marks = replace(
        options,
        max_side_px=None,
        grain=False,  # averaged away at this size
        paint_out_px=tuple(moved(outline) for outline in options.paint_out_px),
        foreground=tuple(thing.mapped(moved) for thing in options.foreground),
        wall_taps=tuple(tap.mapped(moved) for tap in options.wall_taps),
    )
    return small, replace(survey, plane=plane), marks


def _distance(centre: tuple[float, float, float], rect: Rect) -> float:
    return math.dist(centre[:2], rect.centre_mm)


def _with_finish(piece: Piece, options: MockupOptions) -> Piece:
    if options.finish is None or piece.moulding is None:
        return piece
    return replace(piece, moulding=replace(piece.moulding, finish=options.finish, colour=""))


def _check_places(
    arrangement: Arrangement, rects: dict[str, Rect], survey: Survey
) -> list[Finding]:
    """Refuse a piece larger than the wall; tell of pieces that hang over its edge."""
    wall = survey.outline.bounds
    findings = []
    for piece_id, rect in rects.items():
        if rect.width_mm > wall.width_mm or rect.height_mm > wall.height_mm:
            raise PieceError(
                sentence(
                    f"{arrangement.called(piece_id)} is ",
                    Lengths((rect.width_mm, rect.height_mm)),
                    ", larger than the wall of ",
                    Lengths((wall.width_mm, wall.height_mm)),
                    ".",
                ),
                hint="Check its size and unit, or the size of the reference.",
            )
        if not wall.contains(rect):
            findings.append(
                Finding(
                    "broken",
                    f"{arrangement.called(piece_id)} reaches beyond the usable wall.",
                    "Move it inwards.",
                    code="beyond-wall",
                    piece_ids=(piece_id,),
                )
            )
        findings += print_findings(arrangement.piece(piece_id))
    return findings


def _hidden(survey: Survey, options: MockupOptions) -> list[PointsPx]:
    """Outlines of what is to be painted out."""
    assert survey.plane is not None
    outlines = [np.asarray(o, float) for o in options.paint_out_px]
    return [*outlines, survey.plane.reference_corners_px] if options.hide_reference else outlines


def _hide(
    pixels: NDArray[np.uint8], survey: Survey, options: MockupOptions
) -> tuple[list[PointsPx], list[Finding]]:
    """Paint out what is to be hidden; give the outlines that are wall now, and what failed."""
    assert survey.plane is not None
    outlines = _hidden(survey, options)
    fixed = [
        survey.to_photo(np.array(list(zone.polygon)))
        for zone in survey.zones
        if zone.kind != "other"
    ]
    fixed += [survey.to_photo(thing.rect.corners()) for thing in survey.furniture]
    hidden, findings = [], []
    for i, outline in enumerate(outlines):
        others = outlines[:i] + outlines[i + 1 :] + fixed
        if paint_out(pixels, survey, outline, others):
            hidden.append(outline)
        else:
            findings.append(
                Finding(
                    "advice",
                    "Too little bare wall is in view to paint over what was marked.",
                    "Photograph more of the wall around it, or crop it away.",
                    code="not-painted-out",
                )
            )
    return hidden, findings


def _calm_regions(survey: Survey, photo: Photo) -> list[Region]:
    """Patches on and around the reference, of paper and bare wall, to measure noise on."""
    assert survey.plane is not None
    corners = survey.plane.reference_corners_px
    centre = corners.mean(axis=0)
    reach = float(np.linalg.norm(corners[0] - corners[2]))
    angles = np.arange(8) * math.pi / 4
    around = centre + reach * np.c_[np.cos(angles), np.sin(angles)]
    across, down = corners[1] - corners[0], corners[3] - corners[0]
    u, v = np.meshgrid([0.2, 0.4, 0.6, 0.8], [0.2, 0.4, 0.6, 0.8])
    paper = corners[0] + u.reshape(-1, 1) * across + v.reshape(-1, 1) * down
    regions = [Region.around(spot[None], 24, photo.pixels.shape) for spot in around]
    if min(np.linalg.norm(across), np.linalg.norm(down)) >= 5 * 12:
        regions += [Region.around(spot[None], 12, photo.pixels.shape) for spot in paper]
    return regions


def _side_reflectance(piece: Piece) -> float:
    if piece.moulding is None:
        return 0.5
    return float(np.mean(moulding_finish(piece.moulding).reflectance))


def _draw(
    pixels: NDArray[np.uint8],
    wall: PreparedWall,
    piece: Piece,
    rect: Rect,
    main: MainLight,
    options: MockupOptions,
) -> None:
    """Draw one piece over its patch of the photo."""
    key = (piece, rect, main, options.glare, options.seed)
    layer = wall.layers.get(key) if wall.layers is not None else None
    if layer is None:
        layer = _layer(wall, piece, rect, main, options)
        if layer is None:
            return
        if wall.layers is not None:
            if len(wall.layers) >= _LAYERS_KEPT:
                wall.layers.clear()
            wall.layers[key] = layer
    patch = pixels[layer.region.slices]
    behind = to_linear(np.ascontiguousarray(patch))
    levels = to_levels(_over(layer.drawn, layer.cover, behind))
    touched = layer.cover > 1e-3
    if wall.sharpness.halo >= 0.02:
        wall_luminance = behind @ LUMINANCE_32
        mixed = to_levels(layer.calm + wall_luminance * (1 - layer.cover))
        halo = halo_of(mixed, layer.cover, to_levels(wall_luminance))
        levels += (np.float32(wall.sharpness.halo) * halo)[..., None]
        touched |= np.abs(halo) > 0.5
    np.copyto(patch, np.clip(np.rint(levels), 0, 255).astype(np.uint8), where=touched[..., None])


def _layer(
    wall: PreparedWall, piece: Piece, rect: Rect, main: MainLight, options: MockupOptions
) -> _Layer | None:
    """Draw a piece in the wall's light, as sharp and as noisy as the photo; None out of view."""
    survey, depth = wall.survey, piece.stand_off_mm
    blur = math.sqrt(max(wall.sharpness.blur_px**2 - _EDGE_FILTER_PX**2, 0.0))
    box = np.r_[
        front_corners_px(survey, piece, rect),
        survey.to_photo(rect.corners()),
    ]
    region = Region.around(box, 3 + 3 * blur + 3 * HALO_PX, wall.pixels.shape)
    if region.width < 2 or region.height < 2:
        return None
    lines = sight_lines(survey, region)
    pitch = min(float(lines.pitch_x_mm.min()), float(lines.pitch_y_mm.min()))
    shown = visible_print(piece, 1 / (pitch * lines.scale_at(depth)))
    ground = wall.light.wall_reflectance
    drawing = draw_piece(piece, rect, lines, shown, main, options.glare, ground)
    drawn = drawing.light
    drawn *= wall.light.white_in(region.x, region.y, region.width, region.height)
    cover = drawing.cover
    if blur >= 0.05:
        drawn = np.asarray(cv2.GaussianBlur(drawn, (0, 0), blur), np.float32)
        cover = np.asarray(cv2.GaussianBlur(cover, (0, 0), blur), np.float32)
    calm = np.asarray(drawn @ LUMINANCE_32, np.float32)
    add_grain(drawn, cover, wall.grain, options.seed ^ zlib.crc32(piece.id.encode()))
    return _Layer(region, drawn, cover, calm)


def _over(drawn: LinearRgb, cover: Field, behind: LinearRgb) -> LinearRgb:
    return np.asarray(drawn + behind * (1 - cover)[..., None], np.float32)
