"""Real photographs with geometry known: is the camera where it is said to be, and the ± true?

``VISUALISER_REAL`` names a folder with ``ROOMS.json``, a list of objects with ``image``, ``set``,
``indoor`` and ``truth``. A truth of kind ``vps`` has ``plumb_up`` and ``level`` directions in
camera axes (x right, y down, z forward), the ``lens`` (OpenCV's radial model) and how sure they
are, ``sigma_deg``; of kind ``lengths`` two tags of one size, ``tags_px``. The York Urban
photographs (Denis, Elder & Estrada, ECCV 2008) and windows with two printed markers are such.
"""

import json
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.stats import chi2

from visualiser import MeasurementError, Reference, fit_wall_plane, load_photo
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.projection import Lens, vector_from_rotation
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.edges.locate import no_samples
from visualiser.rectification.lines.priors import ADJOINING_SIGMA_DEG
from visualiser.statistics import robust_sigma

FOLDER = os.environ.get("VISUALISER_REAL", "")
MOST = int(os.environ.get("VISUALISER_REAL_PHOTOS", "1000"))
SHEET_MM, SHEET_PX = (210.0, 297.0), 60.0
"""A sheet is set on the wall by its truth, about so large in a picture 640 px wide."""
CORNER_SIGMA_PX = 0.3
DRAWS = 4
"""Each wall's corners are clicked so often: all its lengths share what a draw makes of the scale,
so that one draw of 80 walls leaves the share inside unsure by 2.5 %."""
LABEL_SIGMA_PX, STRAIGHT_DEG = 0.42, 0.08
"""How well a label's ends lie on its edge, both together, and how straight edges are built."""
WRONG_DEG = 1.0
"""A line this far off its direction was taken wrongly."""


def entries(kind, *sets):
    listed = json.loads((Path(FOLDER) / "ROOMS.json").read_text())
    some = [e for e in listed if e["truth"]["kind"] == kind and (not sets or e["set"] in sets)]
    return [e for e in some if (Path(FOLDER) / e["image"]).is_file()][:MOST]


@dataclass(frozen=True)
class Wall:
    """One wall of one photo: its axes in the camera, and a sheet that is set on it."""

    name: str
    indoor: bool
    photo: Photo
    lens: Lens
    rotation: np.ndarray
    sigma_deg: float
    centre: np.ndarray
    """The sheet's centre in camera axes, mm."""

    def to_photo(self, points_mm):
        xyz = np.c_[points_mm, np.zeros(len(points_mm))] @ self.rotation.T + self.centre
        return self.lens.to_pixels(xyz[:, :2] / xyz[:, 2:])

    def off_deg(self, ends_px, axis):
        """By how much a line through two points misses a direction of the wall."""
        rays = np.c_[self.lens.to_rays(ends_px), [1, 1]]
        normal = np.cross(*rays)
        return float(np.degrees(np.arcsin(abs(normal @ axis) / np.linalg.norm(normal))))


def walls_of(entry):
    """Walls whose level lines were labelled, seen no more than 70 degrees from the side."""
    truth = entry["truth"]
    photo = load_photo((Path(FOLDER) / entry["image"]).read_bytes())
    x0, y0, x1, y1 = truth["centred_crop_xyxy"]
    part = np.ascontiguousarray(photo.pixels[y0:y1, x0:x1])
    photo = Photo(
        part, photo.focal_px, photo.focal_relative_sigma, photo.camera, focal_35mm=photo.focal_35mm
    )
    given = truth["lens"]
    lens = Lens(given["fx"], given["cx"] - x0, given["cy"] - y0, given["k1"], given["k2"])
    up = np.array(truth["plumb_up"])
    for i, level in enumerate(truth["level"]):
        lines = [e for e in truth["lines_px"] if e[4] == f"level{i}"]
        if len(lines) < 3:
            continue
        ends = np.array([e[:4] for e in lines]).reshape(-1, 2, 2) - [x0, y0]
        length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        middle = np.average(ends.mean(axis=1), axis=0, weights=length)
        ray = np.r_[lens.to_rays(middle[None])[0], 1.0]
        ray /= np.linalg.norm(ray)
        across = np.array(level) - up * (up @ level)
        across /= np.linalg.norm(across)
        out = np.cross(across, up)
        if out @ ray > 0:
            across, out = -across, -out
        if -out @ ray < np.cos(np.radians(70)):
            continue
        far = lens.focal_px * np.sqrt(SHEET_MM[0] * SHEET_MM[1] * (-out @ ray)) / SHEET_PX
        sigma = max(truth["sigma_deg"]["plumb"], truth["sigma_deg"]["level"][i])
        yield Wall(
            f"{entry['image']} level{i}", entry["indoor"], photo, lens,
            np.stack([across, up, out], axis=1), sigma, ray * far,
        )  # fmt: skip


