"""Any decoded picture to 8-bit sRGB: colour profiles, 16 bits, grey, CMYK and transparency."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from visualiser.errors import PhotoError
from visualiser.findings import Finding
from visualiser.photo.linear_light import decode_srgb, encode_srgb

_PAPER_WHITE = (255, 255, 255)
_PROFILE_SPACES = {"RGB ": "RGB", "GRAY": "L", "CMYK": "CMYK"}
_NCLX_DISPLAY_P3 = {11, 12}
"""Colour primaries of SMPTE RP 431-2 and EG 432-1 in Rec. ITU-T H.273, table 2."""

# Linear Display P3 to linear sRGB, both with a D65 white: from the primaries of SMPTE EG 432-1
# and IEC 61966-2-1. Rows sum to 1.
P3_TO_SRGB = np.array(
    [
        [1.2249401763, -0.2249401763, 0.0],
        [-0.0420569547, 1.0420569547, 0.0],
        [-0.0196375546, -0.0786360456, 1.0982736001],
    ]
)


Convert = Callable[[Image.Image], Image.Image]
"""From a picture, or a strip of it, to mode RGB."""


def srgb_conversion(image: Image.Image) -> tuple[Convert, tuple[Finding, ...]]:
    """Find how a decoded picture becomes mode RGB in sRGB, strip by strip.

    Transparent parts are laid over white paper. An embedded profile is applied with the relative
    colorimetric intent and black point compensation. Sixteen bits are rounded to eight.

    Parameters
    ----------
    image
        A loaded picture of any mode.

    Returns
    -------
    What turns it or a part cut from it into sRGB, and what had to be assumed.

    Raises
    ------
    PhotoError
        For samples whose scale is not known (32-bit integers and floating point).
    """
    findings: list[Finding] = []
    profile = image.info.get("icc_profile")
    nclx = image.info.get("nclx_profile")
    mode = _without_alpha(image.crop((0, 0, 1, 1))).mode
    step: Convert | None = None
    if isinstance(profile, bytes) and profile:
        step = _by_profile(mode, profile, findings)
    elif isinstance(nclx, dict) and nclx.get("color_primaries") in _NCLX_DISPLAY_P3:
        step = _by_p3
    elif mode == "CMYK":
        findings.append(
            Finding(
                "note",
                "The picture is in printing inks (CMYK) without a colour profile; its colours "
                "are approximate.",
                "Export it as sRGB where colour matters.",
                code="photo-cmyk-without-profile",
            )
        )

    def convert(part: Image.Image) -> Image.Image:
        plain = _without_alpha(part)
        if step is not None:
            plain = step(plain)
        return plain if plain.mode == "RGB" else plain.convert("RGB")

    return convert, tuple(findings)


def _without_alpha(image: Image.Image) -> Image.Image:
    """Eight bits, opaque, in a mode that a colour profile describes."""
    image = _eight_bits(image)
    if image.mode in ("LA", "La", "PA", "RGBA", "RGBa") or "transparency" in image.info:
        return _over_white(image)
    if image.mode in ("1", "P", "YCbCr", "HSV", "LAB", "RGBX"):
        return image.convert("L" if image.mode == "1" else "RGB")
    return image


def _by_p3(image: Image.Image) -> Image.Image:
    return Image.fromarray(display_p3_to_srgb(np.asarray(image.convert("RGB"))))


def display_p3_to_srgb(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Display P3 to sRGB; colours outside sRGB are clipped.

    Both spaces use the transfer function of sRGB.

    Parameters
    ----------
    rgb
        (H, W, 3) Display P3.

    References
    ----------
    SMPTE EG 432-1 (primaries); IEC 61966-2-1 (transfer function).
    """
    decode = decode_srgb(np.arange(256) / 255)
    light = np.linspace(0, 1, 4097)
    encode = encode_srgb(light)
    out = np.empty_like(rgb)
    for top in range(0, len(rgb), 256):  # in strips, to bound the memory
        linear = decode[rgb[top : top + 256]] @ P3_TO_SRGB.T
        out[top : top + 256] = np.rint(255 * np.interp(linear, light, encode)).astype(np.uint8)
    return out


def _eight_bits(image: Image.Image) -> Image.Image:
    """Sixteen-bit grey to eight bits; colour of sixteen bits is reduced by the decoder."""
    if image.mode.startswith("I;16"):
        grey = np.asarray(image).astype(np.float32)
        return _like(image, np.rint(grey * (255 / 65535)).astype(np.uint8))
    if image.mode in ("I", "F"):
        raise PhotoError(
            "The picture has 32-bit samples, whose brightness scale is not known.",
            hint="Save it with 8 or 16 bits per channel.",
        )
    return image


def _like(image: Image.Image, pixels: NDArray[np.uint8]) -> Image.Image:
    out = Image.fromarray(pixels)
    out.info = dict(image.info)
    return out


def _over_white(image: Image.Image) -> Image.Image:
    """Lay transparent parts over white, in the picture's own encoding."""
    clear = image.convert("RGBA")
    paper = Image.new("RGB", image.size, _PAPER_WHITE)
    paper.paste(clear, mask=clear.getchannel("A"))
    return paper


def _by_profile(mode: str, profile: bytes, findings: list[Finding]) -> Convert | None:
    """Build the conversion of an embedded profile; one that cannot be read is left out and said."""
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        space = _PROFILE_SPACES.get(source.profile.xcolor_space.strip().ljust(4))
        if space is None:
            raise ImageCms.PyCMSError("unknown colour space")
        if space == "RGB" and _is_srgb(source):
            return None
        if mode != space and {mode, space} != {"L", "RGB"}:
            raise ImageCms.PyCMSError("profile of another colour space")
        transform = ImageCms.buildTransform(
            source,
            ImageCms.createProfile("sRGB"),
            space,
            "RGB",
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        findings.append(
            Finding(
                "note",
                "The picture's colour profile cannot be used; its colours are taken as sRGB.",
                "Export it as sRGB where colour matters.",
                code="photo-profile-unusable",
            )
        )
        return None

    def convert(image: Image.Image) -> Image.Image:
        image = image if image.mode == space else image.convert(space)
        converted = ImageCms.applyTransform(image, transform)
        return image if converted is None else converted

    return convert


def _is_srgb(profile: Any) -> bool:
    description = str(profile.profile.profile_description or "")
    return description.strip().lower().startswith("srgb")
