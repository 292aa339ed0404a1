"""Chromatic runs on the harp."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand, Voice
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Runs of semitones in one direction, too fast for the pedals."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.id == "harp":
            for voice in stand.voices:
                yield from _runs(music, stand, voice)


def _runs(music: Music, stand: Stand, voice: Voice) -> Iterator[Hit]:
    least = int(figure("harp-chromatic-run", "notes"))
    run: list[Chord] = []
    way = 0
    for chord in voice.chords:
        step = _step(music, run[-1], chord) if run else 0
        if run and step and (step == way or len(run) == 1):
            run.append(chord)
        else:
            if len(run) >= least:
                yield _hit(stand, run)
            run = [run[-1], chord] if run and step else [chord]
        way = step
    if len(run) >= least:
        yield _hit(stand, run)


def _step(music: Music, one: Chord, two: Chord) -> int:
    """1 or -1 for a fast semitone up or down, else 0."""
    if len(one.heads) != 1 or len(two.heads) != 1:
        return 0
    size = two.heads[0].height - one.heads[0].height
    fast = music.seconds(one.start, two.start) < figure("harp-chromatic-run", "seconds")
    return size if abs(size) == 1 and fast else 0


def _hit(stand: Stand, run: list[Chord]) -> Hit:
    first, last = run[0].heads[0].written, run[-1].heads[0].written
    return Hit(
        stand,
        run[0].bar,
        run[0].at,
        f"a chromatic run of {len(run)} notes from {first} to {last}: nearly every note needs a "
        "pedal.",
        pitch=str(first),
        figure=f"{int(figure('harp-chromatic-run', 'notes')) - 1} notes",
    )


CHECK = Check(
    id="harp-chromatic-run",
    title="Chromatic run on the harp",
    finds="Five or more fast notes in a row by semitones.",
    why="The harp is tuned to seven notes at a time; chromatic runs are all pedals.",
    example="C4 to G4 in sixteenths, every semitone.",
    instead="Use a diatonic scale or a glissando set beforehand, or give the run to another.",
    severity=Severity.ERROR,
    source="Follows from the pedals (M. Zager, p. 120, published); the tempo is common practice.",
    detect=detect,
)
