"""Who has the tune, the bass, the rest; by ear and common practice, no source."""

from __future__ import annotations

import pytest

from expander.revoice.doubling import groups_of
from expander.revoice.lines import full_score, split
from expander.revoice.roles import roles_of
from tests import mini


def roles(text):
    """For each bar the role of every part by the first word of its name."""
    score = full_score(mini.document(text))
    lines = split(score.lines, frozenset())
    found = roles_of(score, lines, groups_of(lines, len(score.sketch.bars)))
    return [{lines[v.group.lead].owner.name.split()[0]: v.role for v in bar} for bar in found]


def test_tune_over_chords_and_bass() -> None:
    (bar,) = roles("Flute: C5:q D5 E5 C5\nClarinet: tr(-1,-2,0) F#4:w\nHorn: tr(-4,-7,0) D5:w\n"
                   "Bassoon: @bass C3:h C3:h")  # fmt: skip
    assert bar == {"Flute": "tune", "Clarinet": "inner", "Horn": "inner", "Bassoon": "bass"}


def test_a_sung_line_is_the_tune_below_a_higher_one() -> None:
    bars = roles("Flute: E6:q D6 C6 B5 | C6:q D6 E6 F6\n"
                 "Tenor: @treble C4:q 'Long- D4 '-er E4 'is C4 'the | D4:h 'winter E4 'road\n"
                 "Cello: @bass C3:w | G2:w")  # fmt: skip
    assert [bar["Tenor"] for bar in bars] == ["tune", "tune"]


def test_repeated_notes_are_a_figure() -> None:
    (bar,) = roles("Flute: C5:q D5 E5 C5\nViola: @alto E4:e E4 E4 E4 E4 E4 E4 E4\n"
                   "Cello: @bass C3:w")  # fmt: skip
    assert bar["Viola"] == "figure"


def test_a_second_moving_line_is_a_counter_line() -> None:
    (bar,) = roles("Flute: C6:q D6 E6 C6\nViola: @alto E4:h F4:q G4\nCello: @bass C3:w")
    assert bar["Viola"] == "counter"


def test_drums_are_percussion() -> None:
    (bar,) = roles("Flute: C5:q D5 E5 C5\nSnare Drum: @perc x:q x x x")
    assert bar["Snare"] == "percussion"


def test_timpani_are_no_tune() -> None:
    (bar,) = roles("Timpani: @bass C3:q G2 C3 G2\nCello: @bass C3:w")
    assert bar["Timpani"] != "tune"


@pytest.mark.parametrize("rest", ["R", "r:w"])
def test_a_silent_bar_has_no_roles(rest) -> None:
    assert roles(f"Flute: C5:w | {rest} | C5:w")[1] == {}
