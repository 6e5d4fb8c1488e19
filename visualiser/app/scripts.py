"""The page's own files, and its ES modules joined into the one that a part of the page is sent.

A part's script reaches the browser as one text without an address, from which nothing can be
imported. So the modules it is made of are put one after another here, what is imported before what
imports it, and their import lines are left out: nothing is built, and nothing is fetched.
"""

from __future__ import annotations

import posixpath
import re
from functools import cache
from importlib import resources

_IMPORT = re.compile(r'^import (?:\{[^}]*\} from )?"(\.[^"]+)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:class|function|const|let) )", re.MULTILINE)


@cache
def asset(name: str) -> str:
    """Read a file that a part of the page is made of.

    Parameters
    ----------
    name
        The file, from the app's folder on, such as ``wall_canvas/view.css``.
    """
    return resources.files("visualiser.app").joinpath(*name.split("/")).read_text("utf-8")


@cache
def joined(entry: str) -> str:
    """Join a script with all that it imports.

    Parameters
    ----------
    entry
        Its file, from the app's folder on, such as ``wall_canvas/view.js``.
    """
    parts: dict[str, str] = {}
    _take(entry, parts, set())
    return "\n".join(parts.values())


def _take(name: str, parts: dict[str, str], begun: set[str]) -> None:
    if name in begun:
        return
    begun.add(name)
    text = asset(name)
    for imported in _IMPORT.findall(text):
        _take(posixpath.normpath(posixpath.join(posixpath.dirname(name), imported)), parts, begun)
    parts[name] = _EXPORT.sub("", _IMPORT.sub("", text))
