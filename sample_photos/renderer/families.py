"""Further families: groups with known faults, bare and dressed pairs, walls without a reference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from drawing import WALLS, draw_camera, draw_reference, draw_room, draw_sensor
from numpy.typing import NDArray
from spec import Fitting, Frame, Room, Spec, placed_corners

Rng = np.random.Generator
Array = NDArray[np.float64]

_SIZES_MM = ((300, 400), (400, 500), (500, 700), (400, 400), (600, 450), (250, 300), (500, 400))
_FINISHES = ("#1d1b1a", "#8a6a45", "#e9e6df", "#b08d4f", "#5b3d2c", "#a9a9a6", "#c9a77c")
PAINTS = (
    "#8fa39b", "#2c3a52", "#c8a464", "#a65f45", "#e9e2d3", "#4f6d7a", "#d9b8ae", "#5a6b4f",
)  # fmt: skip
PAINTED = ("white", "offwhite", "greige", "green", "white", "#d9b8ae", "navy", "offwhite")
"""Walls whose new paint is traced too: plain paints alone, since paint covers any pattern."""
_MATS = ("#f0ede6", "#f6f4ef", "#e4ded0", "#2a2a2c")
ARTWORKS = (
    "lake-at-dawn",
    "night-water",
    "sails",
    "fern",
    "alder-twig",
    "pebbles",
    "arches",
    "basket-weave",
    "ripples",
    "pears-and-jug",
    "half-rounds",
    "reeds",
)


def _pieces(rng: Rng, count: int) -> list[Frame]:
    """Draw pieces without a place: mixed sizes, up to three finishes, mats and profiles."""
    finishes = rng.permutation(_FINISHES)[: int(rng.integers(1, 4))]
    works = rng.permutation(ARTWORKS)
    pieces = []
    for k in range(count):
        width, height = _SIZES_MM[int(rng.integers(len(_SIZES_MM)))]
        if rng.random() < 0.2:
            width, height = height, width
        moulding = float(rng.uniform(12, 32))
        matted = rng.random() < 0.7
        pieces.append(
            Frame(
                float(width),
                float(height),
                moulding,
                depth_mm=float(rng.uniform(14, 34)),
                mat_mm=float(rng.uniform(25, 60)) if matted else 0.0,
                colour=str(rng.choice(finishes)),
                plan_centre_mm=(0.0, 0.0),
                offset_mm=(0.0, 0.0),
                tilt_deg=0.0,
                lean_deg=0.0,
                profile=str(rng.choice(["flat", "bevelled", "rounded"])),
                glazing=str(rng.choice(["clear", "matt", "none"], p=[0.5, 0.3, 0.2])),
                mat_colour=str(rng.choice(_MATS, p=[0.5, 0.3, 0.15, 0.05])),
                artwork=str(works[k % len(works)]),
            )
        )
    return pieces


def _arranged(rng: Rng, pieces: list[Frame], x_mm: float, y_mm: float) -> list[Frame]:
    """Place pieces in columns of one or two about a centre, with one gap throughout."""
    gap = float(rng.uniform(50, 75))
    columns: list[list[Frame]] = []
    rest = list(pieces)
    while rest:
        two = len(rest) > 1 and (len(pieces) > 4 or rng.random() < 0.4)
        columns.append([rest.pop(0) for _ in range(2 if two else 1)])
    widths = [max(f.width_mm for f in column) for column in columns]
    left = x_mm - (sum(widths) + gap * (len(widths) - 1)) / 2
    placed = []
    for column, width in zip(columns, widths, strict=True):
        high = sum(f.height_mm for f in column) + gap * (len(column) - 1)
        top = y_mm + high / 2
        for frame in column:
            centre = (left + width / 2, top - frame.height_mm / 2)
            placed.append(replace(frame, plan_centre_mm=centre))
            top -= frame.height_mm + gap
        left += width + gap
    return placed


def _outline(frames: list[Frame]) -> Array:
    return np.vstack(
        [
            placed_corners(f.hung_centre_mm, f.width_mm, f.height_mm, f.tilt_deg)
            for f in frames
            if f.hung
        ]
    )


def _room(rng: Rng, seed: int, middle: float, centre: tuple[float, float], wide: bool) -> Room:
    size = (float(rng.uniform(5800, 7000)), float(rng.uniform(2420, 2750)))
    wall = WALLS[seed % len(WALLS)]
    side = int(rng.choice([-1, 1]))
    return draw_room(rng, size, wall, side, middle, centre, wide=wide, single=False)


def group(seed: int, long_side: int, fault: str = "errors") -> Spec:
    """Draw three to nine mixed pieces, hung with errors up to 15 mm and 2 degrees.

    ``fault`` adds one: 'missing' leaves one off the wall, 'swapped' exchanges two.
    """
    rng = np.random.default_rng([72, seed])
    middle, eye_line = float(rng.uniform(-400, 400)), float(rng.uniform(1480, 1600))
    pieces = _pieces(rng, int(rng.integers(3, 10)))
    plan = _arranged(rng, pieces, middle, eye_line)
    places = list(range(len(plan)))
    one, two = (int(k) for k in rng.choice(len(plan), 2, replace=False))
    if fault == "swapped":
        places[one], places[two] = two, one
    frames = []
    for k, frame in enumerate(plan):
        target = np.array(plan[places[k]].plan_centre_mm) + rng.uniform(-15, 15, 2)
        offset = target - frame.plan_centre_mm
        frames.append(
            replace(
                frame,
                offset_mm=(float(offset[0]), float(offset[1])),
                tilt_deg=float(rng.uniform(-2, 2)),
                lean_deg=float(rng.uniform(0, 1.2)),
                hung=not (fault == "missing" and k == one),
                swapped_with=places[k] if places[k] != k else None,
            )
        )
    outline = _outline(frames)
    beside = outline[:, 0].min() - 260 if rng.random() < 0.5 else outline[:, 0].max() + 260
    centre = (float(beside + rng.uniform(-30, 30)), float(rng.uniform(1350, 1650)))
    reference = draw_reference(rng, str(rng.choice(["a4", "letter"])), centre, hard=False)
    room = _room(rng, seed, middle, centre, wide=True)
    show = np.vstack([reference.corners_mm, outline])
    focus = (show.min(0) + show.max(0)) / 2
    camera, f35, convention = draw_camera(
        rng, room, focus, show, 0.026 * long_side, reference.width_mm, long_side
    )
    sensor = draw_sensor(rng, camera, f35)
    family = {"errors": "group", "missing": "missing", "swapped": "swapped"}[fault]
    return Spec(
        seed,
        family,
        room,
        (reference,),
        tuple(frames),
        None,
        camera,
        sensor,
        f35,
        convention,
    )


def bare_and_dressed(seed: int, long_side: int) -> tuple[Spec, Spec]:
    """Draw one wall twice: bare with its sheet, and with three to six pieces hung as planned.

    Camera, light and sensor are the same, tone mapping is global, and the second photo takes the
    first one's exposure: what differs is what hangs.
    """
    rng = np.random.default_rng([73, seed])
    middle, eye_line = float(rng.uniform(-300, 300)), float(rng.uniform(1500, 1580))
    pieces = _arranged(rng, _pieces(rng, int(rng.integers(3, 7))), middle, eye_line)
    centre = (middle + float(rng.uniform(-250, 250)), eye_line + float(rng.uniform(-120, 60)))
    reference = draw_reference(rng, str(rng.choice(["a4", "letter"])), centre, hard=True)
    room = replace(_room(rng, seed, middle, centre, wide=True), shadow_on_reference=False)
    outline = _outline(pieces)
    show = np.vstack([reference.corners_mm, outline])
    focus = (show.min(0) + show.max(0)) / 2
    camera, f35, convention = draw_camera(
        rng, room, focus, show, 0.026 * long_side, reference.width_mm, long_side
    )
    sensor = replace(draw_sensor(rng, camera, f35), local_tone=0.0)
    bare = Spec(seed, "bare", room, (reference,), (), None, camera, sensor, f35, convention)
    return bare, replace(bare, family="dressed", references=(), frames=tuple(pieces))


def repainted(seed: int, long_side: int) -> tuple[Spec, Spec]:
    """Draw one furnished wall twice: as it is, and in another paint.

    Lamp and plant stand before it. Camera, light and sensor are the same, tone mapping is global,
    and the second photo takes the first one's exposure: what differs is the paint, and the light
    that it throws back into the room.
    """
    rng = np.random.default_rng([76, seed])
    middle = float(rng.uniform(-300, 300))
    centre = (middle + float(rng.uniform(-350, 350)), float(rng.uniform(1400, 1650)))
    wall = PAINTED[seed % len(PAINTED)]
    size = (float(rng.uniform(4600, 6800)), float(rng.uniform(2420, 2750)))
    room = draw_room(
        rng, size, wall, int(rng.choice([-1, 1])), middle, centre, wide=False, single=False
    )
    side = float(rng.choice([-1, 1]))
    reach = size[0] / 2 - 350
    room = replace(
        room,
        lamp_x_mm=float(np.clip(middle + side * rng.uniform(1150, 1500), -reach, reach)),
        plant_x_mm=float(np.clip(middle - side * rng.uniform(1150, 1500), -reach, reach)),
        shadow_on_reference=False,
    )
    reference = draw_reference(rng, str(rng.choice(["a4", "letter"])), centre, hard=True)
    show = np.vstack([reference.corners_mm, [[room.lamp_x_mm, 1500]], [[room.plant_x_mm, 700]]])
    focus = np.array([middle, float(rng.uniform(1250, 1450))])
    camera, f35, convention = draw_camera(
        rng, room, focus, show, 0.026 * long_side, reference.width_mm, long_side
    )
    # Small pictures stand for large ones made smaller, which have hardly any blocks of JPEG.
    sensor = replace(draw_sensor(rng, camera, f35), local_tone=0.0, jpeg_quality=96)
    paint = str(rng.choice([p for p in PAINTS if p != wall]))
    before = Spec(seed, "before", room, (reference,), (), None, camera, sensor, f35, convention)
    return before, replace(before, family="after", room=replace(room, wall=paint))


def no_reference(seed: int, long_side: int) -> Spec:
    """Draw a wall with rectangles on it, none of which is a reference."""
    rng = np.random.default_rng([74, seed])
    middle = float(rng.uniform(-500, 500))
    centre = (middle, float(rng.uniform(1350, 1650)))
    frames: tuple[Frame, ...] = ()
    if rng.random() < 0.5:
        frames = tuple(_arranged(rng, _pieces(rng, int(rng.integers(1, 4))), *centre))
    kinds = rng.permutation(["canvas", "mirror", "screen", "panel"])[: int(rng.integers(1, 3))]
    right = max((f.plan_centre_mm[0] + f.width_mm / 2 for f in frames), default=middle - 500)
    decoys = []
    for kind in kinds:
        right += 620
        decoys.append((str(kind), float(right), float(rng.uniform(1300, 1650))))
    room = _room(rng, seed, middle, centre, wide=bool(frames))
    show = placed_corners(centre, 900, 700, 0)
    camera, f35, convention = draw_camera(
        rng, room, np.array(centre), show, 0.026 * long_side, 200.0, long_side
    )
    return Spec(
        seed,
        "none",
        room,
        (),
        frames,
        None,
        camera,
        draw_sensor(rng, camera, f35),
        f35,
        convention,
        decoys=tuple(decoys),
    )


def _radiator(rng: Rng, x_mm: float) -> Fitting:
    style = str(rng.choice(["ribbed", "tubes", "flat"], p=[0.5, 0.35, 0.15]))
    height = float(rng.choice([400.0, 500.0, 600.0, 700.0]))
    foot = float(rng.uniform(90, 180))
    return Fitting(
        "radiator",
        style,
        (x_mm, foot + height / 2),
        float(rng.choice([500.0, 700.0, 900.0, 1200.0, 1600.0])),
        height,
        float(rng.uniform(75, 130)),
        str(rng.choice(["#ececea", "#e4e1d8", "#3a3b3d", "#8d9089"], p=[0.5, 0.2, 0.15, 0.15])),
        pitch_mm=float(rng.uniform(30, 50)),
    )


def _wall_window(rng: Rng, x_mm: float, top_mm: float) -> Fitting:
    sill = float(rng.uniform(850, 1050))
    top = min(float(rng.uniform(2000, 2200)), top_mm - 150)
    return Fitting(
        "window",
        "",
        (x_mm, (sill + top) / 2),
        float(rng.uniform(900, 1500)),
        top - sill,
        float(rng.uniform(18, 32)),
        str(rng.choice(["#ecebe7", "#6f4a2f", "#4a4d50"], p=[0.7, 0.15, 0.15])),
        bars=int(rng.integers(0, 3)),
    )


def fitted(seed: int, long_side: int) -> Spec:
    """Draw a wall with a radiator on it, a window, or a window over a radiator, beside a sheet.

    One wall in four has neither, so that what is suggested there is wrong.
    """
    rng = np.random.default_rng([75, seed])
    middle = float(rng.uniform(-400, 400))
    centre = (middle, float(rng.uniform(1350, 1650)))
    reference = draw_reference(rng, str(rng.choice(["a4", "letter"])), centre, hard=False)
    side = float(rng.choice([-1, 1]))
    x = middle + side * float(rng.uniform(1000, 1300))
    room = _room(rng, seed, middle, centre, wide=True)
    room = replace(
        room, furniture="none", lamp_x_mm=None, plant_x_mm=None, door_x_mm=None, lamp_on=False,
        switch_x_mm=middle - side * 700, socket_x_mm=middle - side * 900,
    )  # fmt: skip
    what: tuple[Fitting, ...] = ()
    if seed % 4 in (0, 2):
        what += (_radiator(rng, x),)
    if seed % 4 in (1, 2):
        what += (_wall_window(rng, x, room.height_mm),)
    show = np.vstack([reference.corners_mm, *(f.corners_mm for f in what)])
    focus = (show.min(0) + show.max(0)) / 2
    camera, f35, convention = draw_camera(
        rng, room, focus, show, 0.026 * long_side, reference.width_mm, long_side
    )
    sensor = draw_sensor(rng, camera, f35)
    return Spec(
        seed, "fitted", room, (reference,), (), None, camera, sensor, f35, convention, fittings=what
    )
