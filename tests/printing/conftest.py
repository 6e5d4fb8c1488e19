import ctypes
from dataclasses import dataclass

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as raw
import pytest

from visualiser.arrangement.arrangement import Arrangement, Placement
from visualiser.geometry import Polygon, Rect
from visualiser.hanging.plan import plan_hanging
from visualiser.inventory.piece import Hanger, Mat, Piece
from visualiser.survey.survey import Furniture, Survey, Zone

MM_PER_POINT = 25.4 / 72  # ISO 32000-1, 8.3.2.3: default user space is 1/72 in


@dataclass
class Stroke:
    """One path of a page as an independent reader sees it, mm from the lower left."""

    points: np.ndarray
    width_pt: float

    @property
    def low(self):
        return self.points.min(axis=0)

    @property
    def high(self):
        return self.points.max(axis=0)

    @property
    def size(self):
        return self.high - self.low


@pytest.fixture
def read_strokes():
    def read(page):
        strokes = []
        for item in page.get_objects(filter=[raw.FPDF_PAGEOBJ_PATH]):
            matrix, width = raw.FS_MATRIX(), ctypes.c_float()
            raw.FPDFPageObj_GetMatrix(item, matrix)
            raw.FPDFPageObj_GetStrokeWidth(item, width)
            points = []
            for index in range(raw.FPDFPath_CountSegments(item)):
                x, y = ctypes.c_float(), ctypes.c_float()
                raw.FPDFPathSegment_GetPoint(raw.FPDFPath_GetPathSegment(item, index), x, y)
                points.append(
                    (
                        matrix.a * x.value + matrix.c * y.value + matrix.e,
                        matrix.b * x.value + matrix.d * y.value + matrix.f,
                    )
                )
            strokes.append(Stroke(np.array(points) * MM_PER_POINT, width.value))
        return strokes

    return read


@pytest.fixture
def open_pdf():
    opened = []

    def read(data):
        document = pdfium.PdfDocument(data)
        opened.append(document)
        return document

    yield read
    for document in opened:
        document.close()


@pytest.fixture
def group():
    """Five pieces over a sofa: every kind of hanger, five scripts."""
    rings, wire = Hanger("d-rings", 90, 420), Hanger("wire", None, 400, 440, 250)
    pieces = (
        Piece("heron", 500, 700, "Héron", mat=Mat(60, 60, 70), hanger=rings, weight_kg=4.2),
        Piece("reeds", 600, 800, "葦の岸", hanger=wire, weight_kg=5.0),
        Piece("shore", 500, 700, "שפת הים", hanger=Hanger("sawtooth", 12), weight_kg=3.0),
        Piece("gull", 300, 400, "Чайка", hanger=Hanger("strips"), weight_kg=1.0),
        Piece("boats", 400, 300, "قوارب", hanger=Hanger("wire")),
    )
    places = {"heron": 1293, "reeds": 1900, "shore": 2507, "gull": 2964, "boats": 786}
    return Arrangement(
        pieces, tuple(Placement(i, x, 1600) for i, x in places.items()), name="Shore room"
    )


@pytest.fixture
def room():
    return Survey.from_size(
        4000,
        2500,
        zones=(Zone("socket", Polygon.from_rect(Rect(2900, 300, 85, 85))),),
        furniture=(Furniture("sofa", Rect(1000, 0, 1900, 850)),),
    )


@pytest.fixture
def plan(group, room):
    return plan_hanging(group, room)
