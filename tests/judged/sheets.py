"""Draw proposals to scale, without their scores, on numbered contact sheets for readers.

Run as ``python -m tests.judged.sheets FOLDER``.
"""

import csv
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

import visualiser as vis
from tests.judged.sets import all_sets

WIDE, HIGH = 560, 430
FIGURE_MM = 1700
WALL, FLOOR, PAPER = (236, 233, 226), (205, 196, 182), (255, 255, 255)
FURNITURE, OBJECT, GLASS, DARK = (183, 176, 166), (214, 208, 198), (212, 226, 232), (70, 72, 76)
INK = (90, 90, 92)
TONES = [(122, 134, 140), (150, 140, 124), (104, 116, 108), (164, 152, 150), (128, 122, 138)]


def draw(item, arrangement):
    """Draw one proposal to scale: wall, floor, furniture, frames and a person of 1.7 m."""
    survey = item.survey()
    bounds = survey.outline.bounds
    room = 900.0
    scale = min((WIDE - 20) / (bounds.width_mm + room), (HIGH - 50) / max(bounds.height_mm, 1))
    image = Image.new("RGB", (2 * WIDE, 2 * HIGH), PAPER)
    pen = ImageDraw.Draw(image)
    s = 2 * scale
    left, base = 20.0, 2 * HIGH - 50.0

    def at(x, y):
        return left + (x - bounds.left_mm) * s, base - (y - bounds.bottom_mm) * s

    def box(x, y, w, h, **kwargs):
        (x0, y1), (x1, y0) = at(x, y), at(x + w, y + h)
        pen.rectangle((x0, y0, x1, y1), **kwargs)

    def label(x, y, text):
        pen.text(at(x, y), text, fill=INK, anchor="mm", font=ImageFont.load_default(size=17))

    pen.polygon([at(x, y) for x, y in survey.outline.points_mm], fill=WALL, outline=INK)
    end = at(bounds.right_mm + room, 0)[0]
    pen.rectangle((0, base, end, base + 16), fill=FLOOR)
    rules = item.guidelines()
    for kind, name, x, y, w, h in item.zones:
        if name == "TV":
            box(x, y, w, h, fill=DARK)
        elif kind == "window" or "mirror" in name:
            box(x, y, w, h, fill=GLASS, outline=INK, width=5)
        elif name == "corner":
            box(x, y, w, h, fill=INK)
            continue
        else:
            box(x, y, w, h, fill=OBJECT, outline=INK, width=2)
        if w > 250:
            label(x + w / 2, y + h / 2 if name != "TV" else y + h + 60, name)
    for _, name, x, y, w, h in item.furniture:
        box(x, y, w, h, fill=FURNITURE, outline=INK, width=2)
        if h > 100:
            label(x + w / 2, y + h / 2, name)
    if rules.ledge_height_mm:
        box(100, rules.ledge_height_mm - 30, bounds.width_mm - 200, 30, fill=FURNITURE)
    if rules.picture_rail_mm:
        box(0, rules.picture_rail_mm, bounds.width_mm, 40, fill=FURNITURE)
        on_cords = arrangement.rects().values() if arrangement.family == "picture rail" else ()
        for rect in on_cords:
            for x in (rect.left_mm + 0.25 * rect.width_mm, rect.right_mm - 0.25 * rect.width_mm):
                pen.line([at(x, rect.top_mm), at(x, rules.picture_rail_mm)], fill=INK, width=1)
    for number, (piece_id, rect) in enumerate(arrangement.rects().items()):
        kept = piece_id in item.kept
        rail = 14 + 0.01 * min(rect.width_mm, rect.height_mm)
        box(rect.left_mm, rect.bottom_mm, rect.width_mm, rect.height_mm, fill=(58, 50, 44))
        inner = rect.grown(-rail)
        box(inner.left_mm, inner.bottom_mm, inner.width_mm, inner.height_mm, fill=(250, 249, 246))
        art = inner.grown(-0.13 * min(inner.width_mm, inner.height_mm))
        box(art.left_mm, art.bottom_mm, art.width_mm, art.height_mm,
            fill=TONES[number % len(TONES)])  # fmt: skip
        if kept:
            label(*rect.centre_mm, "stays")
    _person(pen, at, bounds.right_mm + room / 2, s)
    return image.resize((WIDE, HIGH), Image.Resampling.LANCZOS)


def _person(pen, at, x, s):
    """Draw a standing figure of 1.7 m, for scale."""
    grey = (168, 166, 162)
    head = at(x, FIGURE_MM - 110)
    r = 110 * s
    pen.ellipse((head[0] - r * 0.8, head[1] - r, head[0] + r * 0.8, head[1] + r), fill=grey)
    body = [(-200, 1430), (200, 1430), (230, 800), (140, 800), (130, 0), (20, 0), (0, 760),
            (-20, 0), (-130, 0), (-140, 800), (-230, 800)]  # fmt: skip
    pen.polygon([at(x + dx, y) for dx, y in body], fill=grey)


def proposals_of(task):
    """Give what is offered of a set, and for every other set one more way of hanging."""
    seed, item = task
    try:
        found = vis.propose(item.pieces(), item.survey(), item.guidelines(), count=3 + MORE,
                            seed=seed, kept=item.kept or None)  # fmt: skip
    except vis.VisualiserError as error:
        sys.stderr.write(f"{item.name}: {error} {error.hint}\n")
        return []
    extra = found[3:]
    return [*found[:3], *([extra[seed % len(extra)]] if extra and seed % 2 else [])]


MORE = 3


def main(folder):
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    rows, pictures, kept = [], [], []
    tasks = list(enumerate(all_sets()))
    with ProcessPoolExecutor(5) as pool:
        every = list(pool.map(proposals_of, tasks, chunksize=1))
    for (seed, item), found in zip(tasks, every, strict=True):
        kept.append(asdict(item))
        for rank, made in enumerate(found):
            rows.append({
                "number": len(rows) + 1, "set": item.name, "family": made.family, "seed": seed,
                "rank": rank, "name": made.name,
                "places": json.dumps({p.piece_id: [round(p.x_mm, 2), round(p.y_mm, 2)]
                                      for p in made.placements}),
            })  # fmt: skip
            pictures.append(draw(item, made))
    sheets = folder / "sheets"
    sheets.mkdir(exist_ok=True)
    font = ImageFont.load_default(size=26)
    for start in range(0, len(pictures), 6):
        name = f"sheet_{start // 6 + 1:03d}.png"
        page = Image.new("RGB", (3 * WIDE, 2 * HIGH), PAPER)
        for k, picture in enumerate(pictures[start : start + 6]):
            corner = (k % 3 * WIDE, k // 3 * HIGH)
            page.paste(picture, corner)
            pen = ImageDraw.Draw(page)
            pen.text((corner[0] + 8, corner[1] + 4), str(start + k + 1), fill=(170, 30, 30),
                     font=font)  # fmt: skip
            pen.rectangle(
                (*corner, corner[0] + WIDE - 1, corner[1] + HIGH - 1), outline=(90, 90, 90)
            )
            rows[start + k]["file"] = name
        page.save(sheets / name)
    with (folder / "proposals.csv").open("w", newline="") as handle:
        writer = csv.DictWriter(handle, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    (folder / "sets.json").write_text(json.dumps(kept, indent=1))
    sys.stdout.write(f"{len(kept)} sets, {len(rows)} proposals\n")


if __name__ == "__main__":
    main(sys.argv[1])
