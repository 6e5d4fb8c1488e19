"""The sample photos: rooms of an invented guest house by a lake, each fixed by hand.

    python sample_photos/renderer/sample_rooms.py [NAME ...]

They vary in wall, light, reference, angle and Exif orientation; one is written as HEIC.
"""

from __future__ import annotations

import argparse
import io
import json
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from camera import Camera
from render import render_spec
from sensor import Sensor
from spec import SHEET_SIZES_MM, Frame, Reference, Room, Spec
from tracing import Effort

OUT = Path(__file__).parents[1] / "photos"
FOCAL_35MM = 26.0


@dataclass(frozen=True)
class View:
    """Where the photographer stands: what is aimed at on the wall, from how far, at what angle."""

    aim_mm: tuple[float, float]
    distance_mm: float
    yaw_deg: float
    pitch_deg: float = 0.0
    roll_deg: float = 0.0
    portrait: bool = False
    k1: float = 0.0
    orientation: int = 1


def camera_of(view: View, long_side: int) -> Camera:
    """Camera of a view; its focal length is the 35 mm equivalent by the image diagonal."""
    short = long_side * 3 // 4
    width, height = (short, long_side) if view.portrait else (long_side, short)
    x = view.aim_mm[0] - view.distance_mm * np.tan(np.radians(view.yaw_deg))
    y = view.aim_mm[1] - view.distance_mm * np.tan(np.radians(view.pitch_deg))
    return Camera(
        width,
        height,
        FOCAL_35MM / 43.267 * 1.25 * long_side,
        (width - 1) / 2,
        (height - 1) / 2,
        (float(x), float(y), view.distance_mm),
        view.yaw_deg,
        view.pitch_deg,
        view.roll_deg,
        view.k1,
        0.0,
    )


def _sheet(
    kind: str, centre_mm: tuple[float, float], turn_deg: float, tape: str, flat: bool = False
) -> Reference:
    width, height = SHEET_SIZES_MM[kind]
    if flat:
        width, height = height, width
    bow = 0.0 if kind == "id1" else 1.2
    return Reference(kind, width, height, centre_mm, turn_deg, tape, bow_mm=bow)


