"""Sixty pieces worked by hand: what the plan must name, refuse and say, each with its source.

The cases are data, `tests/data/hanging_cases.json`. Every limit of the product is moved in turn,
and each time a case must notice.
"""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.errors import HangingError
from visualiser.geometry import Polygon, Rect
from visualiser.hanging import cautions, fixing_classes, fixings, loads, places
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory import hanger as hangers
from visualiser.inventory import weight
from visualiser.inventory.piece import Hanger, Moulding, Piece
from visualiser.survey.studs import Studs
from visualiser.survey.survey import Furniture, Survey, Zone

DATA = Path(__file__).resolve().parents[1] / "data" / "hanging_cases.json"
CASES = json.loads(DATA.read_text())["cases"]


def room(case):
    zones = tuple(Zone(kind, Polygon.from_rect(Rect(*box))) for kind, *box in case.get("zones", []))
    furniture = tuple(Furniture(kind, Rect(*box)) for kind, *box in case.get("furniture", []))
    survey = Survey.from_size(4000, 2500, zones, furniture)
    if "floor_sigma_mm" in case:
        survey = replace(survey, floor_sigma_mm=case["floor_sigma_mm"])
    studs = case.get("studs")
    return survey if studs is None else replace(survey, studs=Studs(tuple(studs[0]), studs[1]))


def piece_of(case):
    made = dict(case["piece"])
    size = made.pop("size_mm")
    moulding = made.pop("moulding", [20, 25])
    return Piece(
        "a",
        *size,
        moulding=Moulding(*moulding) if moulding else None,
        hanger=Hanger(**made.pop("hanger")),
        **made,
    )


def planned(case):
    """Plan a case; what it says in codes, or the error it ends with."""
    x, y = case.get("at_mm", [2000, 1524])
    options = dict(case.get("options", {}))
    arrangement = Arrangement((piece_of(case),), (Placement("a", x, y),))
    return plan_hanging(arrangement, room(case), case.get("wall"), **options)


def agrees(case):
    """Check one case; the first thing that differs, empty when nothing does."""
    must = case["must"]
    try:
        plan = planned(case)
    except HangingError as error:
        refused = must.get("refused")
        if refused is None:
            return f"refused: {error.message}"
        said = f"{error.message} {error.hint}"
        return "" if refused in said else f"“{refused}” is not in “{said}”"
    if "refused" in must:
        return f"not refused: {must['refused']}"
    (piece,) = plan.pieces
    codes = {finding.code for finding in plan.findings}
    grave = {finding.code for finding in plan.gravest}
    named = piece.fixing.fixing.name if piece.fixing.fixing else None
    checks = {
        "fixing": lambda wanted: named == wanted,
        "fixing_not": lambda wanted: named not in wanted,
        "count": lambda wanted: piece.fixing.count == wanted,
        "closed": lambda wanted: piece.fixing.closed == wanted,
        "because": lambda wanted: wanted in piece.fixing.reasons,
        "says": lambda wanted: set(wanted) <= codes,
        "cautions": lambda wanted: set(wanted) <= grave,
        "says_not": lambda wanted: not set(wanted) & codes,
        "hooks_mm": lambda wanted: [list(map(round, h)) for h in piece.hooks_mm] == wanted,
        "down_n": lambda wanted: piece.load.down_n == pytest.approx(wanted, rel=0.01),
        "wire_n": lambda wanted: piece.load.wire_n == pytest.approx(wanted, rel=0.01),
        "pull_out_n": lambda wanted: piece.load.pull_out_n == pytest.approx(wanted, rel=0.01),
        "heavy_kg": lambda wanted: wanted[0] <= piece.load.weight.heavy_kg <= wanted[1],
        "words": lambda wanted: plan.accepted == wanted,
    }
    for name, wanted in must.items():
        if not checks[name](wanted):
            return f"{name} is not {wanted}: {named}, {piece.fixing.reasons}, {sorted(codes)}"
    return ""


