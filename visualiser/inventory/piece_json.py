"""Lists of pieces as JSON, for other programs; lengths are numbers in mm."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from typing import Any

from visualiser.errors import PieceError
from visualiser.inventory.piece import Hanger, Mat, Moulding, Piece
from visualiser.inventory.piece_list import CHOICES, MOST_PIECES, ListedPiece, checked

_LONGEST = 5_000_000
"""A piece with all its fields and the longest texts takes 2000 letters, most a tenth of that."""
_MOST_OBJECTS = 10 * MOST_PIECES
"""A piece holds five at most: its moulding, its mat, its hanger and itself."""


def pieces_to_json(listed: list[ListedPiece]) -> str:
    """Write pieces as a JSON list of objects; lengths are numbers in mm."""
    items = []
    for item in listed:
        fields: dict[str, Any] = asdict(replace(item.piece, artwork=None))
        del fields["artwork"]
        fields["artwork_file"] = item.artwork_file
        items.append(fields)
    return json.dumps({"pieces": items}, indent=1, ensure_ascii=False) + "\n"


def pieces_from_json(text: str) -> list[ListedPiece]:
    """Read pieces from the JSON that ``pieces_to_json`` writes; fields may be left out.

    Raises
    ------
    PieceError
        If it is not such a list; names the piece and the field.
    """
    if len(text) > _LONGEST or text.count("{") > _MOST_OBJECTS:
        raise PieceError(
            f"The list holds more than {MOST_PIECES} pieces, or far longer ones than pieces are.",
            hint=f"Split it: {MOST_PIECES} at most.",
        )
    try:
        data = json.loads(text.removeprefix("\ufeff"), parse_constant=_no_constant)
    except (ValueError, RecursionError) as reason:
        raise PieceError(
            "The list of pieces is not valid JSON.",
            hint="Export it again, or use CSV from a spreadsheet.",
        ) from reason
    items = data.get("pieces") if isinstance(data, dict) else data
    if isinstance(items, list):
        items = items[: MOST_PIECES + 1]  # enough to know that it is too long
    else:
        raise PieceError(
            "The JSON holds no list of pieces.",
            hint='Write {"pieces": [{"id": "p1", "width_mm": 500, "height_mm": 400}]}.',
        )
    return checked([_from_fields(item, i + 1) for i, item in enumerate(items)])


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not a number")


def _from_fields(item: Any, number: int) -> ListedPiece:
    where = f"Piece {number} of the list"
    if not isinstance(item, dict):
        raise PieceError(f"{where} is not an object.", hint="Write its fields in curly brackets.")
    fields = dict(item)
    artwork_file = fields.pop("artwork_file", "")
    try:
        for name, kind in (("moulding", Moulding), ("mat", Mat), ("hanger", Hanger)):
            if isinstance(fields.get(name), dict):
                fields[name] = kind(**fields[name])
            elif name in fields and (fields[name] is not None or kind is Hanger):
                raise TypeError(name)
        _check_types(fields, where)
        return ListedPiece(Piece(**fields), str(artwork_file))
    except (TypeError, OverflowError) as reason:
        raise PieceError(
            f"{where} has a field that is missing, unknown or of the wrong kind.",
            hint="Compare it with an exported list.",
        ) from reason


def _check_types(fields: dict[str, Any], where: str) -> None:
    """Refuse text where a number belongs, and choices that do not exist."""
    numbers = (
        "width_mm", "height_mm", "weight_kg", "weight_sigma_kg", "depth_mm", "glazing_mm",
    )  # fmt: skip
    for name in numbers:
        value = fields.get(name)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise PieceError(f"{where}: {name} is {value!r}.", hint="Give a number.")
    if not isinstance(fields.get("id"), str):
        raise PieceError(f"{where} has no id.", hint="Give each piece a short name of its own.")
    moulding = fields.get("moulding")
    chosen = {
        "glazing": fields.get("glazing", "clear"),
        "finish": moulding.finish if isinstance(moulding, Moulding) else "oak",
        "profile": moulding.profile if isinstance(moulding, Moulding) else "flat",
        "artwork fit": fields.get("artwork_fit", "cut"),
        "kind": fields.get("kind", "picture"),
    }
    for name, value in chosen.items():
        if value not in CHOICES[name]:
            raise PieceError(
                f"{where}: {name} “{value}” is not known.",
                hint=f"Write one of {', '.join(CHOICES[name])}.",
            )
