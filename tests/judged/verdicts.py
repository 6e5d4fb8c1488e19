"""Read the judged proposals: sets, places, and what two readers said of each drawing."""

import csv
import json
from collections import defaultdict
from pathlib import Path

import numpy as np

import visualiser as vis
from tests.judged.sets import Set
from visualiser.arrangement.contexts import context_of
from visualiser.arrangement.scoring import score_layouts
from visualiser.arrangement.setting import describe_hung

DATA = Path(__file__).parents[1] / "data" / "judged_proposals"
MARKS = {"signed": 2, "nudged": 1, "rejected": 0}


def _rows(path):
    with path.open(newline="") as handle:
        return list(csv.DictReader(handle))


def load():
    """Give one row a proposal: set, arrangement, marks of the readers."""
    sets = {item["name"]: Set(**item) for item in json.loads((DATA / "sets.json").read_text())}
    marks = defaultdict(list)
    for path in sorted(DATA.glob("reader_*.csv")):
        for row in _rows(path):
            marks[row["number"]].append(MARKS[row["verdict"]])
    rows = []
    for row in _rows(DATA / "proposals.csv"):
        item = sets[row["set"]]
        made = vis.Arrangement(
            tuple(item.pieces()),
            tuple(vis.Placement(i, x, y) for i, (x, y) in json.loads(row["places"]).items()),
            family=row["family"],
            name=row["name"],
        )
        rows.append((item, made, marks[row["number"]]))
    return rows


def terms_of(item, made):
    """Give the values of the terms that apply to a proposal, by name."""
    pieces = [made.piece(p.piece_id) for p in made.placements]
    setting = describe_hung(pieces, item.survey(), item.guidelines())
    centres = np.array([[p.x_mm, p.y_mm] for p in made.placements])
    scores = score_layouts(centres[None], setting, context=context_of(made, setting))
    return {name: float(value[0]) for name, value in scores.terms.items()}


def verdict(marks):
    """Sum two readers up: signed or rejected where they lean so, else nudged."""
    mean = sum(marks) / len(marks)
    return (
        "signed"
        if mean > 1.5 or (mean == 1.5 and min(marks) >= 1)
        else ("rejected" if mean < 0.75 else "nudged")
    )
