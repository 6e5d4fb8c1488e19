"""Letters for every name: embedded fonts, the computer's own for what they lack, or a visible box.

Bitstream Vera comes with the PDF library and covers western Europe. A name in another script is set
in a font found on this computer: as text where the script needs no shaping, and shaped into a
picture (600 dpi) where it runs from right to left or joins its letters. A character that no font
has is printed as a box, and the page says what the box means; nothing is dropped in silence.
"""

from __future__ import annotations

import re
import sys
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import reportlab
from PIL import Image, ImageDraw, ImageFont, features
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

PLAIN, BOLD = "VisualiserPlain", "VisualiserBold"
MISSING = "□"
"""Drawn by Vera as its own sign for a missing character, an upright box."""
MISSING_NOTE = f"{MISSING} stands for a character that no font on this computer has."
_PICTURE_DPI = 600
_NOT_A_CHARACTER = "\U0010fffe"  # what a font draws for it is its sign for "missing"

# Fonts with wide coverage that systems come with, the widest first; only what exists is used.
_FONT_FILES = (
    "DejaVuSans.ttf", "NotoSans-Regular.ttf", "NotoSansArabic-Regular.ttf",
    "NotoSansHebrew-Regular.ttf", "NotoSansCJK-Regular.ttc", "NotoSansCJKsc-Regular.otf",
    "NotoSansCJKjp-Regular.otf", "NotoSansJP-Regular.ttf", "NotoSansSC-Regular.ttf",
    "NotoSansKR-Regular.ttf", "DroidSansFallbackFull.ttf", "DroidSansFallback.ttf",
    "wqy-microhei.ttc", "wqy-zenhei.ttc", "NotoSansDevanagari-Regular.ttf",
    "NotoSansThai-Regular.ttf", "NotoSansBengali-Regular.ttf", "NotoSansTamil-Regular.ttf",
    "arial.ttf", "segoeui.ttf", "msyh.ttc", "msgothic.ttc", "YuGothM.ttc", "malgun.ttf",
    "simsun.ttc", "Nirmala.ttf", "Arial Unicode.ttf", "Arial.ttf", "PingFang.ttc",
    "Hiragino Sans GB.ttc", "AppleSDGothicNeo.ttc", "GeezaPro.ttc", "LiberationSans-Regular.ttf",
)  # fmt: skip
_FONT_FOLDERS = {
    "linux": ("/usr/share/fonts", "/usr/local/share/fonts", "~/.local/share/fonts", "~/.fonts"),
    "darwin": ("/System/Library/Fonts", "/Library/Fonts", "~/Library/Fonts"),
    "win32": ("C:/Windows/Fonts",),
}


_CONTROLS = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_SURROGATES = re.compile("[\ud800-\udfff]")
"""Unicode's categories Cc, Zl and Zp, and Cs: what a line cannot hold, and what no text does."""
_LINES_KEPT = 4096
"""Lines of which it is remembered how they are set: breaking a paragraph asks for most twice."""


@dataclass(frozen=True, slots=True)
class Setting:
    """How a line of text is set.

    Parameters
    ----------
    text
        The line, unprintable characters replaced.
    font
        Name of an embedded font; None where it is set as a picture.
    file
        File of the font, by which pictures are drawn.
    """

    text: str
    font: str | None
    file: Path

    @property
    def missing(self) -> bool:
        """Whether a character had to be replaced."""
        return MISSING in self.text

    def width_pt(self, size_pt: float) -> float:
        """Width of the line, points."""
        if self.font is not None:
            return float(pdfmetrics.stringWidth(self.text, self.font, size_pt))
        font = self.on_picture(_picture_px(size_pt))
        return font.getlength(self.text) * 72 / _PICTURE_DPI

    def picture(self, size_pt: float, colour: str) -> tuple[Image.Image, float]:
        """Line as a transparent picture, and how far below its baseline it reaches, points."""
        font = self.on_picture(_picture_px(size_pt))
        ascent, descent = font.getmetrics()
        width = max(round(font.getlength(self.text)), 1)
        image = Image.new("RGBA", (width, ascent + descent), (0, 0, 0, 0))
        ImageDraw.Draw(image).text((0, ascent), self.text, font=font, fill=colour, anchor="ls")
        return image, descent * 72 / _PICTURE_DPI

    def on_picture(self, size_px: int) -> ImageFont.FreeTypeFont:
        """Font to draw the line into a picture with, whichever way it would be set on paper."""
        return _picture_font(self.file, size_px)


