"""What happens to a photo between camera and measuring: trimmed, sent on, coded again."""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

FILM_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
_EXIF_IFD, _WIDTH, _HEIGHT, _FOCAL_35MM = 0x8769, 0xA002, 0xA003, 0xA405


@dataclass(frozen=True)
class Edit:
    """A file and how its pixels lie in the original: ``new = (old - shift_px) * scale``."""

    data: bytes
    shift_px: np.ndarray
    scale: float = 1.0

    def moved(self, points_px):
        """Points of the original picture in the edited one; pixel centres are whole numbers."""
        return (np.asarray(points_px, float) - self.shift_px + 0.5) * self.scale - 0.5


def encode(pixels, quality=92, focal_35mm=None, taken=None):
    """JPEG of pixels; with a 35 mm equivalent and the size it says the camera took."""
    exif = Image.Exif()
    if focal_35mm:
        details = exif.get_ifd(_EXIF_IFD)
        details[_FOCAL_35MM] = round(focal_35mm)
        if taken:
            details[_WIDTH], details[_HEIGHT] = taken
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "JPEG", quality=quality, exif=exif.tobytes())
    return buffer.getvalue()


def trim_box(rng, width, height, keep_px):
    """Box (x0, y0, x1, y1) after 15 to 30 % off one side and 5 to 15 % off the top.

    The side is one that leaves what must be kept (N, 2) in the picture.
    """
    side, top = rng.uniform(0.15, 0.30), rng.uniform(0.05, 0.15)
    left, right = keep_px[:, 0].min() - 20, width - keep_px[:, 0].max() - 20
    first = rng.random() < 0.5
    x0, x1 = 0, width
    if (left if first else right) < side * width:
        first = not first
    room = left if first else right
    cut = int(min(side * width, max(room, 0)))
    x0, x1 = (cut, width) if first else (0, width - cut)
    y0 = int(np.clip(min(top * height, keep_px[:, 1].min() - 20), 0, None))
    return x0, y0, x1, height


def trimmed(pixels, box, focal_35mm, how):
    """The file of a trimmed photo.

    ``kept``: the Exif block as the camera wrote it. ``updated``: its sizes set to the trimmed
    picture's, its focal length kept, as editors do. ``sent``: no Exif block, shrunk, coded again.
    """
    x0, y0, x1, y1 = box
    part = np.ascontiguousarray(pixels[y0:y1, x0:x1])
    size = (part.shape[1], part.shape[0])
    shift = np.array([x0, y0], float)
    if how == "sent":
        scale = 0.75
        small = cv2.resize(
            part, (round(size[0] * scale), round(size[1] * scale)), interpolation=cv2.INTER_AREA
        )
        return Edit(encode(small, 85), shift, scale)
    taken = (pixels.shape[1], pixels.shape[0]) if how == "kept" else size
    return Edit(encode(part, 92, focal_35mm, taken), shift)


def near_copy(pixels, rng, focal_35mm):
    """The same photo once more: some pixels trimmed, a level of noise, ± 1 % in size, recoded."""
    cut = rng.integers(2, 7, 4)
    height, width = pixels.shape[:2]
    part = pixels[cut[1] : height - cut[3], cut[0] : width - cut[2]]
    scale = 1 + rng.uniform(-0.01, 0.01)
    size = (round(part.shape[1] * scale), round(part.shape[0] * scale))
    part = cv2.resize(part, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR)
    noisy = part + rng.standard_normal(part.shape, np.float32)
    noisy = np.clip(np.round(noisy), 0, 255).astype(np.uint8)
    data = encode(noisy, int(rng.integers(85, 96)), focal_35mm, size)
    return Edit(data, np.array([cut[0], cut[1]], float), size[0] / (width - cut[0] - cut[2]))


def straightened(pixels, focal_px, centre_px, up):
    """The photo as an editor makes its uprights parallel: turned about the camera, then trimmed.

    ``up``: the plumb's direction in camera axes. Gives the pixels and the way of points into them.
    """
    height, width = pixels.shape[:2]
    down = -np.asarray(up, float) / np.linalg.norm(up)
    right = np.cross(down, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    turn = np.stack([right, down, np.cross(right, down)])
    camera = np.array([[focal_px, 0, centre_px[0]], [0, focal_px, centre_px[1]], [0, 0, 1.0]])
    warp = camera @ turn @ np.linalg.inv(camera)

    def through(matrix, points_px):
        return cv2.perspectiveTransform(np.asarray(points_px, float).reshape(1, -1, 2), matrix)[0]

    middle = np.array([width, height]) / 2
    warp = _moved_by(middle - through(warp, middle)[0]) @ warp
    for share in np.linspace(0, 0.45, 91):
        low, high = share * 2 * middle, (1 - share) * 2 * middle
        box = [low, [high[0], low[1]], high, [low[0], high[1]]]
        seen = through(np.linalg.inv(warp), box)
        if (seen >= 0).all() and (seen <= 2 * middle).all():
            break
    warp = _moved_by(-low) @ warp
    size = tuple(int(n) for n in high - low)
    made = cv2.warpPerspective(pixels, warp, size, flags=cv2.INTER_CUBIC)
    return made, lambda points_px: through(warp, points_px)


def panorama(pixels, focal_px, centre_px):
    """The photo as a panorama shows it: on a cylinder about the upright. Pixels, way of points."""
    height, width = pixels.shape[:2]
    wide = int(2 * np.arctan(width / 2 / focal_px) * focal_px)
    x, y = np.meshgrid(np.arange(wide), np.arange(height))
    angle = (x - wide / 2) / focal_px
    from_x = focal_px * np.tan(angle) + centre_px[0]
    from_y = (y - height / 2) / np.cos(angle) + centre_px[1]
    made = cv2.remap(pixels, np.float32(from_x), np.float32(from_y), cv2.INTER_CUBIC)

    def moved(points_px):
        off = np.asarray(points_px, float) - centre_px
        angle = np.arctan(off[:, 0] / focal_px)
        return np.c_[angle * focal_px + wide / 2, off[:, 1] * np.cos(angle) + height / 2]

    return made, moved


def _moved_by(shift_px):
    return np.array([[1, 0, shift_px[0]], [0, 1, shift_px[1]], [0, 0, 1.0]])
