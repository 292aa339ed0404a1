"""The samples can be played: what they leave out is told, and nothing else is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.model.finding import Severity
from expander.musicxml import read
from expander.pipeline import expand_file

SAMPLES = Path(__file__).parents[2] / "samples"
UNPLAYED = {"septet": 43}
"""Drum notes, which the file says nobody has."""


@pytest.mark.parametrize("rules", sorted(p.stem for p in SAMPLES.glob("*.yaml")))
def test_a_sample_has_no_errors_but_notes_it_says_it_leaves(rules: str) -> None:
    sketch = "paper-harbour-lead-sheet" if "lead-sheet" in rules else "paper-harbour"
    done = expand_file(read(SAMPLES / f"{sketch}.musicxml"), SAMPLES / f"{rules}.yaml")
    wrong = {f.check for f in done.findings if f.severity is Severity.ERROR}
    left = UNPLAYED.get(rules.rpartition("-")[2], 0)
    assert len(done.ledger.unplaced) == left
    assert wrong <= ({"given-to-nobody"} if left else set())
