"""The wall as an instrument: photo pixels to wall millimetres and back, with its uncertainty.

Also how well it is known, place by place, and in words what would help.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from visualiser.findings import Finding
from visualiser.geometry import Covariances, Matrix, PointsMm, PointsPx, frozen
from visualiser.rectification.camera.line_observation import LineKind
from visualiser.rectification.camera.projection import CAMERA_SIZE, CameraState, Lens
from visualiser.statistics import COVERAGE_95
from visualiser.wording import Length, sentence

Frame = Literal["level", "reference"]


def length_between(ends_mm: PointsMm, joint_covariance: Matrix) -> tuple[float, float]:
    """Work out the distance between two places and its 95 % half-width, both mm.

    Parameters
    ----------
    ends_mm
        (2, 2) the places.
    joint_covariance
        (4, 4) mm², of x and y of the first and then of the second.
    """
    apart = ends_mm[1] - ends_mm[0]
    length = float(np.hypot(*apart))
    along = apart / length if length > 0 else np.array([1.0, 0.0])
    weights = np.r_[-along, along]
    variance = float(weights @ joint_covariance @ weights)
    return length, COVERAGE_95 * float(np.sqrt(max(variance, 0.0)))


def worst_half_width(covariances: Covariances) -> Matrix:
    """Work out the 95 % half-width (N,), mm, of places in their worst direction."""
    largest = np.linalg.eigvalsh(covariances)[:, -1]
    return np.asarray(COVERAGE_95 * np.sqrt(np.maximum(largest, 0.0)))


@dataclass(frozen=True, slots=True, eq=False)
class FittedLine:
    """A room line that took part in the fit, for a person to confirm or reject by name."""

    name: str
    direction: LineKind
    ends_px: PointsPx
    drawn: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "ends_px", frozen(self.ends_px, (2, 2)))


@dataclass(frozen=True, slots=True, eq=False)
class WallPlane:
    """A measured wall.

    Wall mm: origin at the centre of the first reference, x right, y up (against gravity), z out
    of the wall into the room.

    Parameters
    ----------
    lens
        Focal length, centre and distortion.
    rotation
        (3, 3) wall axes to camera axes (x right, y down, z forward).
    translation_mm
        (3,) the wall's origin in camera axes.
    reference_corners_px
        (4, 2) corners of the first reference as fitted.
    reference_tilt_deg
        How far the reference's top edge is off level, counter-clockwise positive.
    parameter_covariance
        (11, 11) covariance of the camera's parameters, in the order of
        `projection.CAMERA_PARAMETERS`.
    findings
        What limits this survey and what to do about it.
    level_sigma_deg
        Standard uncertainty of level.
    flatness_sigma_mm
        Standard uncertainty of the wall's flatness.
    tilt_covariance
        (12,) covariance of the reference's tilt (rad) with the camera's parameters, and its
        variance last; None where the tilt is not told apart.
    lines
        Room lines that took part, longest first, and what each was taken for.
    left_over_px
        Standard deviation, in x and in y, by which what is seen strays from the lens.
    """

    lens: Lens
    rotation: Matrix
    translation_mm: Matrix
    reference_corners_px: PointsPx
    reference_tilt_deg: float
    parameter_covariance: Matrix
    findings: tuple[Finding, ...] = ()
    level_sigma_deg: float = 0.0
    flatness_sigma_mm: float = 1.0
    tilt_covariance: Matrix | None = None
    lines: tuple[FittedLine, ...] = ()
    left_over_px: float = 0.0

    def __post_init__(self) -> None:
        for name, shape in (
            ("rotation", (3, 3)),
            ("translation_mm", (3,)),
            ("reference_corners_px", (4, 2)),
            ("parameter_covariance", (CAMERA_SIZE, CAMERA_SIZE)),
        ):
            object.__setattr__(self, name, frozen(getattr(self, name), shape))

    def project(self, points_xyz_mm: Matrix) -> PointsPx:
        """Room points (N, 3), z out of the wall, to photo px (N, 2), lens included."""
        camera = np.asarray(points_xyz_mm, float) @ self.rotation.T + self.translation_mm
        return self.lens.to_pixels(camera[:, :2] / camera[:, 2:])

    def to_photo(self, points_mm: PointsMm) -> PointsPx:
        """Wall mm (N, 2) to photo px (N, 2), lens included."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        return self.project(np.c_[points, np.zeros(len(points))])

    def to_wall(self, points_px: PointsPx) -> PointsMm:
        """Photo px (N, 2) to wall mm (N, 2), lens removed."""
        rays = self.lens.to_rays(np.asarray(points_px, float).reshape(-1, 2))
        homography = np.c_[self.rotation[:, :2], self.translation_mm]
        wall = np.linalg.solve(homography, np.c_[rays, np.ones(len(rays))].T).T
        return np.asarray(wall[:, :2] / wall[:, 2:])

    @property
    def camera_mm(self) -> Matrix:
        """(3,) where the camera stood, wall mm: x right, y up, z out of the wall."""
        return np.asarray(-self.rotation.T @ self.translation_mm)

    def covariance(self, points_mm: PointsMm, frame: Frame = "level") -> Covariances:
        """Covariance (N, 2, 2), mm², of where wall points really are, seen at their pixel.

        Parameters
        ----------
        points_mm
            Wall points (N, 2).
        frame
            ``level``: relative to the reference's centre and true level, level's own uncertainty
            included. ``reference``: relative to the reference's centre and its edges, whose tilt
            then does not matter.
        """
        sensitivity, alone = self.sensitivity(points_mm)
        spread = self.parameter_covariance
        if frame == "reference" and self.tilt_covariance is not None:
            # In the reference's own axes a tilt error turns the points back about its centre.
            points = np.asarray(points_mm, float).reshape(-1, 2)
            turned_back = np.stack([points[:, 1], -points[:, 0]], axis=1)[..., None]
            sensitivity = np.concatenate([sensitivity, turned_back], axis=2)
            cross = self.tilt_covariance[:-1, None]
            spread = np.block([[spread, cross], [cross.T, self.tilt_covariance[-1:, None]]])
        joint = sensitivity @ spread @ sensitivity.transpose(0, 2, 1)
        return np.asarray(joint + alone)

    def joint_covariance(self, points_mm: PointsMm) -> Matrix:
        """Covariance (2N, 2N), mm², of several wall points together.

        Points measured through one plane share its errors: a length's uncertainty needs this.
        """
        sensitivity, alone = self.sensitivity(points_mm)
        stacked = sensitivity.reshape(-1, CAMERA_SIZE)
        joint = stacked @ self.parameter_covariance @ stacked.T
        for i, own in enumerate(alone):
            joint[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += own
        return np.asarray(joint)

    def length(self, start_mm: PointsMm, end_mm: PointsMm) -> tuple[float, float]:
        """Distance between two wall points and its 95 % half-width, both mm.

        Notes
        -----
        Criminisi, Reid & Zisserman (BMVC 1997) add the covariances of the two ends as if they
        were independent; both come through one plane, so the joint covariance is used instead.
        """
        ends = np.array([np.ravel(start_mm), np.ravel(end_mm)], float)
        return length_between(ends, self.joint_covariance(ends))

    def mm_per_px(self, points_mm: PointsMm) -> Matrix:
        """Wall mm (N,) that one photo pixel covers at each point (geometric mean of its sides)."""
        points = np.asarray(points_mm, float).reshape(-1, 2)
        at = self.to_photo(points)
        across, up = (self.to_photo(points + step) - at for step in ([1.0, 0.0], [0.0, 1.0]))
        area = across[:, 0] * up[:, 1] - across[:, 1] * up[:, 0]
        return np.asarray(1 / np.sqrt(np.abs(area)))

    def half_width(self, points_mm: PointsMm) -> Matrix:
        """95 % half-width (N,), mm, of each point's position in its worst direction."""
        return worst_half_width(self.covariance(points_mm))

    def sensitivity(self, points_mm: PointsMm) -> tuple[Matrix, Matrix]:
        """Find how wall points at fixed pixels move with the parameters, and each one's own doubt.

        Returns
        -------
        Derivatives (N, 2, 11), and covariance (N, 2, 2) of the wall's flatness and of what the lens
        leaves over.
        """
        points = np.asarray(points_mm, float).reshape(-1, 2)
        state = CameraState(self.rotation, self.translation_mm, self.lens)
        _, by_camera, by_point = state.project(np.c_[points, np.zeros(len(points))])
        inverse = np.linalg.inv(by_point[:, :, :2])
        lean = inverse @ by_point[:, :, 2:]
        alone = self.flatness_sigma_mm**2 * lean @ lean.swapaxes(1, 2)
        alone = alone + self.left_over_px**2 * inverse @ inverse.swapaxes(1, 2)
        return -inverse @ by_camera, np.asarray(alone)


FAR_HALF_WIDTH_MM = 8.0
"""Half-width from which a picture hung there looks misplaced to the eye (common practice)."""
LEVEL_DOUBT_DEG = 0.4
"""Level uncertainty from which a row of frames could look crooked (7 mm in 1 m)."""


@dataclass(frozen=True, slots=True, eq=False)
class AccuracyMap:
    """95 % half-widths of wall positions over the photo.

    Parameters
    ----------
    x_px, y_px
        (C,) columns and (R,) rows of the grid.
    half_width_mm
        (R, C) half-width; NaN where the plane is behind the camera or beyond its horizon.
    """

    x_px: Matrix
    y_px: Matrix
    half_width_mm: Matrix

    def __post_init__(self) -> None:
        object.__setattr__(self, "x_px", frozen(self.x_px, (None,)))
        object.__setattr__(self, "y_px", frozen(self.y_px, (None,)))


def accuracy_map(plane: WallPlane, width_px: int, height_px: int, columns: int = 48) -> AccuracyMap:
    """Half-widths on a grid over the photo, for contours.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    columns
        Grid points along the width.
    """
    rows = max(2, round(columns * height_px / width_px))
    x, y = np.linspace(0, width_px - 1, columns), np.linspace(0, height_px - 1, rows)
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    values = np.full(len(grid), np.nan)
    seen = faces_wall(plane, grid)
    if seen.any():
        values[seen] = plane.half_width(plane.to_wall(grid[seen]))
    return AccuracyMap(x, y, values.reshape(rows, columns))


def faces_wall(plane: WallPlane, points_px: PointsPx, farthest_mm: float = 15_000.0) -> Matrix:
    """Which photo points (N,) look at the wall's plane, no further off than a room is long."""
    rays = plane.lens.to_rays(points_px)
    rays = np.c_[rays, np.ones(len(rays))]
    normal = plane.rotation[:, 2]
    towards = rays @ normal
    away = float(normal @ plane.translation_mm)
    depth = np.divide(away, towards, out=np.full(len(rays), np.inf), where=np.abs(towards) > 1e-9)
    return np.asarray((depth > 0) & (depth < farthest_mm))


def accuracy_findings(
    plane: WallPlane, width_px: int, height_px: int, *, level_from_lines: bool, small: bool
) -> tuple[Finding, ...]:
    """Tell what limits the measurement and what would help.

    Parameters
    ----------
    plane
        The measured wall.
    width_px, height_px
        Size of the photo.
    level_from_lines
        Whether a room line gave level.
    small
        Whether the reference is a bank card or smaller.
    """
    findings = []
    if not level_from_lines:
        findings.append(
            Finding(
                "note",
                f"Level is taken from the reference's own edges, good to ± "
                f"{COVERAGE_95 * plane.level_sigma_deg:.1f}°.",
                "Draw a plumb or level edge (door frame, skirting, ceiling), or tape the sheet "
                "with a spirit level.",
                "level-from-sheet",
            )
        )
    elif plane.level_sigma_deg > LEVEL_DOUBT_DEG:
        findings.append(
            Finding(
                "advice",
                f"Level is good to ± {COVERAGE_95 * plane.level_sigma_deg:.1f}° only.",
                "Draw a long plumb or level edge of the room.",
                "level-uncertain",
            )
        )
    findings += _ends(plane, width_px, height_px, level_from_lines=level_from_lines)
    if small:
        findings.append(
            Finding(
                "advice",
                sentence(
                    "A bank card is a small reference: its scale is uncertain by ± ",
                    Length(_per_metre(plane), up=True),
                    " in a metre.",
                ),
                "Use a sheet of paper, or type one length taped on the wall.",
                "small-reference",
            )
        )
    return tuple(findings)


def _per_metre(plane: WallPlane) -> float:
    return plane.length(np.array([-500.0, 0.0]), np.array([500.0, 0.0]))[1]


def _ends(
    plane: WallPlane, width_px: int, height_px: int, *, level_from_lines: bool
) -> list[Finding]:
    """Say how uncertain the wall's ends are at the reference's height, the worse one only."""
    middle = plane.reference_corners_px.mean(axis=0)
    row = float(np.clip(middle[1], 0, height_px - 1))
    ends = np.array([[0.04 * width_px, row], [0.96 * width_px, row]])
    seen = faces_wall(plane, ends)
    if not seen.any():
        return []
    widths = np.zeros(2)
    widths[seen] = plane.half_width(plane.to_wall(ends[seen]))
    worst = int(widths.argmax())
    if widths[worst] <= FAR_HALF_WIDTH_MM:
        return []
    side = ("left", "right")[worst]
    lines = "add a second sheet there" if level_from_lines else "draw the skirting or ceiling line"
    other = "type one long taped length" if level_from_lines else "add a second sheet there"
    return [
        Finding(
            "advice",
            sentence("± ", Length(float(widths[worst]), up=True), f" at the {side} end."),
            f"To do better, {lines} or {other}.",
            "uncertain-end",
        )
    ]
