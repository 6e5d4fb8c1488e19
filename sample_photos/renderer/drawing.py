"""The four first families of photos, each drawn from its seed alone."""

from __future__ import annotations

import numpy as np
from camera import Camera
from numpy.typing import NDArray
from sensor import Sensor
from spec import SHEET_SIZES_MM, Frame, Reference, Room, Spec, placed_corners

Rng = np.random.Generator
Array = NDArray[np.float64]

# Families and, within 'room', the reference and wall kinds cycle with the seed, so that any run
# of seeds is a fair spread; everything else is random.
FAMILIES = ("room", "room", "hung", "room", "palette", "room", "pair", "hung")
ROOM_REFERENCES = ("a4", "a4", "aruco", "letter", "id1", "a4")
WALLS = ("white", "green", "wallpaper", "offwhite", "brick", "white", "greige", "navy")


def family_of(seed: int) -> str:
    """Family that a seed belongs to."""
    return FAMILIES[seed % len(FAMILIES)]


def _index_in_family(seed: int) -> int:
    whole, rest = divmod(seed, len(FAMILIES))
    name = FAMILIES[rest]
    return whole * FAMILIES.count(name) + FAMILIES[:rest].count(name)


def draw_reference(rng: Rng, kind: str, centre: tuple[float, float], hard: bool) -> Reference:
    """Draw a reference at a place; a `hard` sheet is blank."""
    rotation = 0.0 if rng.random() < 0.2 else float(rng.uniform(-3, 3))
    if kind == "aruco":
        side = float(rng.choice([120.0, 150.0, 180.0]))
        return Reference(
            "aruco",
            side,
            side,
            centre,
            rotation,
            "corners",
            marker_id=int(rng.integers(50)),
            card_mm=2 * round(side * 5 / 7),
        )  # even: marker and card edges fall on texels
    width, height = SHEET_SIZES_MM[kind]
    if kind == "id1":
        return Reference("id1", width, height, centre, rotation)
    if rng.random() < 0.25:
        width, height = height, width
    tape = str(rng.choice(["top", "corners", "none"], p=[0.35, 0.4, 0.25]))
    return Reference(
        kind,
        width,
        height,
        centre,
        rotation,
        tape,
        bow_mm=float(rng.uniform(0, 2.5)),
        corner_lift_mm=float(rng.uniform(0, 5)) if tape == "top" else 0.0,
        printed=bool(rng.random() < 0.25) and not hard,
    )


