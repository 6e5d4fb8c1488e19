"""A second judge of the hard rules, and random walls and sets that put them to the test.

The judge knows the rules by their text alone (`RULES` of the guidelines) and works on areas: a
rectangle lies within a polygon where the polygon fills it, and keeps clear of one that fills none
of it. It shares no geometry with the program.
"""

import numpy as np

import visualiser as vis
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

NEAR = 0.05
"""Lengths by which a rule may be missed, mm: what a tape cannot see."""
IN = 25.4
METRIC = [(210, 297), (250, 250), (300, 300), (300, 400), (400, 500), (400, 600), (420, 594),
          (500, 700), (600, 800)]  # fmt: skip
INCH = [(w * IN, h * IN) for w, h in
        ((5, 7), (8, 10), (10, 10), (11, 14), (12, 12), (12, 16), (16, 20), (18, 24))]  # fmt: skip
LEDGES = ("ledge", "shelf", "mantelpiece")


def area_within(points, box):
    """Area of a polygon within a box (Sutherland and Hodgman, CACM 17(1):32, 1974)."""
    left, bottom, right, top = box
    points = [tuple(map(float, p)) for p in points]
    for axis, limit, sign in ((0, left, 1), (0, right, -1), (1, bottom, 1), (1, top, -1)):
        kept = []
        for p, q in zip(points, points[1:] + points[:1], strict=True):
            inside = [sign * (end[axis] - limit) >= 0 for end in (p, q)]
            if inside[0]:
                kept.append(p)
            if inside[0] != inside[1]:
                t = (limit - p[axis]) / (q[axis] - p[axis])
                kept.append((p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])))
        points = kept
    return abs(sum(a[0] * b[1] - b[0] * a[1]
                   for a, b in zip(points, points[1:] + points[:1], strict=True))) / 2  # fmt: skip


def grown(box, sides, up, down):
    return box[0] - sides, box[1] - down, box[2] + sides, box[3] + up


def size(box):
    return max(box[2] - box[0], 0.0) * max(box[3] - box[1], 0.0)


def within(points, box):
    """Whether a polygon fills a box, but for what a tape cannot see at its rim."""
    inner = grown(box, -NEAR, -NEAR, -NEAR)
    return area_within(points, inner) >= size(inner) * (1 - 1e-9) - 1e-6


def enters(points, box):
    """Whether a polygon reaches into a box by more than a tape can see."""
    return area_within(points, grown(box, -NEAR, -NEAR, -NEAR)) > 1e-6


def corners(box):
    left, bottom, right, top = box
    return [(left, bottom), (right, bottom), (right, top), (left, top)]


def box_of(rect):
    return rect.left_mm, rect.bottom_mm, rect.right_mm, rect.top_mm


def stair_below(points):
    """Whether the wall's lower side climbs like a stair, 15 to 60 degrees."""
    for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True):
        steep = np.degrees(np.arctan2(abs(y2 - y1), abs(x2 - x1)))
        if 15 <= steep <= 60 and not covers(points, (x1 + x2) / 2, (y1 + y2) / 2 - 1):
            return True
    return False


def covers(points, x, y):
    """Whether a point lies inside a polygon (even and odd crossings of a ray)."""
    inside = False
    for (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], strict=True):
        if (y1 > y) != (y2 > y) and x < x1 + (y - y1) * (x2 - x1) / (y2 - y1):
            inside = not inside
    return inside


def ledges_of(survey, rules):
    wall = survey.outline.points_mm
    out = [box_of(f.rect) for f in survey.furniture if f.name in LEDGES]
    if rules.ledge_height_mm is not None:
        y, clear = rules.ledge_height_mm, rules.edge_clearance_mm
        xs = [x for x, _ in wall]
        out.append((min(xs) + clear, y, max(xs) - clear, y))
    return out