def set_line(text: str, bold: bool = False) -> Setting:
    """Choose how a line is set; control characters become spaces."""
    line = _SURROGATES.sub("", _CONTROLS.sub(" ", unicodedata.normalize("NFC", text)))
    base = BOLD if bold else PLAIN
    file = _register_base()[base]
    if _embedded_covers(base, line):
        return Setting(line, base, file)
    boxed = "".join(c if _embedded_covers(base, c) else MISSING for c in line)
    if boxed == line:
        return Setting(line, base, file)
    best = max(_system_fonts(), key=lambda path: _count_covered(path, line), default=None)
    if best is None or not any(_covers(best, c) for c in line if not _embedded_covers(base, c)):
        return Setting(boxed, base, file)
    shown = "".join(c if _covers(best, c) or c == " " else MISSING for c in line)
    if not _needs_shaping(shown) and (name := _embedded(best)) and _embedded_covers(name, shown):
        return Setting(shown, name, best)
    if _needs_shaping(shown) and not features.check("raqm"):
        # Unshaped, such a line would read backwards: better no letters than wrong ones.
        return Setting(boxed, base, file)
    return Setting(shown, None, best)


@dataclass(frozen=True, slots=True)
class Line:
    """A line of text in parts, each set in a font that has its letters, in reading order."""

    parts: tuple[Setting, ...]

    @property
    def missing(self) -> bool:
        """Whether a character had to be replaced."""
        return any(part.missing for part in self.parts)

    def width_pt(self, size_pt: float) -> float:
        """Width of the line, points."""
        return sum(part.width_pt(size_pt) for part in self.parts)


@lru_cache(maxsize=_LINES_KEPT)
def set_parts(text: str, bold: bool = False) -> Line:
    """Choose how a line is set where it mixes scripts that no one font has."""
    whole = set_line(text, bold)
    base = BOLD if bold else PLAIN
    if whole.font == base and not whole.missing:
        return Line((whole,))
    return Line(tuple(set_line(part, bold) for part in _by_font(text, base)))


def _by_font(text: str, base: str) -> list[str]:
    """Split a line where its letters need another font; spaces and signs stay with their words."""
    parts: list[tuple[Path | None, str]] = []
    for character in text:
        own = _embedded_covers(base, character)
        letter = unicodedata.category(character)[0] in "LM"
        font = parts[-1][0] if parts else None
        if not own:
            known = font is not None and _covers(font, character)
            font = font if known else _first_covering(character)
        elif letter or character.isdigit():
            font = None
        if parts and parts[-1][0] == font:
            parts[-1] = (font, parts[-1][1] + character)
        else:
            parts.append((font, character))
    # A space or a comma behind a foreign word belongs to what follows.
    out: list[str] = []
    for index, (font, part) in enumerate(parts):
        kept = part
        if font is not None and index + 1 < len(parts):
            kept = part.rstrip(" ,.:;·)(“”")
            following = parts[index + 1]
            parts[index + 1] = (following[0], part[len(kept) :] + following[1])
        out.append(kept)
    return [part for part in out if part]


@cache
def _first_covering(character: str) -> Path | None:
    return next((path for path in _system_fonts() if _covers(path, character)), None)


def _needs_shaping(text: str) -> bool:
    """Whether letters run from right to left, join, or carry marks."""
    return any(
        unicodedata.bidirectional(c) in ("R", "AL", "AN")
        or unicodedata.combining(c)
        or unicodedata.category(c) in ("Mc", "Mn")
        for c in text
    )


@cache
def _register_base() -> dict[str, Path]:
    folder = Path(reportlab.__file__).parent / "fonts"
    files = {PLAIN: folder / "Vera.ttf", BOLD: folder / "VeraBd.ttf"}
    for name, path in files.items():
        pdfmetrics.registerFont(TTFont(name, str(path)))
    return files


@cache
def _system_fonts() -> tuple[Path, ...]:
    found: dict[str, Path] = {}
    for folder in _FONT_FOLDERS.get(sys.platform, _FONT_FOLDERS["linux"]):
        for path in sorted(Path(folder).expanduser().rglob("*.[toTO][tT][fcFC]")):
            found.setdefault(path.name, path)
    return tuple(found[name] for name in _FONT_FILES if name in found)


@cache
def _embedded(path: Path) -> str | None:
    """Register a font of this computer; None where the PDF library cannot embed its kind."""
    name = f"Visualiser-{path.stem}"
    try:
        pdfmetrics.registerFont(TTFont(name, str(path)))
    except (TTFError, OSError):
        return None
    return name


def _embedded_covers(name: str, text: str) -> bool:
    return _covered(name).issuperset(text)


@cache
def _covered(name: str) -> frozenset[str]:
    """Characters that an embedded font has."""
    font: Any = pdfmetrics.getFont(name)  # the stubs know only the library's own kinds of font
    return frozenset(chr(code) for code, glyph in font.face.charToGlyph.items() if glyph)


def _count_covered(path: Path, text: str) -> int:
    return sum(_covers(path, c) for c in set(text) if c != " ")


@cache
def _covers(path: Path, character: str) -> bool:
    if unicodedata.category(character) in ("Zs", "Cf"):
        return True
    try:
        font = _picture_font(path, 32)
        return bytes(font.getmask(character)) != bytes(font.getmask(_NOT_A_CHARACTER))
    except OSError:
        return False


@cache
def _picture_font(path: Path, size_px: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(path), size_px)


def _picture_px(size_pt: float) -> int:
    return max(round(size_pt / 72 * _PICTURE_DPI), 1)
