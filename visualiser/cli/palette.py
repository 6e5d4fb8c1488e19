"""``visualiser palette``: palettes of pictures, how they sit together, and in a room."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.colour_data import judgement_data, palette_data, room_data
from visualiser.cli.output import (
    AsJson,
    Force,
    finding_data,
    print_json,
    read_file,
    say,
    say_findings,
    working,
    write_files,
)
from visualiser.errors import ColourError, MeasurementError
from visualiser.findings import Finding

if TYPE_CHECKING:
    from visualiser.colour.coherence import SetReading
    from visualiser.colour.palette import Palette
    from visualiser.survey.room_colours import RoomColours


def palette(
    images: Annotated[list[Path], typer.Argument(help="Pictures of the artworks.")],
    room: Annotated[
        Path | None, typer.Option(help="Photograph of the wall, with a sheet of paper on it.")
    ] = None,
    reference: Annotated[
        str,
        typer.Option(
            metavar="KIND",
            help="What of known size is on that wall: a4, letter, …, card or target.",
        ),
    ] = "a4",
    count: Annotated[
        int | None,
        typer.Option(
            min=1,
            max=16,
            help="Colours to read from each picture; as many as it asks for when left out.",
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for pictures of the palettes (PNG).")
    ] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Read the palettes of pictures: coherence, the odd one out, and the room."""
    from visualiser.colour.coherence import read_set
    from visualiser.colour.extraction import extract_palette
    from visualiser.photo.decoding import load_photo

    names = _names(images)
    with working("Reading colours …"):
        palettes = [extract_palette(load_photo(read_file(p)).pixels, count) for p in images]
        reading = read_set(palettes, names) if len(palettes) > 1 else None
        colours, doubts = (None, []) if room is None else _room(room, reference)
        pictures = [] if out is None else _draw(out, palettes, names, colours, force=force)
    if as_json:
        data = _data(images, names, palettes, reading, colours, pictures)
        data["findings"] += finding_data(tuple(doubts))
        print_json(data)
    else:
        _tell(names, palettes, reading, colours)
        say_findings(tuple(doubts), as_json=False)
        for picture in pictures:
            say(f"Drawn: {picture}", as_json=False)


def _names(images: list[Path]) -> list[str]:
    """File stems; the whole path where two are alike."""
    stems = [path.stem for path in images]
    return [s if stems.count(s) == 1 else str(p) for s, p in zip(stems, images, strict=True)]


def _room(photo: Path, reference: str) -> tuple[RoomColours | None, list[Finding]]:
    """Room's colours; where the wall cannot be measured, none of it and why."""
    import visualiser as vis
    from visualiser.survey.room_colours import room_colours

    picture = vis.load_photo(read_file(photo))
    try:
        plane = vis.fit_wall_plane(picture, vis.find_references(picture, reference))
        return room_colours(picture, vis.survey_wall(picture, plane)), []
    except (MeasurementError, ColourError) as error:
        text = f"The room is not judged: {error.message[0].lower()}{error.message[1:]}"
        return None, [Finding("advice", text, error.hint, "palette-no-room")]


def _draw(
    out: Path,
    palettes: list[Palette],
    names: list[str],
    room: RoomColours | None,
    *,
    force: bool,
) -> list[Path]:
    """Draw and write the pictures; their paths."""
    from visualiser.photo.encoding import encode_png
    from visualiser.rendering import palette_sheet

    drawings = {
        "palettes.png": palette_sheet.palette_strips(palettes, names),
        "hues.png": palette_sheet.hue_plane(palettes, names),
    }
    if len(palettes) > 1:
        drawings["distances.png"] = palette_sheet.distance_table(palettes, names)
    if room is not None:
        drawings["room.png"] = palette_sheet.room_against_art(room.palette, palettes, names)
    write_files({out / name: encode_png(px) for name, px in drawings.items()}, force=force)
    return [out / name for name in drawings]


