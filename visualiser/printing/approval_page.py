"""The client's page: options to look at on a phone or a screen, one to choose, a remark to write.

One HTML file that holds its own pictures and asks nothing of any network; its content policy
forbids it. The answer leaves it as a short text to send, or as a file that the job takes in.

References
----------
W3C Content Security Policy Level 3, 2.3.1 (hash sources) and 3.2 (delivery in a ``meta``);
WCAG 2.2, 1.4.3 (contrast), 1.4.10 (reflow at 320 CSS px), 2.5.8 (target size).
"""

from __future__ import annotations

import base64
import hashlib
from html import escape
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from visualiser.photo.encoding import encode_jpeg
from visualiser.printing.approval import ApprovalOption, ApprovalSheet
from visualiser.rendering.elevation import draw_elevation
from visualiser.statistics import COVERAGE_95
from visualiser.survey.survey import Survey
from visualiser.units import Unit, format_half_width, format_length

WIDEST_PX = 1600
"""Of the pictures in the page: more than a phone shows, and small enough to send."""
_QUALITY = 82
_NO_BREAK = "\u00a0"


def approval_html(sheet: ApprovalSheet, units: Unit = "mm") -> bytes:
    """Make the client's page.

    Parameters
    ----------
    sheet
        What the client sees; ``bare`` is the photo before, for the slider.
    units
        Unit that stands first; the other is beside it.

    Returns
    -------
    One HTML file in UTF-8.
    """
    style = _part("approval_page.css")
    script = _part("approval_page.js")
    before = ""
    if sheet.bare is not None and any(option.mockup is not None for option in sheet.options):
        before = f".before{{background-image:url({_picture(sheet.bare)})}}"
    style += before
    policy = (
        f"default-src 'none'; img-src data:; style-src 'sha256-{_hash(style)}'; "
        f"script-src 'sha256-{_hash(script)}'; base-uri 'none'; form-action 'none'"
    )
    options = "".join(
        _option(option, letter, sheet, units, bool(before))
        for option, letter in zip(sheet.options, sheet.letters(), strict=True)
    )
    made = " · ".join(
        part
        for part in (sheet.date, f"revision {sheet.revision}" if sheet.revision else "")
        if part
    )
    title = escape(sheet.title)
    page = f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<title>{title}: for approval</title>
<style>{style}</style>
</head>
<body data-job="{title}" data-revision="{escape(sheet.revision)}">
<header>
<h1>{title}</h1>
<p class="made">{escape(made)}</p>
<p>Look at each option, choose one, and send your answer from the foot of this page.</p>
</header>
<main>
{options}
<section class="answer" aria-labelledby="answer-heading">
<h2 id="answer-heading">Your answer</h2>
<p id="chosen" role="status">Nothing is chosen yet.</p>
<p><label for="remark">Remark</label>
<textarea id="remark" rows="3" maxlength="1000"></textarea></p>
<p class="lines" aria-hidden="true"></p>
<p><label for="by">Your name</label> <input id="by" maxlength="80" autocomplete="name"></p>
<p class="screen"><label for="text">Answer to send</label>
<textarea id="text" rows="5" readonly></textarea></p>
<p class="screen buttons">
<button type="button" id="copy" disabled>Copy the answer</button>
<button type="button" id="save" disabled>Save it as a file</button>
<button type="button" id="share" hidden>Send it</button>
</p>
<p class="screen" id="done" role="status"></p>
<noscript><p>This viewer runs no scripts: print the page, or write which option you choose.</p>
</noscript>
</section>
</main>
<script>{script}</script>
</body>
</html>
"""
    return page.encode()


def _option(
    option: ApprovalOption, letter: str, sheet: ApprovalSheet, units: Unit, compared: bool
) -> str:
    arrangement = option.arrangement
    name = escape(arrangement.name or arrangement.family)
    pixels = option.mockup
    if pixels is None:
        pixels = draw_elevation(arrangement, sheet.survey, width_px=WIDEST_PX)
    height, width = _size(pixels)
    count = len(arrangement.placements)
    where = "on the photographed wall" if option.mockup is not None else "drawn to scale"
    alt = f"Option {letter}: {count} piece{'' if count == 1 else 's'} {where}"
    picture = (
        f'<img class="after" src="{_picture(pixels)}" width="{width}" height="{height}" '
        f'alt="{alt}">'
    )
    slider = ""
    if compared and option.mockup is not None:
        picture = f'<div class="before"></div>{picture}<div class="edge"></div>'
        slider = (
            f'<p class="slider screen"><span aria-hidden="true">Before</span>'
            f'<input type="range" min="0" max="100" value="100" '
            f'aria-label="Before and after of option {letter}" '
            f'aria-valuetext="with the pictures"><span aria-hidden="true">After</span></p>'
        )
    facts = "".join(f"<li>{escape(fact)}</li>" for fact in _facts(option, sheet.survey, units))
    return f"""<section class="option" aria-labelledby="option-{letter}">
