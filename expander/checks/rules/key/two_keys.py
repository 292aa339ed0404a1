"""Two keys of one instrument at the same time."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music, Stand
from expander.model.finding import Severity

OCTAVE = 12
NEAR = 3
"""Semitones: further apart are instruments of another size, such as the clarinet in E flat."""


def detect(music: Music) -> Iterator[Hit]:
    """Players of one instrument who read in different keys in the same bars, once a pair."""
    stands = sorted(
        (s for s in music.stands if s.instrument and s.family in ("woodwind", "brass")),
        key=lambda s: (s.instrument.name if s.instrument else "", s.index),
    )
    for name, group in groupby(stands, key=lambda s: s.instrument.name if s.instrument else ""):
        alike = list(group)
        for stand in alike[1:]:
            yield from _differ(music, name, alike[0], stand)


def _differ(music: Music, name: str, one: Stand, two: Stand) -> Iterator[Hit]:
    first, second = _keys(one), _keys(two)
    together = sorted(first.keys() & second.keys())
    bars = [b for b in together if 0 < _apart(first[b], second[b]) <= NEAR]
    if len(bars) >= figure("two-keys", "bars"):
        yield Hit(
            two,
            bars[0],
            0,
            f"reads in another key than {one.name} in {len(bars)} bars in which both play.",
            figure=f"one key for the {name.lower()}s",
        )


def _apart(one: int, two: int) -> int:
    """Semitones between two keys, the short way round."""
    way = abs(one - two) % OCTAVE
    return min(way, OCTAVE - way)


def _keys(stand: Stand) -> dict[int, int]:
    """For each bar with notes the transposition, octaves apart."""
    return {c.bar: c.hand.move.chromatic % OCTAVE for c in stand.chords}


CHECK = Check(
    id="two-keys",
    title="Two keys of one instrument at once",
    finds="Like players who read in different keys in the same bars.",
    why="They cannot check each other, and a shared instrument case may lack one of the two.",
    example="First clarinet in A, second in B flat.",
    instead="Give both the same key, unless the crooks are those of an older score.",
    severity=Severity.NOTE,
    source="Common practice; in scores with natural horns and trumpets it is the rule.",
    detect=detect,
)
