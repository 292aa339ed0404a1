"""Runs of notes between the places where a player can breathe."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest
from typing import NamedTuple

from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Voice

Run = tuple[Chord, ...]

_BREATHS = frozenset({"breath-mark", "caesura", "fermata"})
_SHORT = frozenset({"staccato", "staccatissimo", "detached-legato", "spiccato"})


class Joint(NamedTuple):
    """How one chord leads to the next: the silence in seconds, and what joins them."""

    silence: float
    tied: bool
    slurred: bool


def joints(music: Music, voice: Voice) -> Iterator[tuple[Chord, Joint]]:
    """Each chord of a voice with its way to the next; grace notes are passed over."""
    depth = 0
    chords = [chord for chord in voice.chords if chord.event.grace is None]
    for chord, after in zip_longest(chords, chords[1:]):
        depth = max(0, depth + _slurs(chord))
        silence = music.seconds(chord.end, after.start) if after else 3600.0
        tied = any(note.tie_start for note in chord.event.notes)
        yield chord, Joint(silence, tied, depth > 0)


def _slurs(chord: Chord) -> int:
    change = 0
    for mark in chord.event.marks:
        if mark.name == "slur":
            change += {"start": 1, "stop": -1}.get(mark.get("type"), 0)
    return change


def breaths(music: Music, voice: Voice) -> Iterator[Run]:
    """Runs without any place to breathe: no rest, no sign, no note that could be shortened."""
    silence, short = figure("no-breath", "silence"), figure("no-breath", "short")
    run: list[Chord] = []
    for chord, joint in joints(music, voice):
        run.append(chord)
        if joint.silence >= silence or _breathes(music, chord, joint, short):
            yield tuple(run)
            run = []


def _breathes(music: Music, chord: Chord, joint: Joint, short: float) -> bool:
    if chord.has(*_BREATHS):
        return True
    if joint.tied or joint.slurred:
        return False
    return chord.has(*_SHORT) or music.seconds(chord.start, chord.end) >= short


def stretches(music: Music, voice: Voice, pause: float) -> Iterator[Run]:
    """Runs without a rest of at least `pause` seconds; breath signs and fermatas count as one."""
    run: list[Chord] = []
    for chord, joint in joints(music, voice):
        run.append(chord)
        if joint.silence >= pause or chord.has(*_BREATHS):
            yield tuple(run)
            run = []


def seconds_of(music: Music, run: Run) -> float:
    """How long a run lasts."""
    return music.seconds(run[0].start, run[-1].end)


def entries(music: Music, voice: Voice, pause: float) -> Iterator[Chord]:
    """The first chord of each stretch."""
    return (run[0] for run in stretches(music, voice, pause))
