"""Render wall photos with exact truth; README.md beside this file describes them.

    python render.py --seed-range 0 24 --out rendered               # families by seed
    python render.py --family bare-and-dressed --seed-range 0 6 --out rendered
    python render.py --self-check                                   # truth against pixels

The same seed, size and effort give the same scene, camera and truth; pixels may differ in noise
between machines. Pictures that are there already are left alone.
"""

from __future__ import annotations

import argparse
import json
import resource
import time
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import room
from camera import Camera
from drawing import sample
from families import bare_and_dressed, fitted, group, no_reference, repainted
from framed import as_png_pixels
from mitsuba_scene import mi
from numpy.typing import NDArray
from PIL import Image
from self_check import self_check
from sensor import develop, meter, to_jpeg
from spec import Spec, placed_corners
from tracing import Effort, coverage, render
from truth import flat, truth

Array = NDArray[np.float64]

FAMILIES = (
    "by-seed", "group", "missing", "swapped", "bare-and-dressed", "none", "fitted", "repainted",
)  # fmt: skip
COVERED = (("wall",), ("lamp", "shade"), ("leaf", "pot"))
"""What the three channels of a room's mask show."""


def specs_of(family: str, seed: int, long_side: int) -> tuple[Spec, ...]:
    """List what one seed of a family shows: one photo, or two."""
    if family == "by-seed":
        return (sample(seed, long_side),)
    if family == "bare-and-dressed":
        return bare_and_dressed(seed, long_side)
    if family == "repainted":
        return repainted(seed, long_side)
    if family == "none":
        return (no_reference(seed, long_side),)
    if family == "fitted":
        return (fitted(seed, long_side),)
    return (group(seed, long_side, "errors" if family == "group" else family),)


def close_ups(spec: Spec) -> list[Array]:
    """Pinhole pixels of every reference with its card, and of radiators' fine ribs."""
    fittings = [
        spec.camera.project(flat(f.corners_mm, f.depth_mm), observed=False)
        for f in spec.fittings
        if f.kind == "radiator"
    ]
    return fittings + [
        spec.camera.project(
            flat(
                placed_corners(
                    r.centre_mm, r.card_mm or r.width_mm, r.card_mm or r.height_mm, r.rotation_deg
                )
            ),
            observed=False,
        )
        for r in spec.references
    ]


def save_prints(prints: list[Any], out: Path, stem: str) -> list[str | None]:
    """Write what each frame shows beside the photo; the names, in the order of the frames."""
    names: list[str | None] = []
    for k, art in enumerate(prints):
        name = None if art is None else f"{stem}_print{k}.png"
        if art is not None and name is not None:
            Image.fromarray(as_png_pixels(art)).save(out / name)
        names.append(name)
    return names


def render_spec(
    spec: Spec,
    out: Path,
    stem: str,
    effort: Effort,
    gain: float | None,
    *,
    truth_only: bool = False,
    again: bool = False,
    masked: bool = False,
) -> float:
    """Render one photo with its truth beside it; returns the metered exposure gain.

    ``gain`` is that of another photo to be exposed alike. ``again`` also develops the same light
    with another draw of noise: no likeness can be nearer the photo than that second one.
    ``masked`` writes which part of each pixel shows the wall, a lamp or a plant.
    """
    shapes, facts = room.build(spec)
    scene = mi.load_dict(shapes)
    path = out / f"{stem}.jpg"
    record = truth(scene, spec, facts, path.name)
    for frame, name in zip(record["frames"], save_prints(facts["prints"], out, stem), strict=True):
        frame["print_file"] = name
    record["render"] = {"effort": asdict(effort), "renderer": f"mitsuba {mi.__version__}"}
    if masked:
        shares = coverage(scene, spec.camera, COVERED)
        Image.fromarray(np.round(255 * shares).astype(np.uint8)).save(out / f"{stem}_mask.png")
    if not truth_only:
        linear = render(scene, spec.camera, close_ups(spec), effort, spec.seed)
        if gain is None:
            gain = meter(linear, _subject(spec.camera, spec))
        path.write_bytes(to_jpeg(develop(linear, spec.sensor, gain), spec.sensor))
        if again:
            other = replace(spec.sensor, seed=spec.sensor.seed + 1)
            second = out / f"{stem}_again.jpg"
            second.write_bytes(to_jpeg(develop(linear, other, gain), other))
    path.with_suffix(".json").write_text(json.dumps(record, indent=1))
    return gain or 0.0


def _subject(camera: Camera, spec: Spec) -> Array | None:
    if not spec.references:
        return None
    return camera.project(flat(spec.references[0].corners_mm))


def main() -> None:
    """Read the arguments and render."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--family", choices=FAMILIES, default="by-seed")
    parser.add_argument("--seed-range", nargs=2, type=int, default=(0, 24), metavar=("A", "END"))
    parser.add_argument("--out", type=Path, default=Path("rendered"))
    parser.add_argument("--long-side", type=int, default=2560, help="px, 4:3")
    parser.add_argument("--spp", type=int, default=Effort.light, help="light samples a pixel")
    parser.add_argument("--close-up-spp", type=int, default=Effort.close_up_light)
    parser.add_argument("--denoiser", choices=("fast", "balanced"), default=Effort.denoiser)
    parser.add_argument("--truth-only", action="store_true", help="JSON only, keep the pictures")
    parser.add_argument("--masks", action="store_true", help="masks of wall, lamp and plant too")
    parser.add_argument("--self-check", action="store_true", help="truth against pixels, then stop")
    args = parser.parse_args()
    if args.self_check:
        d = self_check()
        rms = np.sqrt((d**2).mean())
        print(f"{len(d)} discs, truth to rendered: rms {rms:.4f} px, largest {d.max():.4f} px")
        return
    effort = Effort(light=args.spp, close_up_light=args.close_up_spp, denoiser=args.denoiser)
    args.out.mkdir(parents=True, exist_ok=True)
    for seed in range(*args.seed_range):
        start, gain = time.time(), None
        for spec in specs_of(args.family, seed, args.long_side):
            stem = f"{seed:04d}_{spec.family}"
            done = (args.out / f"{stem}.json").exists() and (args.out / f"{stem}.jpg").exists()
            pair = args.family in ("bare-and-dressed", "repainted")
            if done and not args.truth_only and not pair:
                continue
            gain = render_spec(
                spec,
                args.out,
                stem,
                effort,
                gain,
                truth_only=args.truth_only,
                again=spec.family == "dressed",
                masked=args.masks or spec.family == "before",
            )
            usage = resource.getrusage(resource.RUSAGE_SELF)
            cpu = usage.ru_utime + usage.ru_stime
            print(f"{stem}  {time.time() - start:.0f} s, cpu so far {cpu:.0f} s", flush=True)


if __name__ == "__main__":
    main()