@pytest.mark.parametrize("case", CASES, ids=[case["case"] for case in CASES])
def test_the_plan_says_what_was_worked_by_hand(case):
    assert case["source"]
    assert agrees(case) == ""


def test_there_are_sixty_and_each_names_its_source():
    assert len(CASES) >= 60
    assert len({case["case"] for case in CASES}) == len(CASES)
    assert all(len(case["source"]) > 10 for case in CASES)
    kinds = {case["piece"]["hanger"].get("kind", "d-rings") for case in CASES}
    assert kinds == set(hangers.HANGERS)


def moved_class(name, **values):
    """Exchange a class of fixing for one with other figures wherever it is named."""

    def move(monkeypatch):
        old = getattr(fixing_classes, name)
        new = replace(old, **values)
        table = {
            wall: tuple(new if one is old else one for one in classes)
            for wall, classes in fixing_classes._CLASSES.items()
        }
        monkeypatch.setattr(fixing_classes, name, new)
        monkeypatch.setattr(fixing_classes, "_CLASSES", table)

    return move


def moved_row(place, **values):
    def move(monkeypatch):
        monkeypatch.setitem(places.RULES, place, replace(places.RULES[place], **values))

    return move


def moved_hanger(kind, **values):
    def move(monkeypatch):
        monkeypatch.setitem(hangers.HANGERS, kind, replace(hangers.HANGERS[kind], **values))

    return move


def moved(module, name, value):
    def move(monkeypatch):
        monkeypatch.setattr(module, name, value)

    return move


