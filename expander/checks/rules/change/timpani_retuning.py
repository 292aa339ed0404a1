"""Time to retune the kettledrums."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.drums import Retuning, retunings, strokes_of
from expander.checks.music import Music, Stand
from expander.checks.switching import cited, gravity, needed, row_for
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Pitches that need a drum retuned in less time than that takes."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.id == "timpani":
            for change in retunings(strokes_of(stand.chords)):
                yield from _hurried(music, stand, change)


def _hurried(music: Music, stand: Stand, change: Retuning) -> Iterator[Hit]:
    assert stand.instrument is not None
    row = row_for(("retune",), stand.instrument)
    chord = change.stroke.chord
    seconds = music.seconds(change.since, chord.start)
    if row is None or seconds >= needed(music, row, chord.start):
        return
    yield Hit(
        stand,
        chord.bar,
        chord.at,
        f"four drums do not have this pitch ready: one must be retuned in "
        f"{max(0.0, seconds):.1f} seconds; about {needed(music, row, chord.start):.0f} are needed.",
        pitch=next(str(h.written) for h in chord.heads if h.height == change.stroke.height),
        figure=f"{needed(music, row, chord.start):.0f} s",
        severity=gravity(seconds),
        source=cited(row),
    )


CHECK = Check(
    id="timpani-retuning",
    title="No time to retune",
    finds="A timpani pitch that none of four drums has, with no time to retune one.",
    why="The player needs silence, a foot and an ear for it: two seconds for one pedal drum.",
    example="A chromatic scale in quarters over an octave.",
    instead="Reuse pitches the drums have, or leave the note to cellos and basses.",
    severity=Severity.ERROR,
    source="Drum sizes: A. R. Hancock and J. J. Papastefan (published); the time: common practice.",
    detect=detect,
    levels="Amateurs are given a quarter more time, students half as much again.",
)
