"""Path tracing: the view, the light, denoising, and what the camera sees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import mitsuba as mi
import numpy as np
import pyoidn
from camera import Camera
from numpy.typing import NDArray

Array = NDArray[np.float64]


def sensor_view(camera: Camera) -> tuple[dict[str, Any], tuple[int, int]]:
    """Build the sensor that covers the lens-warped picture.

    Returns it with the pixel at which its picture starts.
    """
    x0, y0, width, height = camera.overscan()
    # Film coordinates put pixel centres at half-integers; ours put them at integers.
    px, py = camera.cx - x0 + 0.5, camera.cy - y0 + 0.5
    origin = np.asarray(camera.position_mm) / 1e3
    _, down, forward = camera.rotation
    view = {
        "type": "perspective",
        "fov_axis": "x",
        "fov": float(np.degrees(2 * np.arctan(width / 2 / camera.f_px))),
        "principal_point_offset_x": float(0.5 - px / width),
        "principal_point_offset_y": float(0.5 - py / height),
        "near_clip": 0.05,
        "to_world": mi.ScalarTransform4f().look_at(
            origin=origin.tolist(), target=(origin + forward).tolist(), up=(-down).tolist()
        ),
        "film": {
            "type": "hdrfilm",
            "width": width,
            "height": height,
            "rfilter": {"type": "box"},
            "component_format": "float32",
            "pixel_format": "rgb",
        },
        "sampler": {"type": "multijitter", "sample_count": 8},
    }
    return view, (x0, y0)


def integrate(
    scene: Any, view: dict[str, Any], integrator: dict[str, Any], spp: int, seed: int
) -> NDArray[np.float32]:
    """Mean of passes of at most 8 samples, which bounds the memory."""
    sensor, method = mi.load_dict(view), mi.load_dict(integrator)
    done, total = 0, np.zeros(1, np.float32)
    while done < spp:
        n = min(8, spp - done)
        total = total + n * np.array(
            mi.render(scene, sensor=sensor, integrator=method, spp=n, seed=seed + done)
        )
        done += n
    return np.asarray(total / spp, np.float32)


@dataclass(frozen=True)
class Effort:
    """Samples a pixel for light and for the denoiser's guides, and the denoiser's quality."""

    light: int = 2
    guides: int = 8
    close_up_light: int = 32
    close_up_guides: int = 16
    denoiser: str = "fast"  # 'fast', 'balanced' (twice the time) or 'high'


def _denoised(
    colour: NDArray[np.float32], guides: NDArray[np.float32], quality: str
) -> NDArray[np.float32]:
    """Denoise, guided by clean albedo and normals that keep edges and textures in place."""
    albedo = np.ascontiguousarray(np.clip(guides[..., :3], 0, 1))
    normal = np.ascontiguousarray(guides[..., 3:6])
    return np.asarray(
        pyoidn.denoise(
            np.ascontiguousarray(colour),
            albedo=albedo,
            normal=normal,
            hdr=True,
            clean_aux=True,
            quality=quality,
        ),
        np.float32,
    )


PATH = {"type": "path", "max_depth": 5, "rr_depth": 3}
GUIDES = {"type": "aov", "aovs": "albedo:albedo,nn:sh_normal"}


def render(
    scene: Any, camera: Camera, close_ups_px: list[Array], effort: Effort, seed: int
) -> NDArray[np.float32]:
    """Pinhole picture in linear light, warped through the lens: (height, width, 3).

    The whole is rendered with few samples and denoised; each close-up (pinhole pixels whose
    bounding box matters: the references) is rendered again with more, so that contact shadows at
    paper edges are traced, not guessed.
    """
    view, (x0, y0) = sensor_view(camera)
    image = _denoised(
        integrate(scene, view, PATH, effort.light, seed),
        integrate(scene, view, GUIDES, effort.guides, seed),
        effort.denoiser,
    )
    height, width = image.shape[:2]
    for points in close_ups_px:
        low, high = points.min(0) - [x0, y0], points.max(0) - [x0, y0]
        pad = 0.3 * (high - low).max()
        left, top = np.maximum(np.floor(low - pad), 0).astype(int)
        right, bottom = np.minimum(np.ceil(high + pad), [width, height]).astype(int)
        film = dict(
            view["film"],
            crop_offset_x=int(left),
            crop_offset_y=int(top),
            crop_width=int(right - left),
            crop_height=int(bottom - top),
        )
        part = dict(view, film=film)
        sharp = _denoised(
            integrate(scene, part, PATH, effort.close_up_light, seed + 1),
            integrate(scene, part, GUIDES, effort.close_up_guides, seed + 1),
            "balanced",
        )
        weight = np.ones(sharp.shape[:2], np.float32)
        feather = max(4, int(pad * 0.6))
        ramp = np.linspace(0, 1, feather, dtype=np.float32)
        for axis in (0, 1):
            shape = (-1, 1) if axis == 0 else (1, -1)
            n = weight.shape[axis]
            profile = np.ones(n, np.float32)
            profile[:feather], profile[n - feather :] = ramp, ramp[::-1]
            weight = weight * profile.reshape(shape)
        region = image[top:bottom, left:right]
        region += weight[..., None] * (sharp - region)
    return camera.warp(image, (x0, y0))


def coverage(
    scene: Any, camera: Camera, groups: tuple[tuple[str, ...], ...], across: int = 4
) -> NDArray[np.float32]:
    """How far each pixel shows shapes of three groups of names: (height, width, 3), 0 to 1.

    ``across`` squared rays a pixel, on a regular grid, are warped through the lens as the light is.
    """
    x0, y0, width, height = camera.overscan()
    origin, rotation = np.asarray(camera.position_mm) / 1e3, camera.rotation
    shapes = {shape.id(): mi.ShapePtr(shape) for shape in scene.shapes()}
    seen = np.zeros((height, width, 3), np.float32)
    rows, columns = np.mgrid[0:height, 0:width]
    for k in range(across * across):
        dx, dy = ((n + 0.5) / across - 0.5 for n in (k % across, k // across))
        ahead = np.stack(
            [
                (columns + x0 + dx - camera.cx) / camera.f_px,
                (rows + y0 + dy - camera.cy) / camera.f_px,
                np.ones((height, width)),
            ],
            -1,
        ).reshape(-1, 3)
        towards = (ahead @ rotation).astype(np.float32)
        towards /= np.linalg.norm(towards, axis=1, keepdims=True)
        ray = mi.Ray3f(mi.Point3f(*(float(c) for c in origin)), mi.Vector3f(towards.T))
        hit = scene.ray_intersect_preliminary(ray)
        for group, names in enumerate(groups):
            found = np.zeros(len(towards), bool)
            for name in names:
                if name in shapes:
                    found |= np.array(hit.is_valid() & (hit.shape == shapes[name]))
            seen[..., group] += found.reshape(height, width)
    return np.minimum(camera.warp(seen / np.float32(across**2), (x0, y0)), 1)


def visible(
    scene: Any, camera: Camera, xyz_mm: Array, tolerance_mm: float = 25.0
) -> NDArray[np.bool_]:
    """Tell which world points (N, 3) the camera sees.

    What stands closer to the point than the tolerance hides nothing.
    """
    origin = np.asarray(camera.position_mm) / 1e3
    towards = np.asarray(xyz_mm, float) / 1e3 - origin
    distance = np.linalg.norm(towards, axis=1)
    ray = mi.Ray3f(
        mi.Point3f(*(float(c) for c in origin)),
        mi.Vector3f((towards / distance[:, None]).T.astype(np.float32)),
    )
    hit = np.array(scene.ray_intersect(ray).t)
    return hit > distance - tolerance_mm / 1e3