def measured(wall, rng):
    half = np.array(SHEET_MM) / 2
    corners = wall.to_photo(np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * half)
    corners = corners + rng.normal(0, CORNER_SIGMA_PX, (4, 2))
    reference = Reference(
        "custom", corners, *SHEET_MM, origin="clicked", size_sigma_mm=0.0,
        sides=tuple(no_samples() for _ in range(4)),
    )  # fmt: skip
    terms = ModelTerms(
        click_sigma_px=CORNER_SIGMA_PX, stand_off_sigma_mm=0.0, flatness_sigma_mm=0.0
    )
    return fit_wall_plane(wall.photo, [reference], terms=terms)


def judged(wall, rng):
    plane = measured(wall, rng)
    turn = vector_from_rotation(wall.rotation @ plane.rotation.T)
    spread = plane.parameter_covariance[:3, :3] + np.eye(3) * np.radians(wall.sigma_deg) ** 2
    angle = [
        np.degrees(np.arccos(np.clip(plane.rotation[:, i] @ wall.rotation[:, i], -1, 1)))
        for i in (0, 1)
    ]
    wrong = {
        kind: [
            wall.off_deg(line.ends_px, wall.rotation[:, axis]) > WRONG_DEG
            for line in plane.lines
            if line.direction == kind
        ]
        for kind, axis in (("level", 0), ("plumb", 1))
    }
    size = np.array([wall.photo.width_px, wall.photo.height_px])
    grid = np.stack(np.meshgrid(np.arange(-4, 5), np.arange(-4, 5)), -1).reshape(-1, 2) * 150.0
    xyz = np.c_[grid, np.zeros(len(grid))] @ wall.rotation.T + wall.centre
    seen = wall.to_photo(grid)
    use = (xyz[:, 2] > 0) & (seen > 0).all(axis=1) & (seen < size - 1).all(axis=1)
    use &= plane.lens.focal_px > 0
    held = []
    points = np.flatnonzero(use)
    if len(points) > 1:
        on_wall = plane.to_wall(seen[points])
        for _ in range(40):
            i, j = rng.choice(len(points), 2, replace=False)
            length, half = plane.length(on_wall[i], on_wall[j])
            held.append(abs(length - np.hypot(*(grid[points[i]] - grid[points[j]]))) <= half)
    focal = np.log(plane.lens.focal_px / wall.lens.focal_px)
    return {
        "name": wall.name, "indoor": wall.indoor,
        "level_deg": angle[0], "plumb_deg": angle[1],
        "inside": bool(turn @ np.linalg.solve(spread, turn) <= chi2.ppf(0.95, 3)),
        "wrong": wrong, "held": float(np.mean(held)) if held else np.nan,
        "focal": abs(focal) <= 1.96 * np.sqrt(plane.parameter_covariance[6, 6] + 0.001**2),
        "stated_deg": float(np.degrees(np.sqrt(np.trace(spread[:3, :3]) / 3))),
    }  # fmt: skip


def summary(title, rows):
    def some(key):
        return np.array([r[key] for r in rows], float)

    wrong = {k: [w for r in rows for w in r["wrong"][k]] for k in ("level", "plumb")}
    held = some("held")
    return (
        f"{title}: {len(rows)} measurements of walls; plumb off {np.median(some('plumb_deg')):.2f}/"
        f"{np.percentile(some('plumb_deg'), 95):.2f}°, level "
        f"{np.median(some('level_deg')):.2f}/{np.percentile(some('level_deg'), 95):.2f}° "
        f"(median/95th); rotation inside its 95 % region {some('inside').mean():.0%} "
        f"(stated {np.median(some('stated_deg')):.2f}°); focal inside {some('focal').mean():.0%}; "
        f"lengths inside {np.nanmean(held):.1%}, in {np.nanmean(held >= 0.9):.0%} of walls 90 %; "
        f"wrong level {np.mean(wrong['level']):.1%} of {len(wrong['level'])}, plumb "
        f"{np.mean(wrong['plumb']):.1%} of {len(wrong['plumb'])}"
    )


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
@pytest.mark.skipif(not FOLDER, reason="VISUALISER_REAL names no folder")
def test_plumb_and_level_of_real_rooms(capsys):
    """Rotation, lines and lengths on walls of York Urban photographs."""
    rows = []
    for number, entry in enumerate(entries("vps", "york_urban")):
        for side, wall in enumerate(walls_of(entry)):
            for draw in range(DRAWS):
                # Two walls of a photo with the same clicks would be right or wrong together.
                rng = np.random.default_rng([5, number, side, draw] if draw else [5, number, side])
                try:
                    rows.append(judged(wall, rng))
                except MeasurementError as error:
                    print(f"{wall.name}: {error}")
    if not rows:
        pytest.skip("no photograph of this kind in the folder")
    out = os.environ.get("VISUALISER_REAL_OUT")
    if out:
        Path(out).write_text(json.dumps(rows, default=float))
    with capsys.disabled():
        print("\n" + summary("all", rows))
        print(summary("indoor", [r for r in rows if r["indoor"]]))
    assert np.mean([r["inside"] for r in rows]) >= 0.90


