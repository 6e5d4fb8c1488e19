"""Rules of a job, from the shell."""

import json

import pytest
from typer.testing import CliRunner

import visualiser as vis
from visualiser.arrangement.guidelines import RULES
from visualiser.cli import app


@pytest.fixture
def job(tmp_path):
    return vis.create_project(tmp_path / "job")


def run(job, *words, code=0):
    result = CliRunner().invoke(app, ["rules", str(job.folder), *words, "--json"])
    assert result.exit_code == code, result.output
    return json.loads(result.stdout)


def test_every_rule_is_listed_with_its_source(job):
    listed = run(job)["rules"]
    assert [row["rule"] for row in listed] == [rule.code for rule in RULES]
    assert all(row["source"] for row in listed)
    shown = CliRunner().invoke(app, ["rules", str(job.folder)]).stdout
    assert "gap = 57 mm (2 1/4 in)" in shown
    assert "furniture share min = 67 %" in shown


@pytest.mark.parametrize(
    ("words", "name", "value"),
    [
        ("gap=2 1/2 in", "gap_mm", 63.5),  # 25.4 mm to the inch: international yard, 1959
        ("centre height = 58 in", "centre_height_mm", 1473.2),
        ("gap_max=80", "gap_max_mm", 80.0),
        ("walkway=yes", "walkway", True),
        ("furniture share min=60 %", "furniture_share_min", 0.6),
        ("stair slope=35°", "stair_slope_deg", 35.0),
        ("viewing distance=3 m", "viewing_distance_mm", 3000.0),
    ],
)
def test_a_value_is_kept_with_the_job(job, words, name, value):
    run(job, "--change", words)
    assert getattr(vis.open_project(job.folder).guidelines(), name) == pytest.approx(value)
    run(job, "--usual")
    assert vis.open_project(job.folder).guidelines() == vis.Guidelines()


def test_a_rule_is_made_hard_or_advice(job):
    run(job, "--hard", "gap", "--soft", "edge-clearance")
    rules = vis.open_project(job.folder).guidelines()
    assert rules.is_hard("gap")
    assert not rules.is_hard("edge-clearance")


@pytest.mark.parametrize(
    "words",
    [
        ("--change", "gap"), ("--change", "gap="), ("--change", "glory=3 mm"),
        ("--change", "gap=wide"), ("--change", "gap=none"), ("--change", "gap=20 mm"),
        ("--change", "walkway=perhaps"), ("--change", "stair slope=80"),
        ("--change", "hard rules=gap"), ("--hard", "glory"), ("--soft", "glory"),
        ("--soft", "overlap"),
    ],
)  # fmt: skip
def test_what_is_no_rule_changes_nothing(job, words):
    said = run(job, *words, code=1)
    assert said["why"]
    assert said["do"]
    assert vis.open_project(job.folder).document.revision == job.document.revision
