"""The sketch above the score, and which of its notes a note of the score comes from."""

from __future__ import annotations

import pytest

from expander.checks.prepare import music_of
from expander.errors import BadUsage
from expander.proof import proof_of
from expander.proof.above import scaled, with_sketch
from expander.proof.origins import origins_of
from tests.mini import document, to_text

SKETCH = "Tune: C5:q D5 E5:h\nChords: C4+E4+G4:w"
SCORE = "Clarinet in B♭ (-1 -2 0): D5:q E5 F#5:h\nViolin: G5:w\nCello: @bass C#3:w"


def test_the_sketch_stands_on_top_under_a_bracket_of_its_own() -> None:
    both = with_sketch(document(SCORE), document(SKETCH))
    assert [part.name for part in both.parts[:3]] == [
        "Sketch: Tune",
        "Sketch: Chords",
        "Clarinet in B♭",
    ]
    assert (both.brackets[0].first, both.brackets[0].last) == (0, 1)


def test_grids_are_brought_together_without_changing_the_music() -> None:
    triplets = document("Tune: 3( C5:q D5 E5 ) F5:h")
    score = document("Flute: C5:s D5:s E5:e F5:q G5:h")
    both = with_sketch(score, triplets)
    assert both.grid % score.grid == both.grid % triplets.grid == 0
    assert to_text(both).split("\n")[-1] == to_text(score).split("\n")[-1]


def test_scaling_changes_ticks_alone() -> None:
    score = document(SCORE)
    assert to_text(scaled(score, 3)) == to_text(score)
    assert scaled(score, 3).bars[0].length == 3 * score.bars[0].length


@pytest.mark.parametrize("text", ["Tune: C5:w | C5:w", "Tune: t3/4 C5:h."])
def test_a_sketch_with_other_bars_is_refused(text: str) -> None:
    with pytest.raises(BadUsage, match="made from"):
        proof_of(document(SCORE), [], sketch=document(text))


def test_notes_come_from_what_sounds_then_under_the_same_name() -> None:
    both = with_sketch(document(SCORE), document(SKETCH))
    assert origins_of(music_of(both), 2) == {
        "n2-0-0-0-0": ["n0-0-0-0-0", "n1-0-0-0-0"],  # sounding C: tune and chord
        "n2-0-0-1-0": ["n0-0-0-1-0"],
        "n2-0-0-2-0": ["n0-0-0-2-0", "n1-0-0-0-1"],
        "n3-0-0-0-0": ["n1-0-0-0-2"],
    }