<h2 id="option-{letter}">{letter}<span class="name"> {name}</span></h2>
<div class="picture">{picture}</div>
{slider}
<p class="pick"><label><input type="radio" name="choice" value="{letter}"
 data-key="{escape(option.reply_key)}" data-name="{name}"> Choose {letter}</label></p>
{_danger(option)}<ul class="facts">{facts}</ul>
{_colours(option)}
<details><summary>The pieces of option {letter}</summary>{_pieces(option, units)}</details>
</section>
"""


def _danger(option: ApprovalOption) -> str:
    if not option.answer:
        return ""
    said = escape(option.answer)
    return f'<p class="danger">Dangerous as it is placed; answered for with: “{said}”</p>\n'


def _facts(option: ApprovalOption, survey: Survey, units: Unit) -> list[str]:
    bounds = option.arrangement.bounds
    covariance = survey.covariance(np.array([bounds.centre_mm]))[0]
    half = COVERAGE_95 * float(np.sqrt(max(covariance[1, 1], 0.0)))
    centre = _both(bounds.centre_mm[1], units)
    if half > 0:
        centre += f", {format_half_width(half)}"
    datum = "the floor" if survey.floor_known else "the height datum"
    count = len(option.arrangement.placements)
    pieces = f"{count} piece{'' if count == 1 else 's'}"
    width, height = _both(bounds.width_mm, units), _both(bounds.height_mm, units)
    return [
        f"{pieces}, a group of {width} wide by {height} high",
        f"Its centre {centre} above {datum}",
    ]


def _colours(option: ApprovalOption) -> str:
    if option.palette is None:
        return ""
    boxes = "".join(
        f'<rect x="{x:.2f}" width="{100 * swatch.share:.2f}" height="8" fill="{swatch.hex}"/>'
        for x, swatch in zip(_starts(option), option.palette.swatches, strict=True)
    )
    shares: dict[str, float] = {}
    for swatch in option.palette.swatches:
        shares[swatch.name] = shares.get(swatch.name, 0.0) + swatch.share
    largest = sorted(shares.items(), key=lambda item: -item[1])[:4]
    names = ", ".join(f"{name} {100 * share:.0f} %" for name, share in largest)
    return (
        f'<p class="colours"><svg viewBox="0 0 100 8" preserveAspectRatio="none" '
        f'aria-hidden="true" focusable="false">{boxes}</svg>Colours: {escape(names)}</p>'
    )


def _starts(option: ApprovalOption) -> list[float]:
    assert option.palette is not None
    at, starts = 0.0, []
    for swatch in option.palette.swatches:
        starts.append(at)
        at += 100 * swatch.share
    return starts


def _pieces(option: ApprovalOption, units: Unit) -> str:
    rows = []
    for placement in option.arrangement.placements:
        piece = option.arrangement.piece(placement.piece_id)
        frame = f"{piece.moulding.finish} frame" if piece.moulding else "no frame"
        mat = ", with mat" if piece.mat else ""
        rows.append(
            f'<tr><th scope="row">{escape(piece.called)}</th>'
            f"<td>{_both(piece.width_mm, units)} × {_both(piece.height_mm, units)}</td>"
            f"<td>{escape(frame + mat)}</td></tr>"
        )
    return (
        '<table><thead><tr><th scope="col">Piece</th><th scope="col">Outside size</th>'
        f'<th scope="col">Frame</th></tr></thead><tbody>{"".join(rows)}</tbody></table>'
    )


def _both(length_mm: float, units: Unit) -> str:
    other: Unit = "mm" if units in ("in", "ft") else "in"
    first, second = (
        format_length(length_mm, unit).replace(" ", _NO_BREAK) for unit in (units, other)
    )
    return f"{first} ({second})"


def _picture(pixels: NDArray[np.uint8]) -> str:
    data = encode_jpeg(_reduced(pixels), _QUALITY)
    return f"data:image/jpeg;base64,{base64.b64encode(data).decode()}"


def _reduced(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    height, width = _size(pixels)
    if (width, height) == (pixels.shape[1], pixels.shape[0]):
        return pixels
    image = Image.fromarray(np.ascontiguousarray(pixels))
    return np.asarray(image.resize((width, height), Image.Resampling.LANCZOS, reducing_gap=3.0))


def _size(pixels: NDArray[np.uint8]) -> tuple[int, int]:
    """Height and width in the page."""
    height, width = int(pixels.shape[0]), int(pixels.shape[1])
    scale = min(1.0, WIDEST_PX / max(width, height))
    return max(round(height * scale), 1), max(round(width * scale), 1)


def _part(name: str) -> str:
    return files("visualiser.printing").joinpath(name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
