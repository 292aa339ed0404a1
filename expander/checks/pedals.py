"""The harp's pedals: which letters have to move, when, and whether the feet have time.

A pedal sets all strings of one letter. Each foot moves one pedal at a time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import groupby

from msgspec import Struct

from expander.catalogue.limits import limits
from expander.checks.music import Chord, Head
from expander.model.pitch import LETTERS


class Need(Struct, frozen=True):
    """A letter needs another state: after the tick it was last played in the old one, by a tick."""

    letter: int
    old: float
    new: float
    since: int
    by: int
    chord: Chord
    head: Head


class Clash(Struct, frozen=True):
    """A letter wanted in two states at one moment."""

    chord: Chord
    one: Head
    two: Head


@cache
def feet() -> tuple[frozenset[int], frozenset[int]]:
    """The letters of the left and the right foot."""
    rows = {row.what: str(row.value) for row in limits("harp")}
    left, right = (
        frozenset(LETTERS.index(letter) for letter in rows[foot].split())
        for foot in ("left foot", "right foot")
    )
    return left, right


def clashes(chords: Sequence[Chord]) -> Iterator[Clash]:
    """Letters in two states at one tick."""
    for _, heads in _moments(chords):
        seen: dict[int, tuple[Chord, Head]] = {}
        for chord, head in heads:
            before = seen.setdefault(head.written.step, (chord, head))
            if before[1].written.alter != head.written.alter:
                yield Clash(chord, before[1], head)


def needs(chords: Sequence[Chord]) -> Iterator[Need]:
    """Every pedal change, in order; the pedals are set before the first note of each letter."""
    state: dict[int, tuple[float, int]] = {}
    for tick, heads in _moments(chords):
        for chord, head in heads:
            letter, alter = head.written.step, float(head.written.alter)
            old = state.get(letter)
            if old and old[0] != alter and old[1] < tick:
                yield Need(letter, old[0], alter, old[1], tick, chord, head)
            state[letter] = (alter, tick)


def _moments(chords: Sequence[Chord]) -> Iterator[tuple[int, list[tuple[Chord, Head]]]]:
    for tick, group in groupby(chords, key=lambda chord: chord.start):
        yield tick, [(c, h) for c in group for h in c.heads if h.struck]


def late(
    changes: Sequence[Need], seconds: Sequence[tuple[float, float]], each: float
) -> list[Need]:
    """Changes that a foot cannot make in time, taking them in order of their deadline.

    `seconds` are the earliest and latest moment of each change, `each` the time one takes.
    """
    found: list[Need] = []
    for foot in feet():
        free = -1e9
        mine = [(n, s) for n, s in zip(changes, seconds, strict=True) if n.letter in foot]
        for need, (since, by) in sorted(mine, key=lambda one: one[1][1]):
            end = max(free, since) + each
            if end > by + 1e-6:
                found.append(need)
            else:
                free = end
    return sorted(found, key=lambda need: need.by)
