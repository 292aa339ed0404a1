"""The notes of a strand as they are to be dealt: tied chains whole, graces with their notes.

Conventions
    Bars are indices from 0; ticks of a `Tone` count from the start of the piece. Cue notes are
    information and are passed over.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct, field

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Note
from expander.voicing.tones import Tone

Head = Event[Sounding]
Place = tuple[int, int, int]
"""Bar, layer, index of the event in its layer."""


class Piece(Struct, frozen=True):
    """Some notes of one event, at their place; `start` is its tick from the start of all.

    `chord` is the chord of a line that it belongs to, in order: notes of one start and length are
    one; each grace has its own, before the note there.
    """

    place: Place
    start: int
    event: Head
    notes: tuple[Note[Sounding], ...]
    chord: tuple[int, ...]

    def single(self, note: Note[Sounding]) -> Piece:
        """One of its notes."""
        return Piece(self.place, self.start, self.event, (note,), self.chord)

    @property
    def end(self) -> int:
        """Tick at which it ends, from the start of the piece."""
        return self.start + self.event.duration


class Chain(Struct, frozen=True):
    """A note with what it is tied to and the graces before it: what one player plays whole."""

    tone: Tone
    pieces: tuple[Piece, ...]
    graces: tuple[Piece, ...] = ()

    @property
    def origins(self) -> tuple[int, ...]:
        """Numbers in the sketch of all its notes, each once."""
        numbers = [n.origin for p in (*self.graces, *self.pieces) for n in p.notes]
        return tuple(dict.fromkeys(numbers))


class Gathered(Struct, frozen=True):
    """A strand taken apart. `stray` are graces with no note in their layer to go with."""

    chains: tuple[Chain, ...]
    drums: tuple[Piece, ...]
    pauses: tuple[Piece, ...]
    stray: tuple[Piece, ...]


class _Open(Struct):
    """A chain that may still grow."""

    pieces: list[Piece]
    graces: list[Piece] = field(default_factory=list)


def pieces_of(
    layers: Mapping[int, tuple[Events, ...]], starts: Sequence[int], layer: int
) -> Iterator[Piece]:
    """All events of one layer in order of time, cues left out."""
    for bar in sorted(layers):
        events = layers[bar][layer] if layer < len(layers[bar]) else ()
        start = starts[bar]
        for index, event in enumerate(events):
            if not event.cue:
                at, length = event.at, event.duration
                chord = (bar, at, 1, length) if length else (bar, at, 0, layer, index)
                yield Piece((bar, layer, index), start + at, event, event.notes, chord)


def gather(layers: Mapping[int, tuple[Events, ...]], starts: Sequence[int]) -> Gathered:
    """Take a strand apart into tied chains, unpitched notes and rests with a fermata."""
    count = max((len(bar) for bar in layers.values()), default=0)
    pitched: list[Piece] = []
    graces: list[Piece] = []
    drums: list[Piece] = []
    pauses: list[Piece] = []
    for layer in range(count):
        for piece in pieces_of(layers, starts, layer):
            _sort_out(piece, pitched, graces, drums, pauses)
    pitched.sort(key=lambda p: (p.start, p.place))
    chains, heads = _chains(pitched, leaned_on=bool(graces))
    stray = _hang_graces(graces, heads)
    done = [Chain(_tone(c), tuple(c.pieces), tuple(c.graces)) for c in chains]
    return Gathered(tuple(done), tuple(drums), tuple(pauses), tuple(stray))


def _sort_out(
    piece: Piece, pitched: list[Piece], graces: list[Piece], drums: list[Piece], pauses: list[Piece]
) -> None:
    if not piece.notes:
        if any([mark.name == "fermata" for mark in piece.event.marks]):
            pauses.append(piece)
    elif any([isinstance(note.pitch, Drum) for note in piece.notes]):
        drums.append(piece)
    elif piece.event.grace is not None or piece.event.duration == 0:
        graces.append(piece)
    else:
        pitched.append(piece)


def semitone(note: Note[Sounding]) -> int:
    """Sounding semitone, quarter tones rounded down. Raises TypeError for unpitched notes."""
    if isinstance(note.pitch, Drum):
        raise TypeError("an unpitched note has no semitone")
    return int(note.pitch.semitone)


def _chains(
    pitched: list[Piece], *, leaned_on: bool
) -> tuple[list[_Open], dict[Place, list[_Open]]]:
    """Join tied notes; also, where it is `leaned_on`, for each event the chains of its notes."""
    chains: list[_Open] = []
    heads: dict[Place, list[_Open]] = {}
    waiting: dict[tuple[int, int], list[_Open]] = {}
    for piece in pitched:
        for single in _singles(piece):
            note = single.notes[0]
            chain = _continued(waiting, single) if note.tie_stop else None
            if chain is None:
                chain = _Open([single])
                chains.append(chain)
            else:
                chain.pieces.append(single)
            if leaned_on:
                heads.setdefault(piece.place, []).append(chain)
            if note.tie_start:
                waiting.setdefault((single.end, semitone(note)), []).append(chain)
    return chains, heads


def _singles(piece: Piece) -> Sequence[Piece]:
    """A piece for each of its notes."""
    if len(piece.notes) == 1:
        return (piece,)
    return [piece.single(note) for note in piece.notes]


def _continued(waiting: dict[tuple[int, int], list[_Open]], single: Piece) -> _Open | None:
    """The chain that a note with the end of a tie goes on with: of its layer if there is one."""
    open_here = waiting.get((single.start, semitone(single.notes[0])), [])
    if not open_here:
        return None
    own = [c for c in open_here if c.pieces[-1].place[1] == single.place[1]]
    chosen = (own or open_here)[0]
    open_here.remove(chosen)
    return chosen


def _tone(chain: _Open) -> Tone:
    first, last = chain.pieces[0], chain.pieces[-1]
    return Tone(first.start, last.end, semitone(first.notes[0]), first.place[1])


def _hang_graces(graces: list[Piece], heads: dict[Place, list[_Open]]) -> list[Piece]:
    """Give each grace note to the note it precedes: the nearest in pitch of the next chord.

    At the end of a layer, where none follows, it belongs to the note before.
    """
    by_layer: dict[int, list[Place]] = {}
    for place in sorted(heads):
        by_layer.setdefault(place[1], []).append(place)
    stray = []
    for grace in graces:
        host = _host(by_layer.get(grace.place[1], []), grace.place)
        if host is None:
            stray.append(grace)
            continue
        for note, chain in _partners(grace, heads[host]):
            chain.graces.append(grace.single(note))
    return stray


def _host(places: list[Place], grace: Place) -> Place | None:
    """The next event of the layer, but in the same bar rather the one before than none."""
    index = bisect_left(places, grace)
    after = places[index] if index < len(places) else None
    before = places[index - 1] if index else None
    if before and before[0] == grace[0] and (after is None or after[0] != grace[0]):
        return before
    return after or before


def _partners(grace: Piece, chord: list[_Open]) -> list[tuple[Note[Sounding], _Open]]:
    """Each grace note with its partner: in order where the chords are alike, else the nearest."""
    ranked = sorted(chord, key=_pitch_of)
    notes = sorted(grace.notes, key=semitone)
    if len(notes) == len(ranked):
        return list(zip(notes, ranked, strict=True))
    return [
        (note, min(ranked, key=lambda c: (abs(_pitch_of(c) - semitone(note)), -_pitch_of(c))))
        for note in notes
    ]


def _pitch_of(chain: _Open) -> int:
    return semitone(chain.pieces[0].notes[0])
