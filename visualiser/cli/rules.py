"""``visualiser rules``: the rules that a job is arranged by, each with its source."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from visualiser.cli.lengths import both
from visualiser.cli.output import AsJson, print_json, say
from visualiser.errors import ArrangementError

if TYPE_CHECKING:
    from visualiser.arrangement.guidelines import Guidelines
    from visualiser.units import Unit

_WORDS = {"yes": True, "no": False}
_NOT_TYPED = {"hard_rules"}


def rules(
    project: Annotated[Path, typer.Argument(help="Folder of the job.")],
    change: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME=VALUE",
            help="Give a rule another value: “gap=2 1/2 in”, “centre height=58 in”, “walkway=yes”, "
            "“viewing distance=none”; may be given again.",
        ),
    ] = None,
    hard: Annotated[
        list[str] | None,
        typer.Option(metavar="RULE", help="Never let a proposal break it; may be given again."),
    ] = None,
    soft: Annotated[
        list[str] | None,
        typer.Option(metavar="RULE", help="Advise by it only; may be given again."),
    ] = None,
    usual: Annotated[
        bool, typer.Option("--usual", help="Go back to the usual values first.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Show the rules that a job is arranged by and where each comes from, or change some."""
    import visualiser as vis
    from visualiser.arrangement.guidelines import plain_name

    job = vis.open_project(project)
    units = job.document.units
    before = job.guidelines()
    after = vis.Guidelines() if usual else before
    values = dict(typed_value(words, after, units) for words in change or [])
    kept = (after.hard_rules | set(hard or [])) - _softened(soft or [])
    after = replace(after, **values, hard_rules=frozenset(kept))
    if after != before:
        job = job.save(job.document.changed(guidelines=after))
    if as_json:
        print_json({"done": True, "rules": rule_data(after)})
        return
    for row in rule_data(after):
        say(f"{row['rule']}  {row['says']}  [{'hard' if row['hard'] else 'advice'}]", as_json=False)
        for name, value in row["values"].items():
            say(f"    {plain_name(name)} = {_shown(name, value, units)}", as_json=False)
        say(f"    source: {row['source']}", as_json=False)


def rule_data(guidelines: Guidelines) -> list[dict[str, Any]]:
    """List every rule with its values in some guidelines, for programs."""
    from visualiser.arrangement.guidelines import RULES, values_of

    return [
        {
            "rule": rule.code,
            "says": rule.title,
            "hard": guidelines.is_hard(rule.code),
            "values": values_of(guidelines, rule.code),
            "source": rule.source,
        }
        for rule in RULES
    ]


def typed_value(words: str, guidelines: Guidelines, units: Unit) -> tuple[str, Any]:
    """Read ``name=value`` as one of the guidelines' fields and what it is to hold.

    Raises
    ------
    ArrangementError
        If there is no such name, or the value is of another kind.
    UnitError
        If it is no length where one is wanted.
    """
    from visualiser.arrangement.guidelines import plain_name
    from visualiser.units import parse_length

    named = {plain_name(f.name): f.name for f in fields(guidelines) if f.name not in _NOT_TYPED}
    name, equals, value = (part.strip() for part in words.partition("="))
    field = named.get(" ".join(name.lower().replace("_", " ").replace("-", " ").split()))
    if field is None or not equals or not value:
        raise ArrangementError(
            f"“{words}” is not a value of a rule.",
            hint=f"Write it as in “gap=57 mm”; the names are {', '.join(sorted(named))}.",
        )
    usual = getattr(type(guidelines)(), field)
    if value == "none" and usual is None:
        return field, None
    if isinstance(usual, bool):
        if value.lower() not in _WORDS:
            raise ArrangementError(f"“{value}” is neither yes nor no.", hint="Write yes or no.")
        return field, _WORDS[value.lower()]
    if field.endswith("_mm"):
        return field, parse_length(value, units)
    number = value.removesuffix("%").removesuffix("°").strip()
    try:
        return field, float(number) / (100 if value.endswith("%") else 1)
    except ValueError as error:
        raise ArrangementError(
            f"“{value}” is not a number.", hint="Write it as in 0.67, 67 % or 35°."
        ) from error


def _softened(codes: list[str]) -> set[str]:
    from visualiser.arrangement.guidelines import RULES

    fixed = {rule.code for rule in RULES if rule.fixed}
    known = {rule.code for rule in RULES}
    for code in codes:
        if code not in known:
            raise ArrangementError(
                f"There is no rule called {code}.",
                hint=f"Choose among {', '.join(sorted(known))}.",
            )
        if code in fixed:
            raise ArrangementError(
                f"The rule {code} is never broken.", hint="Only the others can be made advice."
            )
    return set(codes)


def _shown(name: str, value: float | bool | None, units: Unit) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if name.endswith("_mm"):
        return both(value, units)
    return f"{value:g}°" if name.endswith("_deg") else f"{100 * value:.0f} %"
