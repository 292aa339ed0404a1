"""The leading note in two parts."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.lines import few_lines
from expander.checks.music import Music, Stand
from expander.checks.sonority import Slice, Tone, slices
from expander.model.finding import Severity

OCTAVE = 12
LEADING = 11
MINOR = 9
"""Semitones from the major tonic of a signature up to its relative minor's tonic."""


def detect(music: Music) -> Iterator[Hit]:
    """Leading notes struck by two lines at once in a dominant that resolves."""
    lines = few_lines(music)
    if len(lines) < 3:
        return
    names = frozenset(stand.index for stand in lines)
    shortest = figure("chords", "sustained")
    for one, after in pairwise(slices(music)):
        doubled = _doubled(one, after, names)
        if doubled and one.seconds >= shortest:
            yield _hit(music, one, doubled)


def _doubled(one: Slice, after: Slice, lines: frozenset[int]) -> tuple[Tone, ...]:
    """The leading notes of a slice where two different lines have them and the tonic follows."""
    first = one.tones[0]
    fifths = first.chord.hand.fifths
    if fifths is None or one.end != after.start:
        return ()
    major = (7 * fifths + first.chord.hand.move.chromatic) % OCTAVE
    for tonic in (major, (major + MINOR) % OCTAVE):
        found = [t for t in one.fresh if (t.height - tonic) % OCTAVE == LEADING]
        owners = {t.stand.index for t in found} & lines
        home = any(tone.height % OCTAVE == tonic for tone in (after.tones[0],))
        dominant = (one.tones[0].height - tonic) % OCTAVE in (7, 2, 11)
        if len(owners) > 1 and home and dominant:
            return tuple(found)
    return ()


def _hit(music: Music, one: Slice, found: tuple[Tone, ...]) -> Hit:
    bar, at = music.place(one.start)
    stands: list[Stand] = list({t.stand.index: t.stand for t in found}.values())
    return Hit(
        found[-1].stand,
        bar,
        at,
        f"the leading note is doubled: {' and '.join(stand.name for stand in stands)}.",
        pitch=str(found[-1].head.written),
        figure="once",
    )


CHECK = Check(
    id="doubled-leading-note",
    title="Leading note doubled",
    finds="The leading note in two lines of a small score, in a dominant that goes home.",
    why="Both want to rise: one leaps, or octaves follow.",
    example="B in alto and tenor in a G major chord before C.",
    instead="Double the root or the fifth of the dominant.",
    severity=Severity.NOTE,
    source="Any harmony book (common practice).",
    detect=detect,
)
