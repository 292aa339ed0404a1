"""The playing order against the worked rows of this file and against an independent expansion."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.musicxml import read
from expander.outline.order import has_jumps, playing_order
from tests.mini import document

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.mark.parametrize(
    ("text", "order"),
    [
        ("R | R | R", [0, 1, 2]),
        ("R | R :| R", [0, 1, 0, 1, 2]),
        ("R |: R | R :| R", [0, 1, 2, 1, 2, 3]),
        ("|: R | R :| R |: R :|", [0, 1, 0, 1, 2, 3, 3]),
        ("|: R | volta1+ R volta1- :| volta2+ R volta2- | R", [0, 1, 0, 2, 3]),
    ],
)
def test_repeats_and_endings_are_carried_out(text: str, order: list[int]) -> None:
    assert playing_order(document(f"Flute: {text}")) == order


@pytest.mark.parametrize("name", ["paper-harbour.musicxml", "paper-harbour-lead-sheet.musicxml"])
def test_the_order_is_that_of_an_independent_expansion(name: str) -> None:
    """music21's `expandRepeats` is the reference."""
    music21 = pytest.importorskip("music21")
    path = SAMPLES / name
    part = music21.converter.parse(str(path)).parts[0].expandRepeats()
    expected = [str(bar.number) for bar in part.getElementsByClass("Measure")]
    score = read(path)
    assert [score.bars[i].number for i in playing_order(score)] == expected


def test_a_piece_without_jumps_has_none() -> None:
    assert not has_jumps(document("Flute: R | R"))
