"""Independent lines of small scores: which stands count, and their notes by time."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand

ONE_LINE = ("woodwind", "brass", "voice", "strings")


def few_lines(music: Music) -> tuple[Stand, ...]:
    """Stands with a single line each, where there are few enough to be independent, else none."""
    found = tuple(s for s in music.stands if s.family in ONE_LINE and len(s.voices) == 1)
    whole = [s for s in music.stands if s.chords]
    return found if 2 <= len(whole) <= figure("chords", "few") else ()


def neighbours(stands: tuple[Stand, ...]) -> Iterator[tuple[Stand, Stand]]:
    """Every two stands, the one higher in the score first."""
    return combinations(stands, 2)


def by_start(stand: Stand) -> dict[int, Chord]:
    """A line's single struck notes by the tick at which they begin."""
    return {
        chord.start: chord
        for chord in stand.chords
        if len(chord.heads) == 1 and chord.event.grace is None
    }