def draw_hang(rng: Rng, centre_x: float, reference_y: float) -> tuple[Frame, ...]:
    """Three to six frames in a row or block, 50-75 mm apart in plan, each with a small error."""
    count = int(rng.integers(3, 7))
    rows = 1 if count <= 3 else 2
    columns = -(-count // rows)
    width, height = [(320.0, 420.0), (420.0, 420.0), (520.0, 420.0), (280.0, 360.0)][
        int(rng.integers(4))
    ]
    gap = float(rng.uniform(50, 75))
    finish = str(rng.choice(["#1d1b1a", "#8a6a45", "#e9e6df", "#b08d4f"]))
    moulding, depth, mat = (
        float(rng.uniform(14, 28)),
        float(rng.uniform(15, 30)),
        float(rng.uniform(30, 65)),
    )
    frames = []
    for i in range(count):
        r, c = divmod(i, columns)
        in_row = min(columns, count - r * columns)
        x = centre_x + (c - (in_row - 1) / 2) * (width + gap)
        y = reference_y + ((rows - 1) / 2 - r) * (height + gap)
        frames.append(
            Frame(
                width,
                height,
                moulding,
                depth,
                mat,
                finish,
                (x, y),
                (float(rng.uniform(-15, 15)), float(rng.uniform(-15, 15))),
                float(rng.uniform(-2, 2)),
                float(rng.uniform(0, 1.2)),
            )
        )
    return tuple(frames)


def draw_camera(
    rng: Rng,
    room: Room,
    focus: Array,
    must_show: Array,
    min_px: float,
    ref_mm: float,
    long_side: int,
) -> tuple[Camera, float, str]:
    """Draw poses until all of `must_show` (N, 2) is well inside and the reference big enough.

    The first two points are the reference's top edge.
    """
    convention = str(rng.choice(["width", "diagonal"]))
    portrait = bool(rng.random() < 0.3)
    short = long_side * 3 // 4
    width, height = (short, long_side) if portrait else (long_side, short)
    f35 = float(rng.uniform(24, 28))
    f_px = f35 / 36 * long_side if convention == "width" else f35 / 43.267 * 1.25 * long_side
    k1 = float(rng.uniform(-0.08, 0.08)) if rng.random() < 0.6 else float(rng.normal(0, 0.012))
    k2 = float(rng.uniform(-0.02, 0.02))
    cx = (width - 1) / 2 + float(rng.normal(0, 0.004)) * width
    cy = (height - 1) / 2 + float(rng.normal(0, 0.004)) * height
    # Aim: the part of the wall in question first; wide poses are tried more often than near ones.
    for attempt in range(4000):
        ease = attempt / 4000
        distance = (
            float(rng.uniform(2300, 4200)) if ref_mm > 100 else float(rng.uniform(1300, 2300))
        )
        yaw = float(rng.choice([-1, 1])) * float(rng.uniform(0, 40 - 25 * ease))
        pitch, roll = float(rng.uniform(-12, 12)), float(rng.uniform(-3, 3))
        aim = focus + rng.normal(0, [350, 150])
        x = aim[0] - distance * np.tan(np.radians(yaw))
        y = aim[1] - distance * np.tan(np.radians(pitch))
        if (
            abs(x) > room.width_mm / 2 - 350
            or not 1000 < y < 1950
            or distance > room.depth_mm - 500
        ):
            continue
        camera = Camera(
            width, height, f_px, cx, cy, (float(x), float(y), distance), yaw, pitch, roll, k1, k2
        )
        points = np.c_[must_show, np.zeros(len(must_show))]
        if not camera.sees(points, margin=0.03 * short).all():
            continue
        shown = camera.project(points)
        size = np.linalg.norm(
            np.diff(shown[:2], axis=0)
        )  # the first two points are the reference's top edge
        if size < min_px:
            continue
        # Observed -> ideal must be one-to-one over the picture.
        r2 = ((width / 2) ** 2 + (height / 2) ** 2) / f_px**2 * 1.3
        if 1 + 3 * k1 * r2 + 5 * k2 * r2 * r2 < 0.3:
            k1, k2 = k1 / 2, k2 / 2
            continue
        return camera, f35, convention
    raise RuntimeError("no camera pose found; loosen the limits")


def draw_room(
    rng: Rng,
    size_mm: tuple[float, float],
    wall: str,
    side: int,
    middle: float,
    centre: tuple[float, float],
    wide: bool,
    single: bool,
) -> Room:
    """Furnish a room around what is on its wall.

    `wide` keeps lamp and plant clear of a group, `single` allows the distractors of single sheets.
    """
    width, height = size_mm
    furniture = str(rng.choice(["sofa", "sideboard", "none"], p=[0.45, 0.4, 0.15]))
    furniture_x = middle + float(rng.uniform(-300, 300))
    lamp_side = float(rng.choice([-1, 1]))
    spread = 1250 + (700 if wide else 0)
    door_x = -side * (width / 2 - float(rng.uniform(620, 900))) if rng.random() < 0.55 else None
    canvas = (
        ("canvas", "vent", "none")[int(rng.choice(3, p=[0.25, 0.15, 0.6]))] if single else "none"
    )
    return Room(
        width,
        height,
        float(rng.uniform(4900, 5600)),
        wall,
        side,
        float(rng.uniform(900, 1900)),
        furniture,
        furniture_x,
        lamp_x_mm=furniture_x + lamp_side * float(rng.uniform(spread, spread + 250))
        if rng.random() < 0.7
        else None,
        lamp_on=bool(rng.random() < 0.5),
        door_x_mm=door_x,
        switch_x_mm=(door_x + np.sign(door_x) * -640)
        if door_x
        else side * -float(rng.uniform(1700, 2100)),
        socket_x_mm=middle + float(rng.choice([-1, 1])) * float(rng.uniform(1250, 1700)),
        plant_x_mm=furniture_x - lamp_side * float(rng.uniform(spread + 50, spread + 300))
        if rng.random() < 0.6
        else None,
        distractor=canvas,
        distractor_mm=(
            centre[0] + float(rng.choice([-1, 1])) * float(rng.uniform(650, 950)),
            float(rng.uniform(1450, 1700)),
        ),
        ceiling_warmth=float(rng.uniform(0, 1)),
        daylight=float(rng.uniform(0.35, 1.0)),
        shadow_on_reference=bool(rng.random() < (0.5 if single else 0.2)),
    )


def draw_sensor(rng: Rng, camera: Camera, f35: float, cast: float | None = None) -> Sensor:
    """Draw what the phone does to the light; `cast` fixes the colour cast, -1 cold to 1 warm."""
    warm = float(rng.choice([1.0, 0.0, -1.0], p=[0.4, 0.3, 0.3])) * float(rng.uniform(0.3, 1.0))
    warm = warm if cast is None else cast
    portrait = camera.height > camera.width
    orientation = (
        int(rng.choice([6, 8], p=[0.8, 0.2]))
        if portrait
        else int(rng.choice([1, 3], p=[0.85, 0.15]))
    )
    return Sensor(
        exposure=float(rng.uniform(0.88, 1.12)),
        wb_gain=(1 + 0.13 * warm, 1.0, 1 - 0.2 * warm),
        electrons_at_white=float(np.exp(rng.uniform(np.log(900), np.log(7000)))),
        read_noise=float(rng.uniform(0.001, 0.003)),
        blur_px=float(rng.uniform(0.45, 0.85)),
        vignette=float(rng.uniform(0.12, 0.38)),
        lateral_colour=float(rng.normal(0, 0.00015)),
        contrast=float(rng.uniform(0.1, 0.4)),
        saturation=float(rng.uniform(0.9, 1.02)),
        local_tone=float(rng.uniform(0.1, 0.35)),
        sharpen=float(rng.uniform(0.2, 0.7)),
        jpeg_quality=int(rng.integers(85, 93)),
        orientation=orientation,
        focal_35mm=None if rng.random() < 0.15 else round(f35),
        focal_mm=round(f35 * 0.21, 2),
        seed=int(rng.integers(2**31)),
    )


def sample(seed: int, long_side: int = 3000) -> Spec:
    """Draw the photo of one seed."""
    rng = np.random.default_rng([71, seed])
    family = family_of(seed)
    n = _index_in_family(seed)
    wall = WALLS[n % len(WALLS)] if family == "room" else WALLS[(n * 3 + 1) % len(WALLS)]
    width = float(rng.uniform(5800, 7000))
    height = float(rng.uniform(2420, 2750))
    side = int(rng.choice([-1, 1]))

    kind = ROOM_REFERENCES[n % len(ROOM_REFERENCES)] if family == "room" else "a4"
    if family == "hung" and n % 3 == 2:
        kind = "aruco"
    middle = float(rng.uniform(-500, 500))
    frames: tuple[Frame, ...] = ()
    chart = None
    if family == "hung":
        frames = draw_hang(rng, middle, float(rng.uniform(1500, 1620)))
        left = min(f.plan_centre_mm[0] - f.width_mm / 2 for f in frames)
        right = max(f.plan_centre_mm[0] + f.width_mm / 2 for f in frames)
        beside = left - 260 if rng.random() < 0.5 else right + 260
        centre = (beside + float(rng.uniform(-30, 30)), float(rng.uniform(1350, 1650)))
    elif family == "palette":
        chart = (middle, float(rng.uniform(1450, 1600)), 420.0, 280.0)
        centre = (
            middle + float(rng.choice([-1, 1])) * float(rng.uniform(420, 560)),
            float(rng.uniform(1400, 1650)),
        )
    else:
        centre = (middle + float(rng.uniform(-450, 450)), float(rng.uniform(1250, 1750)))
    hard = wall == "white" and kind in ("a4", "letter")
    references = [draw_reference(rng, kind, centre, hard)]
    if family == "pair":
        apart = float(rng.choice([-1, 1])) * float(rng.uniform(1100, 1700))
        references.append(
            draw_reference(
                rng, kind, (centre[0] + apart, centre[1] + float(rng.uniform(-150, 150))), hard
            )
        )

    room = draw_room(
        rng,
        (width, height),
        wall,
        side,
        middle,
        centre,
        wide=bool(frames) or family == "pair",
        single=family == "room",
    )

    show = [r.corners_mm for r in references]
    if frames:
        show += [
            placed_corners(f.hung_centre_mm, f.width_mm, f.height_mm, f.tilt_deg) for f in frames
        ]
    if chart:
        show.append(placed_corners(chart[:2], chart[2], chart[3], 0))
    points = np.vstack(show)
    size = references[0].width_mm
    camera, f35, convention = draw_camera(
        rng,
        room,
        (points.min(0) + points.max(0)) / 2,
        points,
        (0.026 if size > 100 else 0.02) * long_side,
        size,
        long_side,
    )

    cast = [0.9, -0.9, 0.2][n % 3] if family == "palette" else None
    sensor = draw_sensor(rng, camera, f35, cast)
    return Spec(
        seed, family, room, tuple(references), frames, chart, camera, sensor, f35, convention
    )
