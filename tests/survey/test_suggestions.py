"""Suggestions on walls painted through a known camera: what is there, and nothing that is not."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from visualiser import Photo, WallPlane
from visualiser.geometry import Polygon, Rect
from visualiser.rectification.camera.projection import Lens, rotation_from_vector
from visualiser.rectification.plane import FittedLine
from visualiser.survey.suggestions import Suggestion, accepted, suggest_zones
from visualiser.survey.survey import Furniture, Survey, Zone

WIDTH, HEIGHT = 1600, 1200
WALL, LIGHT, WOOD = (70, 84, 104), (224, 224, 220), (150, 96, 50)
REFERENCE = Rect.from_centre(0.0, 1500.0, 210.0, 297.0)


def wall(yaw_deg=12.0):
    flip = np.diag([1.0, -1.0, -1.0])
    rotation = rotation_from_vector(np.array([0.02, np.radians(yaw_deg), 0.01])) @ flip
    lens = Lens(1250.0, 799.5, 599.5, 0.01)
    plane = WallPlane(
        lens,
        rotation,
        rotation @ np.array([100.0, 250.0, 0.0]) + [0, 0, 3000.0],
        np.zeros((4, 2)),
        0.0,
        np.eye(11) * 1e-8,
    )
    seen = plane.to_photo(REFERENCE.corners() - [0.0, 1500.0])
    plane = replace(plane, reference_corners_px=seen)
    outline = Polygon.from_rect(Rect(-1700.0, 0.0, 3400.0, 2400.0))
    return Survey(outline=outline, plane=plane, datum_mm=(0.0, -1500.0), floor_sigma_mm=3.0)


def photo_of(survey, things, wall_rgb=WALL, grain=2.0):
    """Paint rectangles over a plain wall above a floor; smooth, add grain."""
    pixels = np.full((HEIGHT, WIDTH, 3), wall_rgb, np.uint8)
    floor = Rect(-4000.0, -1500.0, 8000.0, 1500.0)
    for rect, rgb in [(floor, (110, 96, 84)), (REFERENCE, (235, 238, 245)), *things]:
        corners = np.round(survey.to_photo(rect.corners()) * 256).astype(np.int32)
        cv2.fillConvexPoly(pixels, corners, rgb, cv2.LINE_AA, 8)
    light = cv2.GaussianBlur(pixels.astype(np.float32), (0, 0), 0.8)
    light += np.random.default_rng(4).normal(0, grain, light.shape)
    return Photo(np.clip(np.round(light), 0, 255).astype(np.uint8))


def plate(x, y, width=86.0, height=86.0):
    return Rect.from_centre(x, y, width, height)


def close(rect, truth, slack_mm):
    return np.abs(rect.corners() - truth.corners()).max() < slack_mm


@pytest.mark.parametrize("yaw_deg", [0.0, 20.0])
@pytest.mark.parametrize("size", [(86.0, 86.0), (146.0, 86.0), (70.0, 114.0), (80.0, 151.0)])
def test_a_plate_at_switch_height_and_one_at_socket_height(size, yaw_deg):
    survey = wall(yaw_deg)
    switch, socket = plate(700, 1150, *size), plate(-800, 350, *size)
    found = suggest_zones(photo_of(survey, [(switch, LIGHT), (socket, LIGHT)]), survey)
    by_kind = {s.what.kind: s.what.polygon.bounds for s in found}
    assert set(by_kind) == {"switch", "socket"}
    assert close(by_kind["switch"], switch, 9)
    assert close(by_kind["socket"], socket, 9)
    assert all(0.6 <= s.confidence < 1 and s.why for s in found)


@pytest.mark.parametrize(("middle_mm", "kind"), [(640.0, "socket"), (1640.0, "thermostat")])
def test_a_floor_known_less_well_leaves_more_heights_to_a_plate(middle_mm, kind):
    """Its cable is where it is: a plate must not be passed over because the floor is read wrong."""
    known = wall()
    photo = photo_of(known, [(plate(900, middle_mm), LIGHT)])
    assert suggest_zones(photo, known) == ()
    (one,) = suggest_zones(photo, replace(known, floor_sigma_mm=30.0))
    assert one.what.kind == kind


@pytest.mark.parametrize(
    "rect",
    [
        plate(700, 1650),  # too high for a switch: a bell or a vent
        plate(700, 1150, 120, 180),
        plate(700, 1150, 40, 40),
        plate(700, 1150, 300, 220),
        plate(30, 1400),  # on the reference
    ],
)
def test_other_little_rectangles_are_no_plates(rect):
    survey = wall()
    assert suggest_zones(photo_of(survey, [(rect, LIGHT)]), survey) == ()


def test_a_bare_wall_and_white_on_white_give_nothing():
    survey = wall()
    assert suggest_zones(photo_of(survey, []), survey) == ()
    white = (222, 222, 219)
    things = [(plate(700, 1150), LIGHT)]
    assert suggest_zones(photo_of(survey, things, wall_rgb=white), survey) == ()


def test_a_patterned_wall_gives_no_plates():
    survey = wall()
    rng = np.random.default_rng(2)
    spots = [
        (Rect.from_centre(x, y, *rng.uniform(60, 160, 2)), LIGHT if rng.random() < 0.5 else WOOD)
        for x in np.arange(-1500, 1500, 170.0)
        for y in np.arange(200, 2300, 170.0)
    ]
    found = suggest_zones(photo_of(survey, spots), survey)
    assert not [s for s in found if isinstance(s.what, Zone)]


def test_a_plate_at_eye_height_is_a_thermostat():
    """About 1.5 m above the floor: common practice, no source."""
    survey = wall()
    (one,) = suggest_zones(photo_of(survey, [(plate(900, 1500), LIGHT)]), survey)
    assert one.what.kind == "thermostat"


CASING = (150, 150, 146)


def paned(rect, rgb=(252, 253, 255)):
    """Glass of a window in four panes behind glazing bars of 40 mm, in a casing of 70 mm."""
    x, y = rect.centre_mm
    bars = [
        Rect.from_centre(x, y, 40.0, rect.height_mm),
        Rect.from_centre(x, y, rect.width_mm, 40.0),
    ]
    return [(rect.grown(70.0), CASING), (rect, rgb), *[(bar, LIGHT) for bar in bars]]


DIM_SHEET = (178, 180, 186)


def by_day(survey, things):
    """A photo exposed for the window: the sheet looks grey, and sheet and wall are dim."""
    return photo_of(survey, [(REFERENCE, DIM_SHEET), *things])


@pytest.mark.parametrize("yaw_deg", [0.0, 20.0])
def test_a_window_is_brighter_than_paper(yaw_deg):
    """White paper sends back nine tenths of the light on it: more light comes through."""
    survey = wall(yaw_deg)
    glass = Rect.from_centre(-950.0, 1400.0, 800.0, 1100.0)
    (one,) = suggest_zones(by_day(survey, paned(glass)), survey)
    assert one.what.kind == "window"
    assert close(one.bounds, glass.grown(70.0), 10)
    assert "2." in one.why


def test_a_white_picture_and_a_lamp_are_no_windows():
    survey = wall()
    picture = Rect.from_centre(-950.0, 1400.0, 800.0, 1100.0)
    assert suggest_zones(by_day(survey, [(picture, (184, 186, 190))]), survey) == ()
    lamp = Rect.from_centre(-950.0, 1400.0, 220.0, 260.0)
    assert suggest_zones(by_day(survey, [(lamp, (255, 255, 255))]), survey) == ()


def test_no_window_where_the_sheet_is_overexposed_or_a_card():
    survey = wall()
    glass = Rect.from_centre(-950.0, 1400.0, 800.0, 1100.0)
    burnt = photo_of(survey, [(REFERENCE, (236, 236, 236)), *paned(glass, (255, 255, 255))])
    assert suggest_zones(burnt, survey) == ()
    card = Rect.from_centre(0.0, 1500.0, 85.6, 53.98)
    seen = survey.plane.to_photo(card.corners() - [0.0, 1500.0])
    small = replace(survey, plane=replace(survey.plane, reference_corners_px=seen))
    assert suggest_zones(by_day(survey, paned(glass)), small) == ()


def ribbed(rect, pitch_mm=40.0, body=(196, 196, 194), rib=(216, 216, 214)):
    """A radiator's front: lighter ribs on a darker panel, which ends 25 mm beyond them."""
    inner = rect.grown(-25.0)
    count = int(inner.width_mm / pitch_mm)
    first = inner.left_mm + (inner.width_mm - (count - 1) * pitch_mm) / 2
    y = inner.centre_mm[1]
    ribs = [
        Rect.from_centre(first + k * pitch_mm, y, 0.55 * pitch_mm, inner.height_mm)
        for k in range(count)
    ]
    return [(rect, body), *[(one, rib) for one in ribs]]


