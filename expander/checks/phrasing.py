"""Runs of notes between the places where a player can breathe."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Voice

Run = tuple[Chord, ...]

_BREATHS = frozenset({"breath-mark", "caesura", "fermata"})
_SHORT = frozenset({"staccato", "staccatissimo", "detached-legato", "spiccato"})
_SLURS = {"start": 1, "stop": -1}
_END = 3600.0
"""Seconds of silence after the last note."""


class Joint(Struct, frozen=True):
    """How a chord leads to the next.

    `silence` is in seconds. `tied` and `slurred` tell what joins them; `sign` is True at a breath
    mark or fermata, `short` where the chord is marked to be played short.
    """

    chord: Chord
    silence: float
    tied: bool
    slurred: bool
    sign: bool
    short: bool


Joints = tuple[Joint, ...]


def joints(music: Music, voice: Voice) -> Joints:
    """Each chord of a voice with its way to the next; grace notes are passed over."""
    found: Joints = music.kept.get((voice,), "joints", lambda: tuple(_joints(voice)))
    return found


def _joints(voice: Voice) -> Iterator[Joint]:
    depth = 0
    chords = [chord for chord in voice.chords if chord.event.grace is None]
    for chord, after in zip(chords, (*chords[1:], None), strict=False):
        sign = short = False
        marks = chord.event.marks
        if marks:
            names = {mark.name for mark in marks}
            sign, short = not names.isdisjoint(_BREATHS), not names.isdisjoint(_SHORT)
            if "slur" in names:
                depth = max(0, depth + _slurs(chord))
        notes = chord.event.notes
        tied = notes[0].tie_start or (len(notes) > 1 and any(n.tie_start for n in notes))
        silence = after.since - chord.until if after else _END
        yield Joint(chord, silence, tied, depth > 0, sign, short)


def _slurs(chord: Chord) -> int:
    slurs = [mark for mark in chord.event.marks if mark.name == "slur"]
    return sum(_SLURS.get(slur.get("type"), 0) for slur in slurs)


def breaths(music: Music, voice: Voice) -> Iterator[Run]:
    """Runs without any place to breathe: no rest, no sign, no note that could be shortened."""
    silence, short = figure("no-breath", "silence"), figure("no-breath", "short")
    run: list[Chord] = []
    for joint in joints(music, voice):
        run.append(joint.chord)
        if joint.silence >= silence or joint.sign or _can_be_cut(joint, short):
            yield tuple(run)
            run = []


def _can_be_cut(joint: Joint, short: float) -> bool:
    """True where the end of the chord can be given up for a breath."""
    if joint.tied or joint.slurred:
        return False
    return joint.short or joint.chord.until - joint.chord.since >= short


def stretches(music: Music, voice: Voice, pause: float) -> Iterator[Run]:
    """Runs without a rest of at least `pause` seconds; breath signs and fermatas count as one."""
    run: list[Chord] = []
    for joint in joints(music, voice):
        run.append(joint.chord)
        if joint.silence >= pause or joint.sign:
            yield tuple(run)
            run = []


def seconds_of(run: Run) -> float:
    """How long a run lasts."""
    return run[-1].until - run[0].since


def entries(music: Music, voice: Voice, pause: float) -> Iterator[Chord]:
    """The first chord of each stretch."""
    return (run[0] for run in stretches(music, voice, pause))
