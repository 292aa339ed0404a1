"""The score as a check wants to see it, prepared once: see `prepare.music_of`.

Conventions
    Ticks are those of `Score.grid`; `start` and `end` count from the start of the piece, `at`
    from the start of the bar. Heights are sounding semitones (middle C = 60), what a player
    hears, whatever the part is written in.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from functools import cached_property
from itertools import groupby
from operator import attrgetter
from typing import Any

from msgspec import Struct, field

from expander.checks.contents import Contents
from expander.checks.tempo import Clock, Moments
from expander.model.finding import Ledger
from expander.model.instrument import Ensemble, Instrument, Range
from expander.model.memo import ByIdentity
from expander.model.pitch import Drum, Interval, Pitch, Sounding, Transposition, Written
from expander.model.score import Clef, Direction, Document, Event, Note, Part

ONE_PLAYER = ("1.", "2.", "3.", "4.", "solo")
"""Labels of shared staves that name one player."""


class Hand(Struct, frozen=True):
    """What holds for a player at a moment.

    `move` leads from the file's pitch to the sounding one. `dynamic` is a MusicXML dynamic or "".
    `bow` is "", pizz, arco, col legno; `mute` is "" (open) or the mute's name; `sticks` the
    beaters named; `label` says who plays on a shared stave: one of `ONE_PLAYER`, "1. 2." (several
    of them), "a 2", "tutti"; `split` is "", div, unis or non div. `fifths` is the written key
    signature, None where it is outside the circle of fifths.
    """

    instrument: Instrument | None
    move: Interval
    dynamic: str = ""
    bow: str = ""
    mute: str = ""
    sticks: str = ""
    label: str = ""
    split: str = ""
    fifths: int | None = 0
    clef: Clef | None = None


class Head(Struct, frozen=True):
    """One pitched head. `harmonic` is "", natural, base (stopped), touch, sound or artificial."""

    written: Written
    height: int
    note: Note[Written]
    harmonic: str

    @property
    def struck(self) -> bool:
        """False for the later notes of a tied chain."""
        return not self.note.tie_stop


class Chord(Struct, frozen=True):
    """Notes that one layer begins together; `drums` are the unpitched ones.

    `since` and `until` are `start` and `end` in seconds from the start of the piece.
    """

    bar: int
    at: int
    start: int
    end: int
    heads: tuple[Head, ...]
    drums: tuple[Drum, ...]
    event: Event[Written]
    hand: Hand
    staff: int
    since: float
    until: float

    @property
    def struck(self) -> bool:
        """True where at least one note is new and not tied from before."""
        notes = self.event.notes
        return not notes[0].tie_stop or any(not note.tie_stop for note in notes)

    @property
    def top(self) -> Head:
        """The highest head. Raises ValueError where nothing is pitched."""
        return self.heads[0] if len(self.heads) == 1 else max(self.heads, key=HEIGHT)

    @property
    def bottom(self) -> Head:
        """The lowest head. Raises ValueError where nothing is pitched."""
        return self.heads[0] if len(self.heads) == 1 else min(self.heads, key=HEIGHT)

    def has(self, *names: str) -> bool:
        """True where the chord carries a mark of one of these names."""
        marks = self.event.marks
        return bool(marks) and any(mark.name in names for mark in marks)


HEIGHT = attrgetter("height")
"""The height of a head or tone, for sorting."""


class Voice(Struct, frozen=True):
    """One layer of a part: its sounding events in order, grace notes among them."""

    staff: int
    name: str
    chords: tuple[Chord, ...]


class Words(Struct, frozen=True):
    """Words above or below a stave, folded to lower case in `plain`."""

    bar: int
    at: int
    start: int
    staff: int
    text: str
    plain: str
    direction: Direction


class InHand(Struct, frozen=True):
    """From `start` on this instrument is played; `said` where words or a sound say so."""

    start: int
    bar: int
    at: int
    instrument: Instrument
    said: bool


class Span(Struct, frozen=True):
    """The lowest and highest sounding height that a part has with one instrument in hand."""

    instrument: Instrument
    low: int
    high: int


class Stand(Struct, frozen=True, dict=True):
    """One part of the score: what stands on one player's (or section's) music stand.

    `name` is unique in the score. `instrument` is None where the part was not recognised; it has no
    ranges where a singer's voice is `doubtful`. `key` is
    the key its name has, `numbers` the players its name counts. `stated` is the transposition the
    file gives first, None where it gives none; `move` the one taken. `players` is how many read
    it. `voices` has every layer with music, `chords` all of them in order of time.
    `hands` are the states of each bar's start, by bar index. `cued` holds bars with cue notes.
    `contents` tell what there is to look for.
    """

    index: int
    name: str
    part: Part[Written]
    instrument: Instrument | None
    numbers: tuple[int, ...]
    key: str
    stated: Transposition | None
    move: Transposition
    players: int
    doubtful: bool
    sung: bool
    voices: tuple[Voice, ...]
    chords: tuple[Chord, ...]
    words: tuple[Words, ...]
    changes: tuple[InHand, ...]
    hands: tuple[Hand, ...]
    cued: frozenset[int]
    contents: Contents

    @property
    def family(self) -> str:
        """The family of its first instrument, "" where it was not recognised."""
        return self.instrument.family if self.instrument else ""

    @property
    def section(self) -> bool:
        """True for bowed strings and voices that more than one person reads from."""
        return self.family in ("strings", "voice") and self.players > 1

    @cached_property
    def spans(self) -> tuple[Span, ...]:
        """How low and high it goes with each instrument that is known."""
        heights = [head.height for chord in self.chords for head in chord.heads]
        if self.instrument is not None and len(self.changes) == 1 and heights:
            return (Span(self.changes[0].instrument, min(heights), max(heights)),)
        found: dict[int, Span] = {}
        for hand, group in groupby(self.chords, key=attrgetter("hand")):
            one = hand.instrument
            heights = [head.height for chord in group for head in chord.heads]
            if heights and one is not None:
                before = found.get(id(one), Span(one, heights[0], heights[0]))
                low, high = min(before.low, *heights), max(before.high, *heights)
                found[id(one)] = Span(one, low, high)
        return tuple(found.values())

    def says(self, *starts: str) -> tuple[Words, ...]:
        """The words that begin with one of these."""
        return tuple(w for w in self.words if w.plain.startswith(starts))


class Music(Struct, frozen=True, eq=False, weakref=True):
    """A score prepared for checking. `level` is a `check.Level` as text.

    `moments` are the seconds of ticks; `kept` has what several checks derive from one stand or
    voice.
    """

    score: Document
    stands: tuple[Stand, ...]
    clock: Clock
    moments: Moments
    level: str = "professional"
    ensemble: Ensemble | None = None
    ledger: Ledger | None = None
    starts: tuple[int, ...] = ()
    kept: ByIdentity[Any] = field(default_factory=ByIdentity)

    def seconds(self, start: int, end: int) -> float:
        """Seconds between two absolute ticks."""
        return self.moments[end] - self.moments[start]

    def place(self, tick: int) -> tuple[int, int]:
        """Bar index and tick in it of an absolute tick."""
        bar = max(0, bisect_right(self.starts, tick) - 1)
        return bar, tick - self.starts[bar]

    def compass(self, one: Instrument) -> Range | None:
        """The range that the level asks for, written in the instrument's own transposition."""
        column = {"student": one.student, "amateur": one.comfortable}
        return column.get(self.level) or one.professional

    @property
    def full(self) -> bool:
        """True for a score of several parts; False for a single player's part."""
        return len(self.stands) > 1


def lines(stands: Iterable[Stand]) -> Iterator[tuple[Stand, Voice]]:
    """Every voice of these stands with its stand."""
    for stand in stands:
        yield from ((stand, voice) for voice in stand.voices)


def named(head: Head, hand: Hand) -> str:
    """A note in words: written, and sounding where that is another: "A4 (sounding G4)"."""
    heard = heard_as(head.written, hand)
    return str(head.written) if heard == str(head.written) else f"{head.written} (sounding {heard})"


def heard_as(written: Written, hand: Hand) -> str:
    """The name of the sounding pitch."""
    moved: Pitch = written.moved(hand.move)
    return str(moved)


def in_both(low: Sounding | Written, one: Instrument, hand: Hand) -> str:
    """A limit of the catalogue's written range, as this part writes it and as it sounds."""
    heard = one.transposition.sounding(Written(low.step, low.alter, low.octave))
    here = heard.moved(-hand.move)
    return str(here) if str(here) == str(heard) else f"{here} (sounding {heard})"
