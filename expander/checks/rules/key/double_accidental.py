"""Double sharps and flats that only the transposition made."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand, heard_as
from expander.model.finding import Severity

DOUBLE = 2


def detect(music: Music) -> Iterator[Hit]:
    """Written double accidentals whose sounding note has at most one."""
    for stand in music.stands:
        if stand.move.chromatic:
            yield from _doubles(stand)


def _doubles(stand: Stand) -> Iterator[Hit]:
    for chord in stand.chords:
        for head in chord.heads:
            if abs(float(head.written.alter)) < DOUBLE or not head.struck:
                continue
            sounding = head.written.moved(chord.hand.move)
            if abs(float(sounding.alter)) < DOUBLE:
                yield Hit(
                    stand,
                    chord.bar,
                    chord.at,
                    f"{head.written} is only the transposed {heard_as(head.written, chord.hand)}; "
                    "a simpler spelling reads better.",
                    pitch=str(head.written),
                    figure="one accidental",
                )


CHECK = Check(
    id="double-accidental",
    title="Double accidental made by transposing",
    finds="A double sharp or flat in a transposing part where the sounding note has none.",
    why="The harmony that explains the spelling is not in the player's part.",
    example="F double sharp in a clarinet part for a sounding E sharp.",
    instead="Spell the note G natural, and its neighbours to match.",
    severity=Severity.NOTE,
    source="Common practice, no source.",
    detect=detect,
)