MUTATIONS = {
    "heavy, up": moved(fixings, "HEAVY_KG", 30.0),
    "heavy, down": moved(fixings, "HEAVY_KG", 15.0),
    "glass to weigh, up": moved(fixings, "GLASS_TO_WEIGH_M2", 0.9),
    "glass to weigh, down": moved(fixings, "GLASS_TO_WEIGH_M2", 0.3),
    "flattest held, up": moved(fixings, "FLATTEST_HELD_DEG", 20.0),
    "flattest held, down": moved(fixings, "FLATTEST_HELD_DEG", 8.0),
    "strips' most, up": moved(fixings, "STRIPS_MOST_KG", 8.0),
    "strips' most, down": moved(fixings, "STRIPS_MOST_KG", 2.0),
    "strips on brick": moved(fixings, "_NO_STRIPS_ON", ("unknown",)),
    "strips, stronger": moved(fixings, "STRIPS", replace(fixings.STRIPS, allowance_kg=0.8)),
    "strips, weaker": moved(fixings, "STRIPS", replace(fixings.STRIPS, allowance_kg=0.3)),
    "nail hook, up": moved_class("NAIL_HOOK", allowance_kg=3.0),
    "nail hook, down": moved_class("NAIL_HOOK", allowance_kg=1.0),
    "wire hook, up": moved_class("CURVED_WIRE_HOOK", allowance_kg=7.0),
    "wire hook, down": moved_class("CURVED_WIRE_HOOK", allowance_kg=3.0),
    "anchor, up": moved_class("HOLLOW_ANCHOR", allowance_kg=12.0),
    "anchor, down": moved_class("HOLLOW_ANCHOR", allowance_kg=6.0),
    "anchor's ceiling, up": moved_class("HOLLOW_ANCHOR", ceiling_kg=40.0),
    "anchor's ceiling, down": moved_class("HOLLOW_ANCHOR", ceiling_kg=9.0),
    "stud, weaker": moved_class("STUD", allowance_kg=5.0),
    "stud's withdrawal": moved_class("STUD", pull_out_n=1000.0),
    "batten, weaker": moved_class("BATTEN", allowance_kg=5.0),
    "plug, weaker": moved_class("MASONRY_PLUG", allowance_kg=5.0),
    "pin hook, up": moved_class("CONCRETE_PIN_HOOK", allowance_kg=4.0),
    "pin hook, down": moved_class("CONCRETE_PIN_HOOK", allowance_kg=1.0),
    "wood screw, up": moved_class("WOOD_SCREW", allowance_kg=15.0),
    "wood screw, down": moved_class("WOOD_SCREW", allowance_kg=4.0),
    "rail by itself": moved(fixings, "RAIL_HOOK", replace(fixings.RAIL_HOOK, allowance_kg=10.0)),
    "anchors as solid": moved_class("HOLLOW_ANCHOR", into="solid"),
    "open hooks in seismic": moved_class("NAIL_HOOK", closable=True),
    "large by weight, up": moved(places, "LARGE_KG", 12.0),
    "large by weight, down": moved(places, "LARGE_KG", 2.0),
    "large by size, up": moved(places, "LARGE_MM", 900.0),
    "large by size, down": moved(places, "LARGE_MM", 350.0),
    "radiator's reach, up": moved(places, "RADIATOR_REACH_MM", 1500.0),
    "radiator's reach, down": moved(places, "RADIATOR_REACH_MM", 500.0),
    "bed, laxer": moved_row("bed", small="any"),
    "bed, large": moved_row("bed", large="closed in solid"),
    "bed, glass": moved_row("bed", glass_is_large=False),
    "cot, laxer": moved_row("cot", small="closed in solid"),
    "seat, strips": moved_row("seat", small="any"),
    "seat, large": moved_row("seat", large="no strips"),
    "radiator, strips": moved_row("radiator", small="any", large="any"),
    "walkway, strips": moved_row("walkway", small="any", large="any"),
    "earthquake, open": moved_row("earthquake", small="any", large="any"),
    "sawtooth, up": moved_hanger("sawtooth", allowance_kg=20.0),
    "sawtooth, down": moved_hanger("sawtooth", allowance_kg=2.0),
    "keyhole, up": moved_hanger("keyhole", allowance_kg=30.0),
    "keyhole, down": moved_hanger("keyhole", allowance_kg=2.0),
    "rings become one": moved_hanger("d-rings", usual_hooks=1),
    "rings elsewhere": moved_hanger("d-rings", usual_spacing="half"),
    "flattest advised, up": moved(cautions, "FLATTEST_WIRE_DEG", 40.0),
    "flattest advised, down": moved(cautions, "FLATTEST_WIRE_DEG", 17.0),
    "board alone, up": moved(cautions, "BOARD_KG", 14.0),
    "board alone, down": moved(cautions, "BOARD_KG", 5.0),
    "ladder, up": moved(cautions, "LADDER_MM", 2400.0),
    "ladder, down": moved(cautions, "LADDER_MM", 1900.0),
    "pipe, nearer": moved(cautions, "PIPE_MARGIN_MM", 60.0),
    "pipe, further": moved(cautions, "PIPE_MARGIN_MM", 400.0),
    "shallow drop, up": moved(cautions, "SHALLOW_DROP_MM", 16.0),
    "shallow drop, down": moved(cautions, "SHALLOW_DROP_MM", 0.2),
    "cable strip, up": moved(cautions, "CABLE_STRIP_MM", 200.0),
    "cable strip, down": moved(cautions, "CABLE_STRIP_MM", 100.0),
    "ratings asked, up": moved(cautions, "ASK_RATINGS_KG", 9.0),
    "ratings asked, down": moved(cautions, "ASK_RATINGS_KG", 1.0),
    "mirror's glass": moved(weight, "MIRROR_MM", 3.0),
    "picture's thickest glass": moved(weight, "GLASS_UPPER_MM", 8.0),
    "mirror's thickest glass": moved(weight, "MIRROR_UPPER_MM", 12.0),
    "glass, lighter": moved(weight, "GLASS_KG_M3", 1190.0),
    "gravity": moved(loads, "GRAVITY", 9.0),
}


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_case_notices_when_a_limit_is_moved(name, monkeypatch):
    MUTATIONS[name](monkeypatch)
    assert any(agrees(case) for case in CASES), f"no case notices “{name}”"