def _room(wall: str, furniture: str, **changes: object) -> Room:
    plain = Room(
        width_mm=6200.0,
        height_mm=2600.0,
        depth_mm=5200.0,
        wall=wall,
        window_side=-1,
        window_from_wall_mm=1300.0,
        furniture=furniture,
        furniture_x_mm=0.0,
        lamp_x_mm=None,
        lamp_on=False,
        door_x_mm=None,
        switch_x_mm=2100.0,
        socket_x_mm=-1500.0,
        plant_x_mm=None,
        distractor="none",
        distractor_mm=(0.0, 0.0),
        ceiling_warmth=0.5,
        daylight=0.8,
        shadow_on_reference=False,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def _sensor(view: View, seed: int, warm: float = 0.0) -> Sensor:
    return Sensor(
        exposure=1.1,
        wb_gain=(1 + 0.10 * warm, 1.0, 1 - 0.15 * warm),
        electrons_at_white=5000.0,
        read_noise=0.0012,
        blur_px=0.6,
        vignette=0.2,
        contrast=0.25,
        saturation=1.0,
        sharpen=0.4,
        jpeg_quality=90,
        orientation=view.orientation,
        focal_35mm=round(FOCAL_35MM),
        focal_mm=5.5,
        seed=seed,
    )


@dataclass(frozen=True)
class Sample:
    """One sample photo."""

    seed: int
    room: Room
    reference: Reference
    view: View
    warm: float = 0.0
    heic: bool = False
    frames: tuple[Frame, ...] = ()
    long_side: int = 2048

    def spec(self, long_side: int) -> Spec:
        """Specify the photo, at a size."""
        return Spec(
            self.seed,
            "sample",
            self.room,
            (self.reference,),
            self.frames,
            None,
            camera_of(self.view, long_side),
            _sensor(self.view, self.seed, self.warm),
            FOCAL_35MM,
            "diagonal",
        )


def _hung(width: float, x: float, artwork: str, off: tuple[float, float], tilt_deg: float) -> Frame:
    """Piece of the breakfast room's job, as it was hung: a little off."""
    return Frame(
        width,
        460.0,
        24.0,
        28.0,
        35.0,
        "#5b3d2c",
        (x, 1450.0),
        off,
        tilt_deg,
        0.4,
        profile="bevelled",
        glazing="matt",
        mat_colour="#f4f1ea",
        artwork=artwork,
    )


_BREAKFAST_ROOM = _room("offwhite", "sideboard", lamp_x_mm=1500.0, plant_x_mm=-1450.0)

SAMPLES = {
    "reading-room": Sample(
        1,
        _room("green", "sofa", door_x_mm=2480.0, switch_x_mm=1840.0, plant_x_mm=1480.0),
        _sheet("a4", (120.0, 1480.0), -1.2, "corners"),
        View((80.0, 1300.0), 3300.0, 5.0, -1.5, 0.4, k1=-0.02),
        long_side=2400,
    ),
    "breakfast-room": Sample(
        12,
        _BREAKFAST_ROOM,
        _sheet("a4", (-80.0, 1450.0), 0.8, "top"),
        View((0.0, 1330.0), 3200.0, -12.0, 1.0, -0.6, k1=0.015, orientation=3),
        warm=0.2,
    ),
    "breakfast-room-hung": Sample(
        12,
        _BREAKFAST_ROOM,
        _sheet("a4", (1010.0, 1430.0), -0.5, "top"),
        View((150.0, 1330.0), 3100.0, -8.0, 1.0, 0.4, k1=0.015),
        warm=0.1,
        frames=(
            _hung(600.0, 0.0, "pears-and-jug", (5.0, -3.0), 0.5),
            _hung(360.0, -537.0, "arches", (-4.0, 9.0), -1.2),
            _hung(360.0, 537.0, "half-rounds", (1.0, 2.0), 0.1),
        ),
    ),
    "landing": Sample(
        23,
        _room(
            "white",
            "none",
            door_x_mm=-1180.0,
            switch_x_mm=-560.0,
            plant_x_mm=1150.0,
            window_side=1,
            daylight=1.0,
            ceiling_warmth=0.8,
        ),
        _sheet("letter", (330.0, 1500.0), 1.5, "corners"),
        View((60.0, 1250.0), 3000.0, 9.0, -1.5, 0.5, portrait=True, k1=-0.03, orientation=6),
    ),
    "lake-room": Sample(
        34,
        _room("navy", "sofa", lamp_x_mm=-1500.0, lamp_on=True, daylight=0.6),
        _sheet("letter", (-150.0, 1500.0), -0.6, "corners", flat=True),
        View((-50.0, 1320.0), 3000.0, 22.0, 0.0, -0.4, k1=0.02),
        warm=0.3,
        heic=True,
    ),
    "boot-room": Sample(
        46,
        _room("brick", "sideboard", socket_x_mm=-1300.0, switch_x_mm=1500.0, daylight=1.0),
        _sheet("id1", (60.0, 1360.0), 1.0, "none"),
        View((40.0, 1180.0), 1900.0, -6.0, 0.0, 0.3, portrait=True, orientation=8),
        warm=0.2,
        long_side=1800,
    ),
    "garden-room": Sample(
        56,
        _room("wallpaper", "sideboard", plant_x_mm=1500.0, window_side=1, ceiling_warmth=0.9),
        _sheet("a4", (-120.0, 1470.0), 2.0, "corners"),
        View((0.0, 1300.0), 2800.0, 34.0, -1.0, 0.5, k1=-0.015),
        warm=0.4,
    ),
}


def _as_heic(jpeg: bytes) -> bytes:
    """Write a rendered photo again as HEIC, with its Exif block."""
    import pillow_heif
    from PIL import Image

    with Image.open(io.BytesIO(jpeg)) as image:
        exif = image.info["exif"]
        buffer = io.BytesIO()
        pillow_heif.from_pillow(image).save(buffer, quality=80, exif=exif)
    return buffer.getvalue()


def _point_to_artworks(path: Path) -> None:
    """Name the artworks themselves in a truth file, instead of copies of them."""
    record = json.loads(path.read_text())
    for frame in record["frames"]:
        copy = path.parent / frame["print_file"]
        copy.unlink(missing_ok=True)
        frame["print_file"] = f"../artworks/{frame['artwork']}.jpg"
    path.write_text(json.dumps(record, indent=1))


def main() -> None:
    """Render the named samples, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME")
    parser.add_argument("--long-side", type=int, help="other than the sample's own, for a trial")
    parser.add_argument("--spp", type=int, default=2)
    parser.add_argument("--out", type=Path, default=OUT)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    effort = Effort(light=args.spp, close_up_light=48, denoiser="balanced")
    for name in args.names or SAMPLES:
        sample = SAMPLES[name]
        render_spec(sample.spec(args.long_side or sample.long_side), args.out, name, effort, None)
        path = args.out / f"{name}.jpg"
        _point_to_artworks(path.with_suffix(".json"))
        if sample.heic:
            path.with_suffix(".heic").write_bytes(_as_heic(path.read_bytes()))
            path.unlink()
        print(name, flush=True)


if __name__ == "__main__":
    main()
