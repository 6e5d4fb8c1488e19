"""Imports point down only: the layer table of DEVELOPERS.md as data, read against the code.

Modules import their own homes, never the whole package, and no circle closes inside a package
either.
"""

import ast
import functools
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1] / "visualiser"

# From the ground up; packages of one row do not import each other, except along an ARROW.
LAYERS = [
    {"errors", "statistics", "table"},
    {"findings"},
    {"geometry", "raster", "units"},
    {"sizes", "wording"},
    {"photo"},
    {"colour", "rectification"},
    {"survey", "inventory"},
    {"arrangement"},
    {"rendering", "hanging", "as_hung", "laid_out"},
    {"printing"},
    {"project"},
    {"cli", "app"},
]
ARROWS = {
    ("laid_out", "as_hung"),
    ("rectification", "colour"),
    ("units", "errors"),
    ("geometry", "errors"),
}
EDGE = {"cli"}
"""What stands above the public face of the package, and so may import it whole."""
RIM_ONLY = {
    "streamlit": {"app"},
    "reportlab": {"printing"},
    "typer": {"cli"},
    "sqlite3": {"inventory"},
}


def level(part: str) -> int:
    return next(i for i, row in enumerate(LAYERS) if part in row)


def imports(text: str, modules: set[str]) -> set[str]:
    """Every module that a text imports, wherever it does; a name of a module counts as that one."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            inside = {f"{node.module}.{alias.name}" for alias in node.names}
            found |= inside & modules
            if inside - modules or node.module not in modules:
                found.add(node.module)
    return found


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def circle_in(graph: dict[str, set[str]]) -> list[str]:
    """A circle of modules that import each other, or nothing."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return error.args[1]
    return []


MODULES = sorted(
    p
    for p in ROOT.rglob("*.py")
    if len(p.relative_to(ROOT).parts) > 1 or p.stem not in ("__init__", "__main__")
)


NAMES = {module_name(path) for path in ROOT.rglob("*.py")}


@functools.cache
def imports_of(path: Path) -> set[str]:
    """Imports of a module, read once and only where a test runs: every worker collects this."""
    return imports(path.read_text(), NAMES)


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_point_down(path):
    part = path.relative_to(ROOT).parts[0].removesuffix(".py")
    for name in imports_of(path):
        pieces = name.split(".")
        assert name != "visualiser" or part in EDGE, f"{part} reaches up to the whole package"
        if pieces[0] == "visualiser" and len(pieces) > 1 and pieces[1] != part:
            other = pieces[1]
            assert level(other) < level(part) or (part, other) in ARROWS, f"{part} imports {other}"
        elif pieces[0] in RIM_ONLY:
            assert part in RIM_ONLY[pieces[0]], f"{part} imports {pieces[0]}"


def test_no_modules_import_each_other_in_a_circle():
    graph = {module_name(path): imports_of(path) for path in MODULES}
    inside = {name: (others & NAMES) - {name} for name, others in graph.items()}
    assert circle_in(inside) == []


def test_a_circle_and_a_bare_import_are_seen():
    assert circle_in({"a": {"b"}, "b": {"c"}, "c": {"a"}})
    assert not circle_in({"a": {"b", "c"}, "b": {"c"}})
    names = {"visualiser", "visualiser.app", "visualiser.app.steps"}
    assert "visualiser" in imports("def f():\n    import visualiser as vis", names)
    assert imports("from visualiser.app import steps", names) == {"visualiser.app.steps"}
