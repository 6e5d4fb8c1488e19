"""Imports point down only: the layer table of DEVELOPERS.md as data, read against the code."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "visualiser"

# From the ground up; packages of one row do not import each other, except along an ARROW.
LAYERS = [
    {"errors"},
    {"findings"},
    {"geometry", "units"},
    {"sizes"},
    {"photo"},
    {"colour", "rectification"},
    {"survey", "inventory"},
    {"arrangement"},
    {"rendering", "hanging", "as_hung"},
    {"printing"},
    {"project"},
    {"cli", "app"},
]
ARROWS = {("rectification", "colour"), ("units", "errors"), ("geometry", "errors")}
RIM_ONLY = {
    "streamlit": {"app"},
    "reportlab": {"printing"},
    "typer": {"cli"},
    "sqlite3": {"inventory"},
}


def level(part: str) -> int:
    return next(i for i, row in enumerate(LAYERS) if part in row)


def imports(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
    return found


MODULES = sorted(
    p
    for p in ROOT.rglob("*.py")
    if len(p.relative_to(ROOT).parts) > 1 or p.stem not in ("__init__", "__main__")
)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_down(path):
    part = path.relative_to(ROOT).parts[0].removesuffix(".py")
    for name in imports(path):
        pieces = name.split(".")
        if pieces[0] == "visualiser" and len(pieces) > 1 and pieces[1] != part:
            other = pieces[1]
            assert level(other) < level(part) or (part, other) in ARROWS, f"{part} imports {other}"
        elif pieces[0] in RIM_ONLY:
            assert part in RIM_ONLY[pieces[0]], f"{part} imports {pieces[0]}"
