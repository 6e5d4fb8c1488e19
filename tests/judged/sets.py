"""Sets of pieces and walls for which proposals are drawn and judged by eye.

Walls and sizes are invented: ordinary rooms, with every kind of obstacle, in metric and in inch
sizes, from one piece to forty. A set is plain data, so that it can be kept beside its verdicts.
"""

from dataclasses import dataclass, field

import numpy as np

import visualiser as vis
from visualiser.geometry import Polygon, Rect
from visualiser.survey.survey import Furniture, Survey, Zone

IN = 25.4
METRIC = [(300, 400), (400, 500), (500, 700), (300, 300), (210, 297), (400, 600), (250, 250),
          (600, 800), (420, 594)]  # fmt: skip
INCH = [(w * IN, h * IN) for w, h in
        ((8, 10), (11, 14), (12, 16), (16, 20), (18, 24), (12, 12), (10, 10), (20, 24),
         (5, 7))]  # fmt: skip


@dataclass
class Set:
    """Pieces, wall and rules of one judged set."""

    name: str
    sides: list
    width: float = 4000.0
    height: float = 2500.0
    outline: list | None = None
    zones: list = field(default_factory=list)  # (kind, name, x, y, w, h)
    furniture: list = field(default_factory=list)  # (kind, name, x, y, w, h)
    rules: dict = field(default_factory=dict)
    kept: dict = field(default_factory=dict)

    def pieces(self):
        return [vis.Piece(f"P{i + 1}", float(w), float(h)) for i, (w, h) in enumerate(self.sides)]

    def survey(self):
        outline = self.outline or [(0, 0), (self.width, 0), (self.width, self.height),
                                   (0, self.height)]  # fmt: skip
        zones = tuple(Zone(kind, Polygon.from_rect(Rect(*box)), name)
                      for kind, name, *box in self.zones)  # fmt: skip
        furniture = tuple(Furniture(kind, Rect(*box), name) for kind, name, *box in self.furniture)
        return Survey(Polygon(tuple(map(tuple, outline))), zones=zones, furniture=furniture)

    def guidelines(self):
        return vis.Guidelines(**self.rules)


def equal(size, count):
    return [size] * count


