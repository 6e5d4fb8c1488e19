"""A decoded photo: upright sRGB pixels and what the camera said of its lens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from visualiser.findings import Finding
from visualiser.photo.frame import WHOLE, FrameEvidence

PixelsRgb = NDArray[np.uint8]
"""(H, W, 3) sRGB."""


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """One upright photograph.

    Parameters
    ----------
    pixels
        (H, W, 3) uint8 sRGB, upright; set read-only.
    focal_px
        Focal length in these pixels as the file states it, or None.
    focal_relative_sigma
        Standard uncertainty of ``focal_px`` as a fraction of it.
    camera
        Camera model as the file states it, to match a lens profile; empty when unknown.
    digest
        SHA-256 of the file, hexadecimal; empty for pixels that never were a file.
    findings
        What had to be assumed to decode it.
    frame
        Whether the pixels are the camera's whole frame; for pixels that never were a file they are.
    focal_35mm
        35 mm equivalent that ``focal_px`` was worked out of, or None: it is how wide an angle the
        whole frame takes in, so that what bends the corners changes the focal length.
    """

    pixels: PixelsRgb
    focal_px: float | None = None
    focal_relative_sigma: float = 0.03
    camera: str = ""
    digest: str = ""
    findings: tuple[Finding, ...] = ()
    frame: FrameEvidence = WHOLE
    focal_35mm: float | None = None

    def __post_init__(self) -> None:
        if self.pixels.ndim != 3 or self.pixels.shape[2] != 3 or self.pixels.dtype != np.uint8:
            raise ValueError(
                f"expected (H, W, 3) uint8 pixels, got {self.pixels.shape} {self.pixels.dtype}"
            )
        if self.focal_px is not None and not 0 < self.focal_px < float("inf"):
            raise ValueError(f"a focal length must be positive, got {self.focal_px!r}")
        self.pixels.flags.writeable = False

    @property
    def width_px(self) -> int:
        """Width in pixels."""
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        """Height in pixels."""
        return int(self.pixels.shape[0])
