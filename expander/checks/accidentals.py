"""Which notes need an accidental, walking through a part as its reader does."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from expander.checks.music import Chord, Head, Stand

_SHARPS = (3, 0, 4, 1, 5, 2, 6)
"""Letters in the order of sharps: F C G D A E B; flats come the other way round."""


class Seen(NamedTuple):
    """A struck head: whether it needs an accidental, and whether one could remind the reader.

    `reminder` is True where the letter was altered before in this bar or the one before.
    """

    chord: Chord
    head: Head
    needed: bool
    reminder: bool

    @property
    def shown(self) -> bool:
        """True where an accidental is printed."""
        return self.head.note.accidental is not None

    @property
    def courtesy(self) -> bool:
        """True where the printed accidental says itself that it is one of courtesy."""
        mark = self.head.note.accidental
        return mark is not None and any(
            mark.get(name) == "yes"
            for name in ("cautionary", "parentheses", "editorial", "bracket")
        )


def signature(fifths: int) -> dict[int, int]:
    """The letters that a key signature alters."""
    if fifths >= 0:
        return dict.fromkeys(_SHARPS[:fifths], 1)
    return dict.fromkeys(_SHARPS[::-1][:-fifths], -1)


def walk(stand: Stand) -> Iterator[Seen]:
    """Every struck head of a part in reading order, stave by stave."""
    for staff in range(1, stand.part.staves + 1):
        yield from _Reader().read([c for c in stand.chords if c.staff == staff])


class _Reader:
    """What the reader of one stave keeps in mind."""

    def __init__(self) -> None:
        self.bar = -1
        self.fifths: int | None = None
        self.key: dict[int, int] = {}
        self.state: dict[tuple[int, int], float] = {}
        self.altered: set[int] = set()
        self.before: set[int] = set()

    def read(self, chords: list[Chord]) -> Iterator[Seen]:
        """The heads with what they need."""
        for chord in chords:
            self._turn(chord)
            if self.fifths is None:
                continue
            for head in chord.heads:
                if head.struck:
                    yield self._seen(chord, head)

    def _turn(self, chord: Chord) -> None:
        if chord.hand.fifths != self.fifths:
            self.fifths = chord.hand.fifths
            self.key = signature(self.fifths or 0)
            self.state = {}
        if chord.bar != self.bar:
            self.before = self.altered if chord.bar == self.bar + 1 else set()
            self.bar, self.state, self.altered = chord.bar, {}, set()

    def _seen(self, chord: Chord, head: Head) -> Seen:
        pitch = head.written
        place = (pitch.step, pitch.octave)
        alter = float(pitch.alter)
        usual = self.key.get(pitch.step, 0)
        needed = alter != self.state.get(place, usual)
        reminder = pitch.step in self.altered or pitch.step in self.before
        self.state[place] = alter
        if alter != usual:
            self.altered.add(pitch.step)
        return Seen(chord, head, needed, reminder)