def pairs(rng, sizes, count):
    out = []
    for _ in range(count // 2):
        out += [sizes[rng.integers(len(sizes))]] * 2
    return out


def mixed(rng, sizes, count):
    """Mixed sizes, most of them portrait, as a collection is; some sizes come twice."""
    out = []
    while len(out) < count:
        w, h = sizes[rng.integers(len(sizes))]
        side = (h, w) if rng.random() < 0.35 else (w, h)
        out += [side] * (2 if rng.random() < 0.3 else 1)
    return out[:count]


def pick(rng, sizes, least=250, most=2000):
    some = [s for s in sizes if least <= min(s) and max(s) <= most]
    return some[rng.integers(len(some))]


def sofa(x=1000, w=2100, h=820):
    return ("sofa", "sofa", x, 0, w, h)


def all_sets(seed=28):
    """Give the judged sets; the same seed gives the same ones."""
    rng = np.random.default_rng(seed)
    sets = []

    def add(name, sides, **kwargs):
        sets.append(Set(f"{len(sets) + 1:03d} {name}", [tuple(map(float, s)) for s in sides],
                        **kwargs))  # fmt: skip

    for n, sizes in zip((2, 3, 4, 5, 6, 8, 9, 12), (METRIC, INCH) * 4, strict=True):
        add(f"bare wall, {n} equal", equal(pick(rng, sizes, 200, 620), n),
            width=float(rng.integers(3000, 5200)))  # fmt: skip
    for n, sizes in zip((1, 4, 5, 6, 7, 8, 9, 10, 12, 14), (METRIC, INCH) * 5, strict=True):
        add(f"bare wall, {n} mixed", mixed(rng, sizes, n), width=float(rng.integers(3200, 5400)))
    for n, sizes in zip((16, 20, 30, 40), (METRIC, INCH) * 2, strict=True):
        add(f"large wall, {n} mixed", mixed(rng, sizes[:7], n), width=6200.0, height=3000.0)
    for k, n in enumerate((1, 2, 3, 3, 4, 5, 6, 7, 9)):
        sizes = (INCH, METRIC)[k % 2]
        sides = equal(pick(rng, sizes, 270, 720), n) if k % 3 == 0 else mixed(rng, sizes, n)
        w = float(rng.integers(1700, 2500))
        add(f"sofa, {n}", sides, furniture=[sofa((4200 - w) / 2, w)], width=4200.0)
    for n in (2, 3, 5):
        add(f"sofa at the left, {n}", mixed(rng, METRIC, n), width=5200.0,
            furniture=[sofa(400, 2000)])  # fmt: skip
    for n, sizes in ((1, METRIC), (2, INCH), (3, METRIC), (4, INCH), (6, METRIC)):
        sides = pairs(rng, sizes[:6], n) if n % 2 == 0 else mixed(rng, sizes, n)
        add(f"bed, {n}", sides, width=3800.0, furniture=[("bed", "bed", 1100, 0, 1600, 1050)])
    for n, sizes in ((2, METRIC), (4, INCH), (6, METRIC), (8, INCH), (5, METRIC), (3, INCH)):
        sides = pairs(rng, sizes[:6], n) if n % 2 == 0 else mixed(rng, sizes, n)
        add(f"television over a media unit, {n}", sides, width=4400.0,
            furniture=[("sideboard", "media unit", 1300, 0, 1800, 500)],
            zones=[("other", "TV", 1550, 800, 1300, 750)])  # fmt: skip
    for n, sizes in ((2, INCH), (4, METRIC), (6, INCH), (5, METRIC), (8, METRIC)):
        sides = pairs(rng, sizes[:6], n) if n % 2 == 0 else mixed(rng, sizes, n)
        add(f"mirror, {n}", sides, width=4000.0, zones=[("other", "mirror", 1650, 1100, 700, 900)])
    add("mirror over a console, 2", equal((300, 400), 2), width=3400.0,
        furniture=[("table", "console", 1100, 0, 1200, 800)],
        zones=[("other", "mirror", 1350, 1050, 700, 900)])  # fmt: skip
    for n, sizes in ((2, METRIC), (4, INCH), (6, METRIC), (3, INCH), (7, METRIC)):
        sides = pairs(rng, sizes[:6], n) if n % 2 == 0 else mixed(rng, sizes, n)
        add(
            f"window, {n}", sides, width=4600.0, zones=[("window", "window", 1700, 900, 1200, 1300)]
        )
    for n in (3, 5):
        add(f"window at the right, {n}", mixed(rng, METRIC, n), width=4600.0,
            zones=[("window", "window", 3000, 900, 1200, 1300)])  # fmt: skip
    for n, x in ((2, 1600), (4, 1600), (3, 300), (5, 3100)):
        sides = pairs(rng, METRIC[:6], n) if n % 2 == 0 else mixed(rng, INCH, n)
        add(f"door, {n}", sides, width=4200.0, zones=[("door", "door", x, 0, 860, 2050)])
    for n, size in ((1, (700, 250)), (2, (300, 250)), (3, (250, 250))):
        add(f"high wall over a door, {n}", equal(size, n), width=2600.0, height=3000.0,
            zones=[("door", "door", 850, 0, 900, 2050)])  # fmt: skip
    for n, sizes in ((2, METRIC), (3, INCH), (4, METRIC), (6, INCH)):
        sides = pairs(rng, sizes[:6], n) if n % 2 == 0 else mixed(rng, sizes, n)
        add(f"chimney breast, {n}", sides, width=4400.0,
            zones=[("other", "chimney breast", 1450, 0, 1500, 2500)])  # fmt: skip
    for n in (1, 2, 3, 5):
        add(f"fireplace, {n}", mixed(rng, METRIC, n), width=4000.0,
            furniture=[("other", "fireplace", 1300, 0, 1400, 1150)])  # fmt: skip
    for n, turn in ((4, 1), (5, -1), (6, 1), (7, -1), (9, 1), (3, 1)):
        low, rise = 300.0, 2300.0
        line = [(0, 0), (600, low), (4200, low + rise), (4200, 5000), (0, 5000)]
        if turn < 0:
            line = [(4200 - x, y) for x, y in reversed(line)]
        add(f"stair, {n}", mixed(rng, (METRIC, INCH)[n % 2][:7], n), outline=line, width=4200.0,
            height=5000.0)  # fmt: skip
    for n, side in ((2, 1), (3, -1), (4, 1), (5, 1), (6, -1)):
        line = [(0, 0), (4200, 0), (4200, 1300), (2400, 2500), (0, 2500)]
        if side < 0:
            line = [(4200 - x, y) for x, y in reversed(line)]
        add(f"under a roof, {n}", mixed(rng, METRIC[:6], n), outline=line, width=4200.0)
    for n in (2, 3, 4, 5, 6, 8):
        add(f"picture ledge, {n}", mixed(rng, (METRIC, INCH)[n % 2][:7], n), width=4000.0,
            furniture=[("other", "picture ledge", 900, 1150, 2200, 30)])  # fmt: skip
    add("two ledges, 7", mixed(rng, METRIC[:7], 7), width=3600.0, height=2700.0,
        furniture=[("other", "picture ledge", 800, 900, 1900, 30),
                   ("other", "upper picture ledge", 800, 1700, 1900, 30)])  # fmt: skip
    add("typed ledge, 5", mixed(rng, INCH[:7], 5), rules={"ledge_height_mm": 1200.0})
    for n, sizes in ((2, METRIC), (3, INCH), (5, METRIC), (6, INCH)):
        add(f"picture rail, {n}", mixed(rng, sizes[:7], n), height=2900.0,
            rules={"picture_rail_mm": 2350.0})  # fmt: skip
    for n in (3, 6, 8):
        add(f"switch and thermostat, {n}", mixed(rng, METRIC, n), width=3400.0,
            zones=[("switch", "switch", 300, 1050, 80, 80),
                   ("thermostat", "thermostat", 1650, 1450, 90, 90)])  # fmt: skip
    add("thermostat in the middle, 8 equal", equal((300, 400), 8),
        zones=[("thermostat", "thermostat", 1955, 1480, 90, 90)])  # fmt: skip
    for n in (2, 4, 5):
        add(f"radiator, {n}", mixed(rng, INCH, n), width=3200.0,
            zones=[("radiator", "radiator", 900, 120, 1400, 600)])  # fmt: skip
    for n, h in ((6, 3600), (9, 3600), (12, 4000), (4, 3400), (3, 4000)):
        sides = equal((400, 500), n) if n == 9 else mixed(rng, METRIC, n)
        add(f"tall wall, {n}", sides, height=float(h), width=4600.0)
    for n, w in ((2, 1000), (3, 1200), (5, 1400), (1, 900), (6, 1700)):
        add(f"narrow wall, {n}", mixed(rng, METRIC[:6], n), width=float(w))
    for n in (3, 5, 7):
        add(f"low ceiling, {n}", mixed(rng, INCH[:7], n), height=2150.0)
    for n in (1, 3, 4):
        add(f"desk, {n}", mixed(rng, METRIC, n), width=3000.0,
            furniture=[("desk", "desk", 700, 0, 1500, 740)])  # fmt: skip
    for n in (2, 4, 6):
        add(f"sideboard, {n}", mixed(rng, INCH, n), width=4200.0,
            furniture=[("sideboard", "sideboard", 1200, 0, 1800, 780)])  # fmt: skip
    for n in (2, 3, 5):
        add(f"dining table and chairs, {n}", mixed(rng, METRIC, n), width=4200.0,
            furniture=[("table", "table", 1100, 0, 2000, 750), ("chair", "chair", 700, 0, 450, 900),
                       ("chair", "chair", 3050, 0, 450, 900)])  # fmt: skip
    for n in (2, 4):
        add(f"bookcase, {n}", equal(METRIC[n % 3], n), width=3800.0,
            furniture=[("other", "bookcase", 1400, 0, 1000, 2000)])  # fmt: skip
    for n, size in ((2, (400, 500)), (4, (300, 400)), (6, (300, 300))):
        add(f"corner of two walls, {n}", equal(size, n), width=4000.0,
            zones=[("other", "corner", 1990, 0, 20, 2500)])  # fmt: skip
    add("one large among equal, 5", [(657.0, 657.0), *equal((300, 300), 4)])
    add("one large among equal, 9", [(857.0, 857.0), *equal((400, 400), 8)], width=5000.0)
    add("square of equal without the middle, 8", equal((300, 300), 8), width=3600.0)
    for n in (4, 6):
        add(f"one stays, {n}", mixed(rng, METRIC, n), kept={"P1": (2000.0, 1524.0)})
    add("two stay, 6", mixed(rng, INCH, 6), kept={"P1": (1500.0, 1524.0), "P2": (2400.0, 1524.0)})
    add("triptych", [(700, 900), (400, 500), (400, 500)])
    add("triptych over a sofa", [(700, 500), (400, 500), (400, 500)], furniture=[sofa()])
    add("one large beside two small", [(600, 860), (400, 400), (400, 400)])
    return sets
