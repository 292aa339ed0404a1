"""Roles: what names and rules say, and how far a reading of the music finds the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.model.rules import StrandRule
from expander.musicxml import read
from expander.outline import outline_of_plan, outline_of_score
from expander.outline.roles import role_by_name, role_by_rule
from expander.outline.values import Role
from expander.pipeline import expand_file
from tests.mini import document

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("tune", Role.TUNE),
        ("counter", Role.COUNTER),
        ("walking bass", Role.BASS),
        ("drum_pulse", Role.FIGURE),
        ("inner", Role.PAD),
        ("violet", None),
        ("chords and bass", None),
    ],
)
def test_a_strand_s_name_says_its_role(name: str, role: Role | None) -> None:
    assert role_by_name(name) == role


@pytest.mark.parametrize(
    ("rule", "role"),
    [
        (StrandRule("x", chords="symbols"), Role.PAD),
        (StrandRule("x", staff=3, notes="highest"), Role.PAD),
        (StrandRule("x", staff=3, notes="lowest"), Role.BASS),
        (StrandRule("x", staff=5, repeat=True), Role.FIGURE),
        (StrandRule("x", staff=1), None),
    ],
)
def test_a_strand_s_rule_says_its_role(rule: StrandRule, role: Role | None) -> None:
    assert role_by_rule(rule) == role


MUSIC = """
Voice: C5:q 'Come D5 'to E5 'the F5 'shore | E5:h 'and D5:h 'sing
Violin: C6:q D6 E6 F6 | E6:h D6:h
Oboe: r:e A4 G4 A4 B4:h | r:q C5:e B4 A4:q F4
Piano: E4+G4:h F4+A4:h | E4+G4:h F4+A4:h
Bassoon: C3:h F2:h | G2:h C3:h
Snare Drum: x:q x:e x x:q x | x:q x:e x x:q x
"""


def test_a_reading_tells_tune_counter_line_pad_bass_and_figure_apart() -> None:
    outline = outline_of_score(document(MUSIC.strip()))
    found = {row.name: {cell.role for cell in row.cells if cell} for row in outline.rows}
    assert found == {
        "Voice": {Role.TUNE},
        "Violin": {Role.TUNE},
        "Oboe": {Role.COUNTER},
        "Piano": {Role.PAD},
        "Bassoon": {Role.BASS},
        "Snare Drum": {Role.FIGURE},
    }


@pytest.mark.parametrize(("line_up", "agreed"), [("jazz-orchestra", 0.9), ("septet", 0.8)])
def test_a_reading_of_the_written_score_mostly_agrees_with_the_rules(
    line_up: str, agreed: float
) -> None:
    """The rules are the arranger's own word; the reading sees the written notes alone."""
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    done = expand_file(sketch, SAMPLES / f"paper-harbour-{line_up}.yaml")
    ruled = {row.name: row for row in outline_of_plan(sketch, done).rows}
    seen = {row.name: row for row in outline_of_score(done.score).rows}
    pairs = [
        (one, other)
        for name in ruled.keys() & seen.keys()
        for one, other in zip(ruled[name].cells, seen[name].cells, strict=True)
    ]
    assert len(pairs) > 300
    played = [(one.role, other.role) for one, other in pairs if one and other]
    assert sum((one is None) == (other is None) for one, other in pairs) >= 0.98 * len(pairs)
    assert sum(one is other for one, other in played) >= agreed * len(played)
