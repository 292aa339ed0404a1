"""Sung notes without words."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from expander.checks.check import Check, Hit
from expander.checks.figures import figures
from expander.checks.music import Chord, Music, Stand
from expander.model.finding import Severity

FEW = 4
MOST = 0.1
"""So many silent entries, or this share of the syllables, are told one by one."""


def detect(music: Music) -> Iterator[Hit]:
    """Phrases of a sung part whose first note has no syllable, and sung parts without any."""
    for stand in music.stands:
        if not stand.sung or not stand.chords or _wordless(stand):
            continue
        sung = frozenset(c.start for c in stand.chords if c.event.lyrics)
        if not sung:
            yield Hit(stand, 0, 0, "the part is for a voice and has no words.", figure="words",
                      severity=Severity.NOTE)  # fmt: skip
            continue
        for voice in stand.voices:
            yield from _gathered(stand, list(_silent_entries(stand, voice.chords, sung)), len(sung))


def _gathered(stand: Stand, hits: list[Hit], syllables: int) -> list[Hit]:
    """One finding for a line that has rests within syllables as a habit."""
    if len(hits) <= max(FEW, MOST * syllables):
        return hits
    message = f"{len(hits)} entries have no syllable; this is the first."
    return [replace(hits[0], message=message)]


def _wordless(stand: Stand) -> bool:
    held = figures()["wordless"]["holds"]
    return any(word in w.plain.split() or w.plain == word for w in stand.words for word in held)


def _silent_entries(stand: Stand, chords: tuple[Chord, ...], sung: frozenset[int]) -> Iterator[Hit]:
    """Notes after a rest, where a new syllable is due, that nobody on the stave has one for."""
    before = -1
    for chord in chords:
        entry = chord.start > before
        before = chord.end
        if entry and chord.struck and chord.event.grace is None and chord.start not in sung:
            pitch = str(chord.top.written) if chord.heads else ""
            yield Hit(
                stand,
                chord.bar,
                chord.at,
                "the singers enter here without a syllable.",
                pitch=pitch,
                figure="a syllable",
            )


CHECK = Check(
    id="missing-words",
    title="Words missing under a sung line",
    finds="An entry after a rest without a syllable, or a sung part without words (note).",
    why="A singer cannot guess the text, and nobody can rehearse the phrase.",
    example="A second phrase whose words were left behind when the line was copied.",
    instead="Carry the words over, or write what is sung without them: hum, ah.",
    severity=Severity.WARNING,
    source="Common practice, no source.",
    detect=detect,
)
