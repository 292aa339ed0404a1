"""The score from top to bottom: what sounds together, moment by moment."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from msgspec import Struct

from expander.checks.music import HEIGHT, Chord, Head, Music, Stand

SHADOWS = ("pitched percussion", "unpitched percussion")
"""Families that colour a chord and are no part of its spacing."""

SILENT = ("touch", "sound")
"""Heads of harmonics that only say how or what."""


class Tone(Struct, frozen=True):
    """One sounding head and who has it; `end` is the absolute tick at which it ends."""

    height: int
    end: int
    stand: Stand
    chord: Chord
    head: Head


class Slice(Struct, frozen=True):
    """What sounds from `start` to `end` (absolute ticks), the lowest first, with its heights.

    `seconds` is how long it lasts.
    """

    start: int
    end: int
    seconds: float
    tones: tuple[Tone, ...]
    heights: tuple[int, ...]

    @property
    def fresh(self) -> tuple[Tone, ...]:
        """The tones that begin here."""
        return tuple(t for t in self.tones if t.chord.start == self.start and t.head.struck)


Slices = tuple[Slice, ...]


def slices(music: Music) -> Slices:
    """Every sonority of the score in order; made once for each score."""
    found: Slices = music.kept.get((), "slices", lambda: tuple(_swept(music)))
    return found


def _swept(music: Music) -> Iterator[Slice]:
    stands = [stand for stand in music.stands if stand.family not in SHADOWS]
    begins: dict[int, list[Tone]] = {
        c.start: [] for s in stands for c in s.chords if c.end > c.start
    }
    tones = [tone for stand in stands for tone in _tones(stand)]
    for tone in tones:
        begins[tone.chord.start].append(tone)
    ticks = sorted({*begins, *[tone.end for tone in tones]})
    sounding: list[Tone] = []
    for tick, after in pairwise(ticks):
        sounding = [tone for tone in sounding if tone.end > tick]
        if tick in begins:
            sounding += begins[tick]
            sounding.sort(key=HEIGHT)
        if sounding:
            heights = tuple([tone.height for tone in sounding])
            yield Slice(tick, after, music.seconds(tick, after), tuple(sounding), heights)


def _tones(stand: Stand) -> list[Tone]:
    """All that sounds of a part: of harmonics the stopped note or the one there is."""
    return [
        Tone(head.height, chord.end, stand, chord, head)
        for chord in stand.chords
        if chord.end > chord.start
        for head in chord.heads
        if head.harmonic not in SILENT
    ]
