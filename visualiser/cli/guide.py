"""``visualiser guide``: the guide that comes with the program."""

from __future__ import annotations

from importlib.resources import files

from visualiser.cli.output import AsJson, print_json, say


def guide(as_json: AsJson = False) -> None:
    """Show the guide: a first job, in the field, as a library, many jobs."""
    text = files("visualiser").joinpath("guide.md").read_text(encoding="utf-8")
    if as_json:
        print_json({"done": True, "format": "markdown", "text": text})
        return
    say(text.rstrip("\n"), as_json=False)