@pytest.mark.parametrize("yaw_deg", [0.0, 20.0])
@pytest.mark.parametrize(
    ("width_mm", "height_mm", "pitch_mm"), [(1200.0, 600.0, 33.3), (600.0, 400.0, 50.0)]
)
def test_a_radiator_shows_its_ribs(yaw_deg, width_mm, height_mm, pitch_mm):
    """Pressed steel panels have 33.3 or 50 mm from rib to rib (common practice, no source)."""
    survey = wall(yaw_deg)
    there = Rect(-1200.0, 130.0, width_mm, height_mm)
    (one,) = suggest_zones(photo_of(survey, ribbed(there, pitch_mm)), survey)
    assert one.what.kind == "radiator"
    assert close(one.bounds, there, 14)
    told = float(one.why.split("every ")[1].split(" mm")[0])
    assert abs(told - pitch_mm) <= 1.5


def test_no_radiator_in_stripes_of_paper_in_shelves_or_up_the_wall():
    survey = wall()
    stripes = [(Rect(x, 0.0, 25.0, 2400.0), LIGHT) for x in np.arange(-1700.0, 1700.0, 50.0)]
    assert not radiators(suggest_zones(photo_of(survey, stripes), survey))
    boards = [(Rect(-1200.0, y, 900.0, 20.0), LIGHT) for y in np.arange(130.0, 730.0, 40.0)]
    assert not radiators(suggest_zones(photo_of(survey, boards), survey))
    high = Rect(-1200.0, 1300.0, 1000.0, 600.0)
    assert not radiators(suggest_zones(photo_of(survey, ribbed(high)), survey))
    few = [(Rect(x, 130.0, 20.0, 600.0), LIGHT) for x in (-900.0, -860.0, -820.0)]
    assert not radiators(suggest_zones(photo_of(survey, few), survey))