def broken(arrangement, survey, rules, kept=()):
    """Give each hard rule that an arrangement breaks, with the pieces; what stays is no fault."""
    boxes = {i: box_of(rect) for i, rect in arrangement.rects().items()}
    wall, found = list(survey.outline.points_mm), []
    tops = ledges_of(survey, rules)
    stand = {i for i, b in boxes.items()
             if any(abs(b[1] - top) <= 2 and b[0] >= left - 2 and b[2] <= right + 2
                    for left, _, right, top in tops)}  # fmt: skip
    for i, b in boxes.items():
        own = set() if i in kept else {i}
        edge = rules.edge_clearance_mm
        if not within(wall, b):
            found.append(("outside", own))
        elif not within(wall, grown(b, edge, edge, 0)):
            found.append(("edge-clearance", own))
        for zone in survey.zones:
            clear = rules.zone_clearance_mm
            if enters(zone.polygon.points_mm, grown(b, clear, clear, clear)):
                found.append(("zone", own))
        for item in survey.furniture:
            other = box_of(item.rect)
            if item.name == "picture rail":
                continue
            if enters(corners(other), b):
                found.append(("furniture", own))
            over = min(b[2], other[2]) - max(b[0], other[0]) > NEAR and b[1] >= other[3] - NEAR
            least = rules.furniture_clearance_min_mm - NEAR
            if over and item.name not in LEDGES and i not in stand and b[1] - other[3] < least:
                found.append(("furniture-clearance", own))
        for left, _, right, top in tops:
            across = b[0] < right - NEAR and b[2] > left + NEAR
            if i not in stand and across and b[1] < top - 2 and b[3] > top + 2:
                found.append(("across a ledge", own))
        if i not in stand and not stair_below(wall) and b[1] < rules.lowest_edge - NEAR:
            found.append(("lowest-edge", own))
        for j, other in boxes.items():
            apart = np.array([max(b[0] - other[2], other[0] - b[2]),
                              max(b[1] - other[3], other[1] - b[3])])  # fmt: skip
            gap = np.hypot(*apart) if (apart > 0).all() else apart.max()
            both = {i, j} - set(kept)
            if i < j and not {i, j} <= stand and gap < rules.gap_min_mm - NEAR:
                found.append(("overlap" if gap < -NEAR else "gap-min", both))
    hung = np.array([b for i, b in boxes.items() if i not in stand]).reshape(-1, 4)
    if len(hung) and not stair_below(wall):
        low, high = hung[:, :2].min(axis=0), hung[:, 2:].max(axis=0)
        x, y = (low + high) / 2
        door = any(z.kind == "door" and _over(z, x, low[1]) for z in survey.zones)
        # On a wall above 2.7 m it rises with the wall, by 15 % of what that has more.
        spare = max(y for _, y in wall) - 2700 * rules.centre_height_mm / 1524
        most = rules.highest_centre + 0.15 * max(spare, 0)
        if not door and y > most + NEAR:
            found.append(("highest-centre", set(boxes) - set(kept)))
    return [(code, sorted(ids)) for code, ids in found if ids]


def _over(zone, x, bottom):
    xs, ys = zip(*zone.polygon.points_mm, strict=True)
    return min(xs) < x < max(xs) and bottom >= max(ys) - NEAR


def random_pieces(rng, fewest, most):
    """Few pieces more often than many; equal, in pairs or mixed; metric or inch."""
    count = int(np.clip(round(np.exp(rng.uniform(np.log(fewest), np.log(most)))), fewest, most))
    sizes = (METRIC, INCH)[int(rng.integers(2))]
    way = rng.random()
    sides = []
    while len(sides) < count:
        w, h = sizes[int(rng.integers(len(sizes)))]
        times = count if way < 0.2 else 2 if way < 0.4 else 1
        sides += [(h, w) if rng.random() < 0.35 else (w, h)] * times
    return [vis.Piece(f"P{i + 1}", float(w), float(h)) for i, (w, h) in enumerate(sides[:count])]


def random_outline(rng, width, height):
    """A rectangle, or one under a roof, over a stair, with a notch, or leaning a little."""
    way, share = rng.random(), rng.uniform(0.3, 0.7)
    points = [(0, 0), (width, 0), (width, height), (0, height)]
    if way < 0.12:
        points = [(0, 0), (width, 0), (width, share * height), (share * width, height), (0, height)]
    elif way < 0.24:
        rise = width * rng.uniform(0.35, 0.9) * 0.8
        points = [(0, 0), (0.2 * width, 0), (width, rise), (width, rise + height),
                  (0, rise + height)]  # fmt: skip
    elif way < 0.3:
        points = [(0, 0), (width, 0), (width, share * height), (0.8 * width, share * height),
                  (0.8 * width, height), (0, height)]  # fmt: skip
    elif way < 0.36:
        lean = rng.uniform(-40, 40, 4)
        points = [(x + d if x else x, y - abs(d) if y else y)
                  for (x, y), d in zip(points, lean, strict=True)]  # fmt: skip
    if rng.random() < 0.5:
        points = [(width - x, y) for x, y in reversed(points)]
    return Polygon(tuple((float(x), float(y)) for x, y in points))


ZONES = {
    "switch": (80, 80), "socket": (80, 80), "thermostat": (90, 120), "radiator": (1200, 600),
    "window": (1100, 1200), "door": (860, 2050), "pipe": (40, 2200), "beam": (1800, 180),
    "other": (700, 900),
}  # fmt: skip
FURNITURE = {
    ("sofa", "sofa"): (2000, 820), ("bed", "bed"): (1600, 1050), ("cot", "cot"): (1200, 900),
    ("sideboard", "sideboard"): (1700, 780), ("table", "table"): (1600, 750),
    ("desk", "desk"): (1400, 740), ("chair", "chair"): (450, 900),
    ("other", "bookcase"): (900, 1900), ("other", "fireplace"): (1400, 1150),
}  # fmt: skip
ON_WALL = {
    ("other", "TV"): (1200, 700, 850), ("other", "mirror"): (600, 800, 1150),
    ("other", "ledge"): (1800, 30, 1150), ("other", "shelf"): (900, 40, 1400),
    ("other", "picture rail"): (3000, 40, 2200),
}  # fmt: skip


