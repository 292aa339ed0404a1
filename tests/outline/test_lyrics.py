"""Words from syllables, lines from words, bars from the notes they stand under."""

from __future__ import annotations

import pytest

from expander.checks.prepare import music_of
from expander.outline.lyrics import lyric_lines
from tests.mini import document


def told(text: str) -> list[tuple[str, int, int, str]]:
    lines = lyric_lines(music_of(document(text)))
    return [(line.verse, line.first, line.last, line.text) for line in lines]


@pytest.mark.parametrize(
    ("case", "text", "lines"),
    [
        (
            "syllables join to words",
            "Voice: C4:q 'Pa- D4 '-per E4 'boats, F4 'go | G4:w 'out.",
            [("1", 0, 1, "Paper boats, go out.")],
        ),
        (
            "a full stop ends a line",
            "Voice: C4:q 'Go D4 'home. E4 'Stay F4 'here",
            [("1", 0, 0, "Go home."), ("1", 0, 0, "Stay here")],
        ),
        (
            "a long rest ends a line",
            "Voice: C4:q 'Go r:h. | C4:q 'home r:h.",
            [("1", 0, 0, "Go"), ("1", 1, 1, "home")],
        ),
        (
            "a held note is no rest",
            "Voice: C4:q 'Go D4:h. | E4:w | C4:w 'home",
            [("1", 0, 2, "Go home")],
        ),
        (
            "a comma before a new bar ends a line",
            "Voice: C4:h 'Sea, D4:q 'blue E4:q 'sea, | F4:w 'go",
            [("1", 0, 0, "Sea, blue sea,"), ("1", 1, 1, "go")],
        ),
    ],
)
def test_lines_are_broken_where_a_singer_breathes(
    case: str, text: str, lines: list[tuple[str, int, int, str]]
) -> None:
    assert told(text) == lines, case


def test_a_verse_goes_through_its_own_ending() -> None:
    text = (
        "Voice: |: C4:w 'sing '2:ring | volta1+ D4:w 'low. volta1- :| "
        "volta2+ E4:w '2:high. volta2- |"
    )
    assert told(text) == [("1", 0, 1, "sing low."), ("2", 0, 2, "ring high.")]


def test_an_upbeat_before_the_repeat_counts_with_the_line_it_leads_to() -> None:
    text = (
        "Voice: |: C4:w 'sing '2:sang | volta1+ D4:h 'low. E4:h '2:I volta1- :| "
        "volta2+ F4:w '2:high. volta2- |"
    )
    assert told(text) == [("1", 0, 1, "sing low."), ("2", 0, 2, "I sang high.")]


def test_words_that_all_sing_are_told_once() -> None:
    text = "Soprano: C5:w 'Sing\nAlto: C4:w 'Sing\nTenor: C4:w 'Hum\nBass voice: C3:w 'Sing"
    assert [line[3] for line in told(text)] == ["Sing", "Hum"]