def radiators(found):
    return [s for s in found if getattr(s.what, "kind", "") == "radiator"]


def test_a_sideboard_is_seen_left_right_and_top():
    survey = wall()
    sideboard = Rect(-900.0, 0.0, 1500.0, 720.0)
    found = suggest_zones(photo_of(survey, [(sideboard, WOOD)]), survey)
    assert [type(s.what) for s in found] == [Furniture]
    assert close(found[0].what.rect, sideboard, 40)


def test_a_cushion_in_the_colour_of_the_wall_does_not_end_a_sofa():
    survey = wall()
    sofa = Rect(-1000.0, 0.0, 2000.0, 780.0)
    cushion = Rect(200.0, 0.0, 400.0, 800.0)
    found = suggest_zones(photo_of(survey, [(sofa, WOOD), (cushion, WALL)]), survey)
    assert [type(s.what) for s in found] == [Furniture]
    assert close(found[0].what.rect, sofa, 60)


def door(survey, head_mm=2050.0, width_mm=900.0):
    x = 600.0
    runs = [
        ("plumb", [[x, 100], [x, head_mm]]),
        ("plumb", [[x + width_mm, 60], [x + width_mm, head_mm]]),
        ("level", [[x, head_mm], [x + width_mm, head_mm]]),
    ]
    lines = tuple(
        FittedLine(f"line-{i}", kind, survey.to_photo(np.array(ends, float)))
        for i, (kind, ends) in enumerate(runs)
    )
    return replace(survey, plane=replace(survey.plane, lines=lines))


def test_a_door_needs_two_jambs_and_a_head():
    survey = wall()
    photo = photo_of(survey, [])
    found = suggest_zones(photo, door(survey))
    assert [s.what.kind for s in found] == ["door"]
    assert close(found[0].what.polygon.bounds, Rect(600.0, 0.0, 900.0, 2050.0), 5)
    whole = door(survey)
    for left_out in range(3):
        lines = tuple(line for i, line in enumerate(whole.plane.lines) if i != left_out)
        partial = replace(whole, plane=replace(whole.plane, lines=lines))
        assert suggest_zones(photo, partial) == ()
    assert suggest_zones(photo, door(survey, width_mm=1400.0)) == ()
    assert suggest_zones(photo, door(survey, head_mm=1500.0)) == ()


def test_without_a_floor_nothing_is_suggested():
    survey = wall()
    photo = photo_of(survey, [(plate(700, 1150), LIGHT)])
    assert suggest_zones(photo, replace(survey, floor_known=False)) == ()
    assert suggest_zones(photo, Survey.from_size(3000, 2400)) == ()


def test_what_is_there_already_is_not_suggested_again():
    survey = wall()
    photo = photo_of(survey, [(plate(700, 1150), LIGHT)])
    taken = accepted(survey, suggest_zones(photo, survey))
    assert [z.kind for z in taken.zones] == ["switch"]
    assert survey.zones == ()
    assert suggest_zones(photo, taken) == ()


def test_accepting_keeps_zones_and_furniture_apart():
    survey = wall()
    chosen = (
        Suggestion(Zone("switch", Polygon.from_rect(plate(700, 1150))), 0.8, ""),
        Suggestion(Furniture("other", Rect(0, 0, 1500, 700)), 0.8, ""),
    )
    taken = accepted(survey, chosen)
    assert (len(taken.zones), len(taken.furniture)) == (1, 1)
