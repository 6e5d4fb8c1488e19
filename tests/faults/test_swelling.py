"""Short texts that would fill the memory once read: every reader of JSON has a bound."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
READ = """
import sys
from tests.memory import peak_bytes
from visualiser.arrangement.plan_file import read_plan
from visualiser.errors import VisualiserError
from visualiser.inventory.piece_json import pieces_from_json
from visualiser.project.document import read_document
read = {
    "pieces": lambda data: pieces_from_json(data.decode()),
    "plan": read_plan,
    "project": read_document,
}[sys.argv[1]]
data = sys.stdin.buffer.read()
before = peak_bytes()
try:
    read(data)
except VisualiserError as error:
    print(peak_bytes() - before, len(str(error)))
"""
SWELLING = {
    "objects": (b'{"pieces":[', b"{},", b"{}]}"),
    "bare objects": (b"[", b"{},", b"{}]"),
    "lists": (b'{"slots":[', b"[],", b"[]]}"),
    "pairs": (b'{"schema_version":1,"options":[', b'{"a":{}},', b"{}]}"),
    "texts": (b'{"pieces":[', b'"ab",', b'""]}'),
}


@pytest.mark.parametrize("reader", ["pieces", "plan", "project"])
@pytest.mark.parametrize("kind", SWELLING)
def test_a_text_of_twenty_megabytes_takes_little_memory(reader, kind):
    head, one, tail = SWELLING[kind]
    data = head + one * (20_000_000 // len(one)) + tail
    done = subprocess.run(
        [sys.executable, "-c", READ, reader], input=data, capture_output=True, check=True, cwd=ROOT
    )
    grown, words = (int(part) for part in done.stdout.split())
    assert grown < 200_000_000
    assert words < 400


def test_a_thousand_pieces_are_read():
    from visualiser.inventory.piece import Mat, Moulding, Piece
    from visualiser.inventory.piece_json import pieces_from_json, pieces_to_json
    from visualiser.inventory.piece_list import ListedPiece

    listed = [
        ListedPiece(Piece(f"p{n}", 400, 500, "x" * 200, moulding=Moulding(), mat=Mat(40, 40, 40)))
        for n in range(1000)
    ]
    assert len(pieces_from_json(pieces_to_json(listed))) == 1000
    assert json.loads(pieces_to_json(listed[:1]))["pieces"][0]["id"] == "p0"