def random_wall(rng, count):
    """A wall with room for so many pieces, most of the time, and what a room has."""
    wide = max(2400.0, 260.0 * np.sqrt(count) * 4)
    width, height = float(rng.uniform(0.6, 1.5) * wide), float(rng.uniform(2150, 3400))
    outline = random_outline(rng, width, height)
    zones, furniture = [], []
    for _ in range(int(rng.choice([0, 0, 1, 1, 2, 3]))):
        kind = str(rng.choice(list(ZONES)))
        w, h = np.array(ZONES[kind]) * rng.uniform(0.7, 1.3, 2)
        x = rng.uniform(0, max(width - w, 1))
        y = 0.0 if kind in ("door", "pipe") else rng.uniform(100, max(height - h, 200))
        points = np.array(corners((x, y, x + w, y + h)))
        if rng.random() < 0.3:
            points = points + rng.uniform(-15, 15, (4, 2))
        zones.append(Zone(kind, Polygon(tuple(map(tuple, points.tolist())))))
    for _ in range(int(rng.choice([0, 0, 1, 1, 2]))):
        kind, name = list(FURNITURE)[int(rng.integers(len(FURNITURE)))]
        w, h = np.array(FURNITURE[kind, name]) * rng.uniform(0.8, 1.2, 2)
        furniture.append(Furniture(kind, Rect(float(rng.uniform(0, max(width - w, 1))), 0.0,
                                              float(w), float(h)), name))  # fmt: skip
    if rng.random() < 0.25:
        kind, name = list(ON_WALL)[int(rng.integers(len(ON_WALL)))]
        w, h, y = np.array(ON_WALL[kind, name]) * (rng.uniform(0.8, 1.2), 1, rng.uniform(0.9, 1.1))
        furniture.append(Furniture(kind, Rect(float(rng.uniform(0, max(width - w, 1))), float(y),
                                              float(w), float(h)), name))  # fmt: skip
    return Survey(outline, zones=tuple(zones), furniture=tuple(furniture))


def random_rules(rng):
    """The usual rules, or others that people type."""
    values = {}
    if rng.random() < 0.3:
        least = float(rng.choice([0, 20, 38.1, 60]))
        gap = least + float(rng.choice([0, 10, 20]))
        values |= {"gap_min_mm": least, "gap_mm": gap, "gap_max_mm": gap + 30}
    if rng.random() < 0.2:
        values["centre_height_mm"] = float(rng.choice([1400, 1450, 1600]))
    if rng.random() < 0.2:
        values["edge_clearance_mm"] = float(rng.choice([0, 50, 150]))
    if rng.random() < 0.2:
        values["zone_clearance_mm"] = float(rng.choice([0, 20, 120]))
    way = rng.random()
    if way < 0.04:
        values["ledge_height_mm"] = float(rng.uniform(900, 1400))
    elif way < 0.08:
        values["picture_rail_mm"] = float(rng.uniform(2000, 2300))
    elif way < 0.12:
        values["stair_slope_deg"] = float(rng.choice([-35, -30, 30, 38]))
    return vis.Guidelines(**values)


def random_task(seed, fewest=1, most=40):
    """Pieces, wall, rules and what stays where it hangs."""
    rng = np.random.default_rng([seed, 4021])
    pieces = random_pieces(rng, fewest, most)
    survey = random_wall(rng, len(pieces))
    kept = {}
    if len(pieces) > 2 and rng.random() < 0.12:
        middle = survey.outline.bounds.centre_mm[0]
        kept = {"P2": (middle + float(rng.uniform(-600, 600)), float(rng.uniform(1300, 1700)))}
    return pieces, survey, random_rules(rng), kept


def judged(seed, **limits):
    """Propose as a user would; give how many were proposed, none where none fits, and faults."""
    pieces, survey, rules, kept = random_task(seed, **limits)
    try:
        found = vis.propose(pieces, survey, rules, kept=kept or None, seed=seed)
    except vis.ArrangementError:
        return 0, []
    faults = []
    for item in found:
        faults += [(item.family, *fault) for fault in broken(item, survey, rules, kept)]
        there = {p.piece_id: (p.x_mm, p.y_mm) for p in item.placements}
        if sorted(there) != sorted(p.id for p in pieces):
            faults.append((item.family, "not all hung", []))
        if any(max(abs(a - b) for a, b in zip(there[i], at, strict=True)) > NEAR
               for i, at in kept.items()):  # fmt: skip
            faults.append((item.family, "moved what stays", sorted(kept)))
    return len(found), faults
