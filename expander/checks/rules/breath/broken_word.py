"""Syllables that do not make words, or do not fit their notes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.checks.check import Check, Hit
from expander.checks.music import Chord, Music, Stand, Voice, lines
from expander.model.finding import Severity
from expander.model.score import Lyric

OPEN = ("begin", "middle")
CLOSING = ("middle", "end")


MOST = 0.2
"""Share of a line's syllables from which its hyphens are taken for useless altogether."""


def detect(music: Music) -> Iterator[Hit]:
    """Words that begin and do not end or end without a beginning."""
    for stand, voice in lines(s for s in music.stands if s.sung):
        for verse, line in _verses(voice).items():
            yield from _gathered(stand, line, list(_broken(stand, verse, line)))


def _gathered(stand: Stand, line: list[tuple[Chord, Lyric]], hits: list[Hit]) -> list[Hit]:
    """One finding for a line whose hyphens mean nothing."""
    if len(hits) <= max(3, MOST * len(line)):
        return hits
    return [_hit(stand, line[0][0], f"{len(hits)} hyphens of this line do not make words", "")]


def _verses(voice: Voice) -> dict[str, list[tuple[Chord, Lyric]]]:
    found: dict[str, list[tuple[Chord, Lyric]]] = {}
    for chord in voice.chords:
        for lyric in chord.event.lyrics:
            found.setdefault(lyric.verse, []).append((chord, lyric))
    return found


def _broken(stand: Stand, verse: str, line: list[tuple[Chord, Lyric]]) -> Iterator[Hit]:
    for (chord, one), (after, two) in pairwise(line):
        if (one.syllabic in OPEN) == (two.syllabic in CLOSING) or not (one.text and two.text):
            continue
        if one.syllabic in OPEN:
            yield _hit(stand, chord, f"the word that '{one.text}-' begins does not go on", verse)
        else:
            yield _hit(stand, after, f"'-{two.text}' ends a word that nothing begins", verse)


def _hit(stand: Stand, chord: Chord, what: str, verse: str) -> Hit:
    shown = f" (verse {verse})" if verse not in ("", "1") else ""
    pitch = str(chord.top.written) if chord.heads else ""
    return Hit(stand, chord.bar, chord.at, f"{what}{shown}.", pitch=pitch, figure="whole words")


CHECK = Check(
    id="broken-word",
    title="A word that does not end or does not begin",
    finds="A syllable with a hyphen after it that nothing follows, or the reverse.",
    why="A syllable was lost, or the hyphens are wrong: the singer stumbles.",
    example="'Hel-' under one note and 'world' under the next.",
    instead="Add the missing syllable or take away the hyphen.",
    severity=Severity.WARNING,
    source="The rules of hyphenation in vocal parts (common practice).",
    detect=detect,
)
