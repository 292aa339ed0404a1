"""The score from top to bottom: what sounds together, moment by moment."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple
from weakref import WeakKeyDictionary

from expander.checks.music import Chord, Head, Music, Stand

SHADOWS = ("pitched percussion", "unpitched percussion")
"""Families that colour a chord and are no part of its spacing."""


class Tone(NamedTuple):
    """One sounding head and who has it."""

    height: int
    stand: Stand
    chord: Chord
    head: Head


class Slice(NamedTuple):
    """What sounds from `start` to `end` (absolute ticks), the lowest first."""

    start: int
    end: int
    tones: tuple[Tone, ...]

    @property
    def fresh(self) -> tuple[Tone, ...]:
        """The tones that begin here."""
        return tuple(t for t in self.tones if t.chord.start == self.start and t.head.struck)


_KEPT: WeakKeyDictionary[Music, tuple[Slice, ...]] = WeakKeyDictionary()


def slices(music: Music) -> tuple[Slice, ...]:
    """Every sonority of the score in order; made once for each score."""
    found = _KEPT.get(music)
    if found is None:
        found = _KEPT[music] = tuple(_swept(music))
    return found


def _swept(music: Music) -> Iterator[Slice]:
    begins = _beginnings(music)
    ends = sorted({tone.chord.end for tones in begins.values() for tone in tones})
    ticks = sorted({*begins, *ends})
    sounding: list[Tone] = []
    for tick, after in pairwise(ticks):
        sounding = [tone for tone in sounding if tone.chord.end > tick]
        if tick in begins:
            sounding = sorted([*sounding, *begins[tick]], key=_height)
        if sounding:
            yield Slice(tick, after, tuple(sounding))


def _beginnings(music: Music) -> dict[int, list[Tone]]:
    found: dict[int, list[Tone]] = {}
    for stand in music.stands:
        if stand.family in SHADOWS:
            continue
        for chord in stand.chords:
            if chord.end > chord.start:
                here = found.setdefault(chord.start, [])
                here += [
                    Tone(head.height, stand, chord, head)
                    for head in chord.heads
                    if head.harmonic not in ("touch", "sound")
                ]
    return found


def _height(tone: Tone) -> int:
    return tone.height


def lasts(music: Music, one: Slice) -> float:
    """Seconds of a sonority."""
    return music.seconds(one.start, one.end)
