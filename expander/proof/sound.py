"""What is heard: notes in milliseconds for the browser's synthesizer, player by player.

Sounds are General MIDI programs (MIDI 1.0, General MIDI System Level 1); which one stands for a
way of playing is common practice. Loudness follows the dynamics in force; short notes are the
articulations' usual half and three quarters (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from msgspec import Struct

from expander.checks.music import Chord, Music, Stand
from expander.model.pitch import Written
from expander.model.score import Part
from expander.outline.curves import level_number
from expander.outline.heard import heights

PIZZICATO = 46
MUTED_TRUMPET = 60
TREMOLO_STRINGS = 45
_BOWED = range(41, 46)
_TRUMPETS = range(57, 59)

_SHORT = {"staccatissimo": 0.35, "staccato": 0.5, "detached-legato": 0.75, "spiccato": 0.4}
_GRACE = 0.08
"""Seconds of a grace note, taken from before its note."""

_PLAIN, _SOFTEST, _STEP = 4.0, 34, 12
SNARE = 38
"""The drum that stands for one whose sound the file does not name."""


class _Note(Struct, frozen=True):
    """A note to come: milliseconds, key, velocity, program (0: drums)."""

    at: int
    length: int
    key: int
    velocity: int
    program: int


def sounds(music: Music) -> list[dict[str, Any]]:
    """For each part its name and its notes as [start, length, key, velocity, program]."""
    return [
        {
            "name": stand.name,
            "notes": [
                [n.at, n.length, n.key, n.velocity, n.program]
                for n in sorted(_notes(music, stand), key=lambda n: (n.at, n.key))
            ],
        }
        for stand in music.stands
    ]


def bar_times(music: Music) -> list[int]:
    """The start of each bar in milliseconds, and the end of the last."""
    ends = [bar.start for bar in music.score.bars]
    if music.score.bars:
        ends.append(music.score.bars[-1].start + music.score.bars[-1].length)
    return [_ms(music, tick) for tick in ends]


def runs(order: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The stretches of neighbouring bars in a playing order, first and last."""
    for _, bars in groupby(enumerate(order), key=lambda step: step[1] - step[0]):
        stretch = [bar for _, bar in bars]
        yield stretch[0], stretch[-1]


def _ms(music: Music, tick: int) -> int:
    return round(1000 * music.clock.at(tick))


def _notes(music: Music, stand: Stand) -> Iterator[_Note]:
    keys = drum_keys(stand.part)
    for voice in stand.voices:
        held: dict[int, _Note] = {}
        for chord in voice.chords:
            if chord.event.cue:
                continue
            yield from _drums(music, chord, keys)
            yield from _pitched(music, stand, chord, held)
        yield from held.values()


def _pitched(music: Music, stand: Stand, chord: Chord, held: dict[int, _Note]) -> Iterator[_Note]:
    """The notes that end before a chord; its own are held back for ties."""
    start, end = _span(music, chord)
    tied = {h.height for h in chord.heads if h.note.tie_stop}
    program, velocity = program_of(stand, chord), velocity_of(chord)
    for key in [k for k in held if k not in tied]:
        yield held.pop(key)
    for key in dict.fromkeys(heights(chord)):
        if key in held:
            first = held[key]
            held[key] = _Note(first.at, end - first.at, key, first.velocity, program)
        else:
            held[key] = _Note(start, end - start, key, velocity, program)


def _drums(music: Music, chord: Chord, keys: Mapping[str, int]) -> Iterator[_Note]:
    start, end = _span(music, chord)
    for drum in chord.drums:
        yield _Note(start, end - start, keys.get(drum.instrument, SNARE), velocity_of(chord), 0)


def _span(music: Music, chord: Chord) -> tuple[int, int]:
    start, end = _ms(music, chord.start), _ms(music, chord.end)
    if chord.end == chord.start:  # a grace note
        return max(0, start - round(1000 * _GRACE)), start
    share = next((part for name, part in _SHORT.items() if chord.has(name)), 1.0)
    return start, start + max(30, round((end - start) * share))


def drum_keys(part: Part[Written]) -> dict[str, int]:
    """The MIDI key (from 0) of each unpitched sound of a part; "" is the first."""
    found = {sound.id: sound.key - 1 for sound in part.sounds if sound.key}
    return {**({"": next(iter(found.values()))} if found else {}), **found}


def program_of(stand: Stand, chord: Chord) -> int:
    """The General MIDI program (from 1) for the way a chord is played."""
    hand = chord.hand
    given = stand.part.sounds[0].program if stand.part.sounds else 0
    own = hand.instrument.program if hand.instrument else 0
    program = (own or given) if hand.instrument is not stand.instrument else (given or own)
    if program in _BOWED and hand.bow == "pizz":
        return PIZZICATO
    if program in _BOWED and chord.has("tremolo"):
        return TREMOLO_STRINGS
    if program in _TRUMPETS and hand.mute:
        return MUTED_TRUMPET
    return program or 1


def velocity_of(chord: Chord) -> int:
    """MIDI velocity from the dynamic in force, more for accents."""
    level = level_number(chord.hand.dynamic)
    loud = _SOFTEST + _STEP * (_PLAIN if level is None else level)
    accent = 14 if chord.has("accent", "strong-accent") else 0
    return min(127, round(loud + accent))
