"""What one player has to do at one moment: all heads struck together, over all voices."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from operator import attrgetter

from msgspec import Struct

from expander.checks.music import Chord, Head, Stand


class Grip(Struct, frozen=True):
    """Heads struck at one tick by the readers of one part; `first` is the first chord of them."""

    first: Chord
    chords: tuple[Chord, ...]
    heads: tuple[Head, ...]

    @property
    def heights(self) -> tuple[int, ...]:
        """Sounding semitones from the lowest up."""
        return tuple(sorted(head.height for head in self.heads))

    def has(self, *names: str) -> bool:
        """True where one of the chords carries a mark of that name."""
        return any(
            chord.has(*names) or any(m.name in names for n in chord.event.notes for m in n.marks)
            for chord in self.chords
        )


def grips(stand: Stand, least: int = 1) -> Iterator[Grip]:
    """Each tick at which at least so many heads are struck; grace notes are passed over."""
    if len(stand.voices) == 1:
        if stand.contents.most < least:
            return
        yield from _simple(stand.voices[0].chords, least, tied=stand.contents.tied)
        return
    main = [chord for chord in stand.chords if chord.event.grace is None and chord.heads]
    tied = stand.contents.tied
    for _, group in groupby(main, key=attrgetter("start")):
        chords = tuple(group)
        heads = _struck(chords, tied=tied)
        if len(heads) >= least and heads:
            yield Grip(chords[0], chords, heads)


def _struck(chords: tuple[Chord, ...], *, tied: bool) -> tuple[Head, ...]:
    """The new heads of chords; in a part without ties all are."""
    if len(chords) == 1 and not tied:
        return chords[0].heads
    return tuple([head for chord in chords for head in chord.heads if not head.note.tie_stop])


def grips_of(stands: Iterable[Stand], least: int = 1) -> Iterator[tuple[Stand, Grip]]:
    """The grips of several stands, each with its stand."""
    for stand in stands:
        yield from ((stand, grip) for grip in grips(stand, least))


def _simple(chords: tuple[Chord, ...], least: int, *, tied: bool) -> Iterator[Grip]:
    for chord in chords:
        if len(chord.heads) < least or chord.event.grace is not None:
            continue
        heads = _struck((chord,), tied=tied)
        if len(heads) >= least and heads:
            yield Grip(chord, (chord,), heads)


def names(grip: Grip) -> str:
    """The heads in words, from the lowest up: "G3 D4 B4"."""
    ordered = sorted(grip.heads, key=lambda head: head.height)
    return " ".join(str(head.written) for head in ordered)