def _data(
    images: list[Path],
    names: list[str],
    palettes: list[Palette],
    reading: SetReading | None,
    room: RoomColours | None,
    pictures: list[Path],
) -> dict[str, Any]:
    from visualiser.colour.harmony import mutual_harmony
    from visualiser.colour.remedies import remedies
    from visualiser.colour.room_fit import judge_contrast, judge_room
    from visualiser.colour.theme import overall_palette, summarise

    works = []
    for k, (path, name, found) in enumerate(zip(images, names, palettes, strict=True)):
        work = {"file": str(path), "name": name, **palette_data(found)}
        work["theme"] = summarise(found, palettes[:k] + palettes[k + 1 :]).sentence
        if room is not None:
            work["room"] = judgement_data(judge_room(found, room.palette))
            work["wall"] = judgement_data(judge_contrast(found, room.wall.lab))
        works.append(work)
    theme = summarise(overall_palette(palettes))
    data: dict[str, Any] = {
        "done": True,
        "works": works,
        "theme": {
            "sentence": theme.sentence,
            "judgements": [
                judgement_data(j) for j in (theme.temperature, theme.lightness, theme.chroma)
            ],
            "families": {name: round(share, 4) for name, share in theme.families},
            "accents": [s.word for s in theme.accents],
            "template": None
            if theme.template is None
            else {
                "name": theme.template.template.name,
                "meaning": theme.template.template.meaning,
                "angle_deg": round(theme.template.angle_deg, 1),
                "off_deg": round(theme.template.off_deg, 2),
                "fits": theme.template.fits,
            },
        },
        "pictures": [str(p) for p in pictures],
    }
    if reading is not None:
        data["distances"] = [[round(float(v), 4) for v in row] for row in reading.distances]
        data["coherence"] = judgement_data(reading.coherence)
        # A number for those who know the model; it judges no picture (see colour/harmony.py).
        data["harmony"] = [
            [
                {"kind": "harmony of flat colours", "value": round(mutual_harmony(a, b), 3)}
                for b in palettes[i + 1 :]
            ]
            for i, a in enumerate(palettes[:-1])
        ]
        data["outlier"] = None
        if (odd := reading.outlier) is not None:
            data["outlier"] = {
                "name": names[odd.index],
                "strangeness": round(odd.strangeness, 3),
                "usual": round(odd.usual, 3),
                "evidence": round(odd.evidence, 3),
                "swatch": odd.swatch.hex,
                "because": odd.because,
                "sentence": odd.sentence,
                "remedies": [r.sentence for r in remedies(palettes, odd.index, names)],
            }
    if room is not None:
        data["room"] = room_data(room)
    data["findings"] = [f for p in palettes for f in finding_data(p.findings)]
    return data


def _tell(
    names: list[str],
    palettes: list[Palette],
    reading: SetReading | None,
    room: RoomColours | None,
) -> None:
    from visualiser.colour.remedies import remedies
    from visualiser.colour.room_fit import judge_contrast, judge_room
    from visualiser.colour.theme import overall_palette, summarise

    for k, (name, found) in enumerate(zip(names, palettes, strict=True)):
        sentence = summarise(found, palettes[:k] + palettes[k + 1 :]).sentence
        say(f"{name}: {sentence}", as_json=False)
        for swatch in found.swatches:
            accent = "  accent" if swatch.accent else ""
            say(
                f"  {swatch.share:4.0%}  {swatch.hex}  {swatch.word}{accent} ({swatch.name})",
                as_json=False,
            )
        if room is not None:
            say(f"  In the room: {judge_room(found, room.palette)}", as_json=False)
            say(f"  On the wall: {judge_contrast(found, room.wall.lab)}", as_json=False)
        say_findings(found.findings, as_json=False)
    if room is not None:
        say(f"The wall is {room.wall}.", as_json=False)
        say_findings(room.findings, as_json=False)
    if reading is None:
        return
    say(f"Together: {summarise(overall_palette(palettes)).sentence}", as_json=False)
    say(str(reading.coherence), as_json=False)
    if reading.outlier is not None:
        say(reading.outlier.sentence, as_json=False)
        for remedy in remedies(palettes, reading.outlier.index, names):
            say(f"  {remedy.sentence}", as_json=False)
