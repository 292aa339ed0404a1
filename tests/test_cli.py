"""How the program is called, and what `expand` says when it is done."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from expander.cli import MOST_TOLD, app
from expander.musicxml import to_bytes
from tests import mini

BARS = 60
SKETCH = "Piano: " + " | ".join(["C4+E4+G4+C5+E5:w | C5:w"] * BARS) + " |."
"""A chord that loses four notes, and a bar that loses none: each chord is told by itself."""
ALONE = "title: Flute alone\nplayers: [flute]\n"
RULES = """
ensemble: alone.yaml
strands: {tune: {staff: 1}}
plan: {all: [{play: tune, by: flute}]}
"""


@pytest.mark.parametrize("with_report", [False, True])
def test_of_very_many_errors_a_screen_is_told_and_where_the_rest_is(tmp_path, with_report):
    sketch, rules, report = (tmp_path / n for n in ("s.musicxml", "rules.yaml", "report.json"))
    sketch.write_bytes(to_bytes(mini.document(SKETCH)))
    rules.write_text(RULES)
    (tmp_path / "alone.yaml").write_text(ALONE)
    words = ["expand", str(sketch), "-r", str(rules), "-o", str(tmp_path / "score.musicxml")]
    told = CliRunner().invoke(app, [*words, *(["--report", str(report)] if with_report else [])])
    assert told.exit_code == 0, told.output
    lines = told.stderr.splitlines()
    assert sum("given to nobody: " in line for line in lines) == MOST_TOLD
    (rest,) = [line for line in lines if line.startswith("...")]
    assert str(BARS - MOST_TOLD) in rest
    assert (str(report) if with_report else "--report FILE") in rest
    if with_report:
        assert len(json.loads(report.read_text())["sketch"]["unplaced"]) == 4 * BARS


def test_what_a_line_loses_in_bars_that_follow_each_other_is_told_once(tmp_path):
    sketch, rules = tmp_path / "s.musicxml", tmp_path / "rules.yaml"
    bars = " | ".join(["C4+C5:w", "D4+D5:w", "E5:w", "C4+C5:w"])
    sketch.write_bytes(to_bytes(mini.document(f"Piano: {bars} |.")))
    rules.write_text(RULES)
    (tmp_path / "alone.yaml").write_text(ALONE)
    words = ["expand", str(sketch), "-r", str(rules), "-o", str(tmp_path / "score.musicxml")]
    told = CliRunner().invoke(app, words).stderr.splitlines()
    first, second = (line for line in told if "given to nobody: " in line)
    assert first.startswith("sketch staff 1, bar 1 beat 1: 2 notes (C4, D4) of layer 1, ")
    assert "as far as bar 2, are given to nobody" in first
    assert second.startswith("sketch staff 1, bar 4 beat 1: C4 of layer 1 is given to nobody")


def test_the_package_can_be_run_as_a_module_too():
    told = subprocess.run(
        [sys.executable, "-m", "expander", "list", "ensembles"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert told.stdout == CliRunner().invoke(app, ["list", "ensembles"]).stdout
    assert "septet" in told.stdout


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (["list", "ensembles"], 0),
        (["list", "ensemble"], 2),
        (["expand", "not-there.musicxml", "-e", "septet", "-o", "score.musicxml"], 2),
    ],
)
def test_the_program_leaves_with_its_status_and_all_that_it_said(tmp_path, words, status):
    program = [sys.executable, "-m", "expander", *words]
    left = subprocess.run(program, capture_output=True, text=True, check=False, cwd=tmp_path)
    inside = CliRunner().invoke(app, words)
    assert left.returncode == status
    assert left.stdout == inside.stdout
    assert bool(left.stderr) == bool(status)