@pytest.mark.benchmark
@pytest.mark.timeout(7200)
@pytest.mark.skipif(not FOLDER, reason="VISUALISER_REAL names no folder")
def test_second_tag_has_the_size_of_the_first(capsys):
    """The two tags are prints of one file: the second, measured from the first, is its truth."""
    lines, held, off = [], [], []
    for entry in entries("lengths"):
        tags = entry["truth"]["tags_px"]
        if len(tags) != 2:
            continue
        photo = load_photo((Path(FOLDER) / entry["image"]).read_bytes())
        side = float(entry["truth"]["tag_size_mm"])
        reference = Reference(
            "custom", np.array(tags[0]), side, side, origin="clicked", size_sigma_mm=0.0
        )
        try:
            plane = fit_wall_plane(photo, [reference])
        except MeasurementError as error:
            lines.append(f"{entry['image']}: {error}")
            continue
        corners = plane.to_wall(np.array(tags[1]))
        click = 0.4 * float(plane.mm_per_px(corners.mean(axis=0)[None])[0])
        sides = [plane.length(corners[i], corners[(i + 1) % 4]) for i in range(4)]
        inside = [abs(s - side) <= np.hypot(h, 1.96 * np.sqrt(2) * click) for s, h in sides]
        ratio = np.mean([s for s, _ in sides]) / side - 1
        held.append(np.mean(inside))
        off.append(abs(ratio))
        stated = np.mean([h for _, h in sides]) / side
        lines.append(
            f"{entry['image']} ({entry['truth']['series']}): {ratio:+.1%} ± {stated:.1%}, "
            f"{np.mean(inside):.0%} of its sides inside"
        )
    if not held:
        pytest.skip("no photograph of this kind in the folder")
    with capsys.disabled():
        print("\n" + "\n".join(lines))
        print(
            f"second tag: off {np.median(off):.2%}/{np.percentile(off, 95):.2%}; sides inside "
            f"{np.mean(held):.0%}; photos with every side inside {np.mean(np.array(held) == 1):.0%}"
        )
    assert np.mean(held) >= 0.90


def off_square(truth):
    """By how much the two level directions of labelled lines are off square, and its sigma, deg.

    Each direction is fitted by itself, through the lens that is given: robust least squares of the
    angles by which lines, as unsure as their ends and as straight as buildings, miss it.
    """
    given = truth["lens"]
    lens = Lens(given["fx"], given["cx"], given["cy"], given["k1"], given["k2"])
    normals, sigmas = {}, {}
    for *ends, name in truth["lines_px"]:
        ends_px = np.reshape(ends, (2, 2))
        normal = np.cross(*np.c_[lens.to_rays(ends_px), [1, 1]])
        normals.setdefault(name, []).append(normal / np.linalg.norm(normal))
        blur = LABEL_SIGMA_PX / np.hypot(*(ends_px[1] - ends_px[0]))
        sigmas.setdefault(name, []).append(np.hypot(np.radians(STRAIGHT_DEG), blur))
    if len(normals) < 3:
        return None
    up, one, other = (np.array(v) for v in (truth["plumb_up"], *truth["level"]))

    def misses(change):
        axes = {"plumb": up + change[0] * one + change[1] * other}
        axes["level0"], axes["level1"] = one + change[2] * other, other + change[3] * one
        plumb = axes["plumb"] / np.linalg.norm(axes["plumb"])
        for name in ("level0", "level1"):
            axes[name] = axes[name] - plumb * (plumb @ axes[name])
        return np.concatenate(
            [
                normals[name] @ axis / np.linalg.norm(axis) / sigmas[name]
                for name, axis in axes.items()
            ]
        )

    fitted = least_squares(misses, np.zeros(4), loss="soft_l1")
    scale = robust_sigma(misses(fitted.x))
    spread = np.linalg.inv(fitted.jac.T @ fitted.jac)[2:, 2:].sum() * scale**2
    return np.degrees(fitted.x[2:].sum()), np.degrees(np.sqrt(spread))


@pytest.mark.benchmark
@pytest.mark.skipif(not FOLDER, reason="VISUALISER_REAL names no folder")
def test_adjoining_walls_are_as_square_as_is_assumed(capsys):
    """The published directions are those of a room that is square; what its lines say is not."""
    found = [off_square(entry["truth"]) for entry in entries("vps", "york_urban")]
    off, sigma = np.array([f for f in found if f is not None]).T
    usual = np.sqrt(max(robust_sigma(off) ** 2 - np.median(sigma) ** 2, 0.0))
    with capsys.disabled():
        print(
            f"\n{len(off)} rooms: adjoining walls off square by {np.median(np.abs(off)):.2f}/"
            f"{np.percentile(np.abs(off), 95):.2f} deg (median/95th), known to "
            f"{np.median(sigma):.2f}; robust sigma without that {usual:.2f}"
        )
    assert usual < 1.5 * ADJOINING_SIGMA_DEG
    assert np.mean(np.abs(off) < 2 * np.hypot(sigma, ADJOINING_SIGMA_DEG)) > 0.85
