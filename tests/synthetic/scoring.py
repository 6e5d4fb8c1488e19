"""Errors of a measured wall against the truth, by distance from the reference."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from tests.synthetic.wall_photo import PAPER_RGB, PIXEL_SIGMA_PX, draw_scene, render
from visualiser.photo.photo import Photo
from visualiser.rectification.camera.terms import ModelTerms
from visualiser.rectification.fit import fit_wall_plane
from visualiser.rectification.reference import Reference

BANDS_MM = ((150.0, 1000.0), (1000.0, 2000.0))
"""Within 1 m of the reference's centre, and from there to 2 m."""
DRAWN = ModelTerms(
    bulge_sigma_mm=0.0,
    side_sigma_px=0.02,
    strip_share=0.0,
    strip_share_sigma=0.0,
    flatness_sigma_mm=0.0,
    building_sigma_deg=0.005,
)
"""What is drawn: flat paper on a flat wall, the room's edges true; bloom and stand-off as usual."""
EXACT = replace(DRAWN, bloom_share=0.0, stand_off_sigma_mm=0.0)
"""What is drawn where nothing strays: the terms that go with scenes drawn without bloom."""
FOCAL_SIGMA = 0.02
CHI_SQUARE_95 = 5.991
"""95 % point of chi-square with two degrees of freedom (any table)."""


@dataclass(frozen=True)
class Score:
    """One photo: per band the median error (mm), the textbook's, and the share covered."""

    error_mm: tuple[float, ...]
    textbook_mm: tuple[float, ...]
    covered: tuple[float, ...]
    level_deg: float


def textbook_errors(points_mm, points_px, corners_mm, corners_px):
    """Errors of a homography from four corners."""
    matrix = cv2.getPerspectiveTransform(
        corners_px.astype(np.float32), corners_mm.astype(np.float32)
    )
    wall = cv2.perspectiveTransform(points_px[None].astype(np.float64), matrix)[0]
    return np.hypot(*(wall - points_mm).T)


def score(plane, points_mm, points_px, true_tilt_deg, corners_mm, corners_px, *, frame):
    """Judge a plane by truth points in mm about the reference's centre.

    In the ``reference`` frame both are turned so that the reference's edges are the axes: where
    nothing tells level this is all that can be measured.
    """
    wall = plane.to_wall(points_px)
    if frame == "reference":
        wall = turned(wall, -(plane.reference_tilt_deg - true_tilt_deg))
    off = wall - points_mm
    spread = plane.covariance(wall, frame=frame)
    inside = np.einsum("ni,nij,nj->n", off, np.linalg.inv(spread), off) <= CHI_SQUARE_95
    plain = textbook_errors(points_mm, points_px, corners_mm, corners_px)
    distance = np.hypot(*points_mm.T)
    masks = [(distance > a) & (distance <= b) for a, b in BANDS_MM]

    def per_band(values, pick):
        return tuple(float(pick(values[m])) if m.any() else np.nan for m in masks)

    return Score(
        per_band(np.hypot(*off.T), np.median),
        per_band(plain, np.median),
        per_band(inside, np.mean),
        abs(plane.reference_tilt_deg - true_tilt_deg),
    )


def turned(points, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return points @ np.array([[c, s], [-s, c]])


def score_scene(seed, *, lines, long_side, tilt_sigma_deg=1.5, imperfect=False, terms=DRAWN):
    """Draw, measure and judge one scene; imperfect ones stray as the model's terms say."""
    scene = draw_scene(seed, lines=lines, long_side=long_side, tilt_sigma_deg=tilt_sigma_deg)
    rng = np.random.default_rng([9, seed])
    blur_px = np.hypot(scene.blur_px, PIXEL_SIGMA_PX)
    difference = 1 - float(np.mean(scene.wall_rgb)) / float(np.mean(PAPER_RGB))
    scene = replace(
        scene,
        bloom_px=rng.normal(0, DRAWN.bloom_share * blur_px * difference) * imperfect,
        stand_off_mm=rng.normal(0, DRAWN.stand_off_sigma_mm) * imperfect,
        focal_stated=scene.focal_px * (1 + rng.normal(0, FOCAL_SIGMA)),
    )
    photo = Photo(render(scene), scene.focal_stated, FOCAL_SIGMA)
    corners = scene.sheet_corners_px
    reference = Reference(
        "a4", corners + rng.uniform(-1, 1, (4, 2)), *scene.sheet_mm, size_sigma_mm=0.0
    )
    plane = fit_wall_plane(photo, [reference], terms=terms)
    points = scene.grid_mm()
    return score(
        plane,
        points,
        scene.to_photo(points),
        scene.sheet_tilt_deg,
        scene.sheet_corners_mm,
        # The textbook gets corners as good as they come.
        corners + rng.normal(0, 0.3, (4, 2)),
        frame="level" if lines else "reference",
    )


def table(scores):
    """Median and 95th percentile of error, ratio to the textbook, coverage: one row a band.

    ``photos_held``: share of the photos that hold nine in ten of their own points. Pooled, the many
    whose regions are too wide hide the few whose regions miss.
    """
    rows = []
    for i in range(len(BANDS_MM)):
        error = np.array([s.error_mm[i] for s in scores])
        plain = np.array([s.textbook_mm[i] for s in scores])
        covered = np.array([s.covered[i] for s in scores])
        covered = covered[np.isfinite(covered)]
        rows.append(
            {
                "median_mm": float(np.nanmedian(error)),
                "p95_mm": float(np.nanpercentile(error, 95)),
                "textbook_median_mm": float(np.nanmedian(plain)),
                "ratio": float(np.nanmedian(plain) / np.nanmedian(error)),
                "covered": float(np.mean(covered)) if len(covered) else np.nan,
                "photos_held": float(np.mean(covered >= 0.9)) if len(covered) else np.nan,
            }
        )
    return rows


def format_table(title, scores):
    """Make lines to print."""
    level = np.median([s.level_deg for s in scores])
    lines = [f"\n{title}: {len(scores)} photos, level error median {level:.3f}°"]
    for (low, high), row in zip(BANDS_MM, table(scores), strict=True):
        lines.append(
            f"  {low / 1000:.2f} to {high / 1000:.0f} m: median {row['median_mm']:.2f} mm, 95th "
            f"percentile {row['p95_mm']:.2f} mm; four corners {row['textbook_median_mm']:.1f} mm, "
            f"{row['ratio']:.0f} times; covered {row['covered']:.1%}, nine in ten of the points "
            f"in {row['photos_held']:.0%} of the photos"
        )
    return "\n".join(lines)
