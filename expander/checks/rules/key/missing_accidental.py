"""Accidentals that are needed and not printed."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.accidentals import amiss
from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Notes whose accidental the file does not show, in parts that do show accidentals."""
    for stand in filter(_shows_accidentals, music.stands):
        for seen in amiss(music, stand):
            if seen.needed and not seen.chord.event.grace:
                yield Hit(
                    stand,
                    seen.chord.bar,
                    seen.chord.at,
                    f"{seen.head.written} needs an accidental here, and none is printed.",
                    pitch=str(seen.head.written),
                    figure="key signature and bar",
                )


def _shows_accidentals(stand: Stand) -> bool:
    """Files that never say which accidentals are printed leave that to the software."""
    return stand.contents.accidentals and any(
        h.note.accidental is not None for c in stand.chords for h in c.heads
    )


CHECK = Check(
    id="missing-accidental",
    title="Accidental not printed",
    finds="A note that differs from its signature and bar without a printed accidental.",
    why="The player reads another note than the one that is played back.",
    example="F natural in G major with nothing before it.",
    instead="Show the accidental.",
    severity=Severity.WARNING,
    source="The rules of notation: an accidental holds for its line or space to the barline.",
    detect=detect,
)
