"""Mitsuba scene parts: materials, and meshes collected by material."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import meshes as ms
import numpy as np
import surfaces
from numpy.typing import NDArray

# Dr.Jit needs LLVM 15 or later; 15 itself miscompiles on AVX-512 machines: name the newest.
_LLVM = sorted(
    Path("/usr/lib").glob("*/libLLVM*.so*"),
    key=lambda p: [int(t) for t in p.name.replace("-", ".").split(".") if t.isdigit()],
)
if _LLVM:
    os.environ.setdefault("DRJIT_LIBLLVM_PATH", str(_LLVM[-1]))

import mitsuba as mi  # noqa: E402 - reads the variable when it is imported

mi.set_variant("llvm_ad_rgb")

Array = NDArray[np.float64]


def bitmap(array: Array, repeat_m: tuple[float, float] | None = None) -> dict[str, Any]:
    """Texture plug-in of a linear RGB (or grey) array.

    Tiled every `repeat_m`, else stretched over uv 0..1.
    """
    data = np.ascontiguousarray(np.flipud(np.asarray(array, np.float32)))
    if data.ndim == 2:
        data = data[..., None]
    out: dict[str, Any] = {
        "type": "bitmap",
        "bitmap": mi.Bitmap(data),
        "raw": True,
        "filter_type": "bilinear",
    }
    if repeat_m:
        out["to_uv"] = mi.ScalarTransform4f().scale([1 / repeat_m[0], 1 / repeat_m[1], 1])
    else:
        out["wrap_mode"] = "clamp"
    return out


def rgb(colour: Any) -> dict[str, Any]:
    """Plain colour, linear RGB or one grey value."""
    return {"type": "rgb", "value": [float(c) for c in np.atleast_1d(colour) * np.ones(3)]}


def satin(colour: Any) -> dict[str, Any]:
    """Plain colour under a satin coat: woodwork, metalwork, glaze."""
    return {"type": "roughplastic", "diffuse_reflectance": rgb(colour), "alpha": 0.13}


def tiled(tile: surfaces.Tile, roughness: float | None = None) -> dict[str, Any]:
    """Material of a seamless texture, bump-mapped if it has relief.

    Matt, or with a sheen of the given roughness.
    """
    reflectance = bitmap(tile.reflectance, tile.size_m)
    body: dict[str, Any]
    if roughness is None:
        body = {"type": "diffuse", "reflectance": reflectance}
    else:
        body = {"type": "roughplastic", "diffuse_reflectance": reflectance, "alpha": roughness**2}
    if tile.height_m is None:
        return body
    return {
        "type": "bumpmap",
        "arbitrary": bitmap(tile.height_m, tile.size_m),
        "scale": 1.0,
        "bsdf": body,
    }


class Builder:
    """Collects meshes by material, so that the scene has few shapes."""

    def __init__(self) -> None:
        self._parts: dict[str, list[ms.Mesh]] = {}
        self._material: dict[str, dict[str, Any]] = {}
        self._emission: dict[str, dict[str, Any]] = {}

    def material(
        self, name: str, bsdf: dict[str, Any], emission: dict[str, Any] | None = None
    ) -> None:
        """Declare a material; surfaces show both sides."""
        self._material[name] = {"type": "twosided", "bsdf": bsdf}
        if emission is not None:
            self._emission[name] = {"type": "area", "radiance": emission}

    def add(self, name: str, *parts: ms.Mesh) -> None:
        """Add meshes of a declared material."""
        if name not in self._material:
            raise KeyError(name)
        self._parts.setdefault(name, []).extend(parts)

    def scene(self) -> dict[str, Any]:
        """Mitsuba scene dictionary of all shapes."""
        out: dict[str, Any] = {"type": "scene"}
        for name, parts in self._parts.items():
            whole = ms.merge(parts)
            props = mi.Properties()
            props["bsdf"] = mi.load_dict(self._material[name])
            if name in self._emission:
                props["emitter"] = mi.load_dict(self._emission[name])
            mesh = mi.Mesh(name, len(whole.vertices), len(whole.faces), props, True, True)
            params = mi.traverse(mesh)
            params["vertex_positions"] = whole.vertices.astype(np.float32).ravel()
            params["vertex_normals"] = whole.normals.astype(np.float32).ravel()
            params["vertex_texcoords"] = whole.uv.astype(np.float32).ravel()
            params["faces"] = whole.faces.astype(np.uint32).ravel()
            params.update()
            out[name] = mesh
        return out


def box(
    size: tuple[float, float, float], at: tuple[float, float, float], radius: float = 0.004
) -> ms.Mesh:
    """Box with rounded edges by size and centre, metres."""
    return ms.rounded_box(size, radius).moved(at)
