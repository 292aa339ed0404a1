"""Worked voicings through the whole program: each staff of a shipped line-up has its note."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from expander.catalogue.ensembles import load_ensemble
from expander.model.walk import events_of
from expander.pipeline import expand_score
from expander.rulefile.load import parse_rules
from tests import mini

ROWS = yaml.safe_load(Path(__file__).with_name("voicing_played.yaml").read_text("utf-8"))


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_each_player_has_the_note_that_the_source_gives_him(row):
    sketch = mini.sketch("\n".join(f"Staff {i}: {text}" for i, text in enumerate(row["sketch"], 1)))
    found = expand_score(
        sketch, parse_rules(row["rules"], row["id"]), load_ensemble(row["line_up"])
    )
    staves = {part.name: written(part) for part in found.score.parts}
    assert {name: notes for name, notes in staves.items() if notes} == row["staves"]
    assert found.ledger.unplaced == ()


def written(part):
    pitches = [note.pitch for event in events_of(part) for note in event.notes]
    return " ".join(str(p) for p in sorted(pitches, key=lambda p: p.semitone))
