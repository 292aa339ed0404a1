"""From what is written to what is heard: a Document becomes a Sketch, its notes numbered.

Written and sounding differ by the transposition in force at each place of each staff. An octave
line (8va) changes nothing here: MusicXML's pitch under it has the octave meant already.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import count, repeat
from typing import cast

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import (
    CONCERT,
    Drum,
    Interval,
    Pitch,
    Sounding,
    Transposition,
    Written,
)
from expander.model.score import (
    Change,
    Document,
    Event,
    Harmony,
    Key,
    Mark,
    Note,
    P,
    Part,
    PartBar,
    Score,
    Sketch,
    staves_of,
)

NO_ORIGIN = -1
_APPLIED = frozenset({"transpose", "for-part"})

Place = tuple[int, int, int, int]
"""Bar, layer, event in the layer's bar, head in the event; all indices."""


class Origin(Struct, frozen=True):
    """Where the sketch note of a number begins.

    `staff` counts from 1 down the whole sketch, `layer` from 1 down the staff, `bar` is the bar's
    index, `at` a tick in it. `pitch` is sounding.
    """

    number: int
    staff: int
    layer: int
    bar: int
    at: int
    pitch: Sounding | Drum


def to_sounding(document: Document) -> Sketch:
    """The document as it is heard, transpositions applied and done away with.

    Pitches, keys and chord symbols are moved by the transposition in force at their place; a key
    outside the circle of fifths (`Key.own`) is left as it stands. Each note gets its `origin`, in
    order of staff, layer and time: a chain of tied notes is one, grace notes count, notes of cue
    events have -1.
    """
    numbers = _numbers(document)
    parts = tuple(
        _Sounded(part, own).part() for part, own in zip(document.parts, numbers, strict=True)
    )
    return Score(
        document.grid,
        document.header,
        document.bars,
        parts,
        document.brackets,
        document.warnings,
    )


def origins(sketch: Sketch) -> Mapping[int, Origin]:
    """Every note number of the sketch with its address, in order of the numbers."""
    found: dict[int, Origin] = {}
    for staff, number, index, layer in _layers(sketch):
        notes = (
            (note.origin, bar, event.at, note.pitch)
            for bar, content in enumerate(sketch.parts[index].bars)
            for event in content.layers[layer]
            for note in event.notes
        )
        for origin, bar, at, pitch in notes:
            if origin not in found and origin != NO_ORIGIN:
                found[origin] = Origin(origin, staff, number, bar, at, pitch)
    return dict(sorted(found.items()))


def heard_pitches(part: Part[Written]) -> Iterator[tuple[int, Event[Written], Sounding | Drum]]:
    """Every head of a part as it is heard, with its bar's index and its event (as written)."""
    sounded = _Sounded(part, [])
    for index, content in enumerate(part.bars):
        sounded.begin(content)
        for home, events in zip(part.layers, content.layers, strict=True):
            heads = ((event, note) for event in events for note in event.notes)
            for event, note in heads:
                yield index, event, sounded.heard(event.at, note, home.staff)


class HeardPart:
    """A part as it is heard, its notes worked out when they are asked for and not numbered."""

    def __init__(self, part: Part[Written]) -> None:
        self._part = part
        self._sounded = _Sounded(part, [repeat(NO_ORIGIN) for _ in part.layers])
        self._moves: list[_Moves] = []
        changes = []
        for content in part.bars:
            self._sounded.begin(content)
            self._moves.append(self._sounded.moves)
            changes.append(tuple(self._sounded.changes(content.changes)))
        self.changes = tuple(changes)
        """Keys and what else changes, by bar."""

    def events(self, bar: int, layer: int) -> tuple[Event[Sounding], ...]:
        """What is in a bar of a layer (both indices)."""
        self._sounded.moves = self._moves[bar]
        return self._sounded.layer(self._part.bars[bar], layer)


def _layers(score: Score[P]) -> Iterator[tuple[int, int, int, int]]:
    """Every layer from the top down: staff and layer as `Origin` counts them, part, layer."""
    for address in staves_of(score):
        for number, layer in enumerate(address.layers, start=1):
            yield address.number, number, address.part, layer


def _notes_of(part: Part[P], layer: int) -> Iterator[tuple[Place, Event[P], Note[P]]]:
    """Every note of a layer, in order of time."""
    for bar, content in enumerate(part.bars):
        for index, event in enumerate(content.layers[layer]):
            for head, note in enumerate(event.notes):
                yield (bar, layer, index, head), event, note


# Transposition -----------------------------------------------------------------------------------


class _Moves:
    """The transpositions of a part's staves inside one bar, by tick."""

    def __init__(self, before: dict[int, Transposition]) -> None:
        self.after = dict(before)
        self.steady = True
        """Whether one state lasts all through the bar."""
        self.heard: dict[tuple[int, int], Sounding | Drum] = {}
        """What was worked out in that state, by the identity of a written pitch and its staff."""
        self._steps: list[tuple[int, dict[int, Transposition]]] = [(0, dict(before))]

    def add(self, change: Change, move: Transposition) -> None:
        """From a change's tick on, its staff (0: all) has this transposition."""
        if change.staff == 0:
            self.after = {0: move}
        else:
            self.after[change.staff] = move
        self._steps.append((change.at, dict(self.after)))
        self.steady = False

    def at(self, tick: int, staff: int) -> Transposition:
        """The transposition in force at a tick of a staff (0: the first)."""
        state = self.after if self.steady else self._state(tick)
        return state.get(staff or 1, state.get(0, CONCERT))

    def _state(self, tick: int) -> dict[int, Transposition]:
        state = self._steps[0][1]
        for start, later in self._steps:
            if start <= tick:
                state = later
        return state


class _Sounded:
    """One part on its way to sounding pitch."""

    def __init__(self, part: Part[Written], numbers: Sequence[Iterable[int]]) -> None:
        self._part = part
        self._numbers = [iter(own) for own in numbers]
        self.moves = _Moves({})
        self._keys: dict[int, Key] = {}
        self._pitches: dict[tuple[int, int], Sounding] = {}

    def part(self) -> Part[Sounding]:
        part = self._part
        bars = tuple(self._bar(content) for content in part.bars)
        return Part(
            part.id,
            part.name,
            part.short,
            part.staves,
            part.layers,
            bars,
            part.sounds,
            part.carried,
        )

    def begin(self, content: PartBar[Written]) -> None:
        """From here on, notes are those of this bar; bars are begun in order."""
        new = [(c, c.what) for c in content.changes if isinstance(c.what, Transposition)]
        if new or not self.moves.steady:
            self.moves = _Moves(self.moves.after)
        for change, move in new:
            self.moves.add(change, move)

    def _bar(self, content: PartBar[Written]) -> PartBar[Sounding]:
        self.begin(content)
        return PartBar(
            tuple([self.layer(content, index) for index in range(len(content.layers))]),
            tuple(self.changes(content.changes)) if content.changes else (),
            content.directions,
            tuple([self._harmony(h) for h in content.harmonies]),
            content.barlines,
            content.carried,
            content.attributes,
        )

    def layer(self, content: PartBar[Written], index: int) -> tuple[Event[Sounding], ...]:
        """A layer of the bar in hand."""
        home, numbers = self._part.layers[index].staff, self._numbers[index]
        return tuple([self._event(event, home, numbers) for event in content.layers[index]])

    def _event(self, event: Event[Written], home: int, numbers: Iterator[int]) -> Event[Sounding]:
        if not event.notes:
            return cast(Event[Sounding], event)
        notes = tuple([self._note(event.at, n, home, next(numbers)) for n in event.notes])
        return Event(
            event.at,
            event.duration,
            notes,
            event.value,
            event.marks,
            event.beams,
            event.lyrics,
            event.grace,
            event.cue,
            event.whole_bar,
            event.stem,
            event.rest_staff,
            event.attributes,
            event.carried,
        )

    def _note(self, at: int, note: Note[Written], home: int, origin: int) -> Note[Sounding]:
        return Note(
            self.heard(at, note, home),
            note.tie_start,
            note.tie_stop,
            note.accidental,
            note.head,
            note.marks,
            note.attributes,
            note.voice_staff,
            origin,
        )

    def heard(self, at: int, note: Note[Written], home: int) -> Sounding | Drum:
        """A head's pitch as it is heard, at a tick of the bar in hand and on its home staff."""
        key = (id(note.pitch), note.voice_staff or home)  # the pitch belongs to the part
        found = self.moves.heard.get(key)
        if found is None:
            found = self._moved(note.pitch, self.moves.at(at, key[1]))
            if self.moves.steady:
                self.moves.heard[key] = found
        return found

    def _moved(self, pitch: Written | Drum, move: Transposition) -> Sounding | Drum:
        if isinstance(pitch, Drum):
            return pitch
        key = (id(pitch), id(move))  # both belong to the part
        found = self._pitches.get(key)
        if found is None:
            found = self._pitches[key] = move.sounding(pitch)
        return found

    def changes(self, changes: tuple[Change, ...]) -> Iterator[Change]:
        """Keys as they sound; a new transposition gives the written key in force a new sound."""
        rekeyed = {(c.at, c.staff) for c in changes if isinstance(c.what, Key)}
        for change in changes:
            what = change.what
            if isinstance(what, Key):
                self._remember(what, change.staff)
                yield replace(change, what=self._key(what, change.at, change.staff))
            elif isinstance(what, Transposition):
                yield from self._sounding_anew(change, rekeyed)
            elif not (isinstance(what, Mark) and what.name in _APPLIED):
                yield change

    def _remember(self, key: Key, staff: int) -> None:
        if staff == 0:
            self._keys.clear()
        self._keys[staff] = key

    def _sounding_anew(self, change: Change, rekeyed: set[tuple[int, int]]) -> Iterator[Change]:
        written = self._keys.get(change.staff, self._keys.get(0))
        if written is None or rekeyed & {(change.at, change.staff), (change.at, 0)}:
            return
        yield replace(change, what=self._key(written, change.at, change.staff))

    def _key(self, key: Key, at: int, staff: int) -> Key:
        shift = self.moves.at(at, staff).interval.fifths
        return key if key.own or not shift else replace(key, fifths=key.fifths + shift)

    def _harmony(self, harmony: Harmony[Written]) -> Harmony[Sounding]:
        interval = self.moves.at(harmony.at, harmony.staff).interval
        return Harmony(
            harmony.at,
            _moved_name(harmony.root, interval),
            harmony.kind,
            harmony.text,
            harmony.inversion,
            _moved_name(harmony.bass, interval),
            harmony.degrees,
            harmony.staff,
            harmony.mark,
        )


def _moved_name(name: tuple[int, int] | None, interval: Interval) -> tuple[int, int] | None:
    if name is None:
        return None
    moved = Pitch(name[0], name[1], 4).moved(interval)
    return moved.step, int(moved.alter)


# Numbers -----------------------------------------------------------------------------------------


def _numbers(document: Document) -> list[list[list[int]]]:
    """For each part and layer, the numbers of its notes in order of time."""
    numbers: list[list[list[int]]] = [[[] for _ in part.layers] for part in document.parts]
    chains = [_chains(document, part) for part in document.parts]
    begun: list[dict[Place, int]] = [dict.fromkeys(heads.values(), 0) for heads in chains]
    later: list[tuple[list[int], int, dict[Place, int], Place]] = []
    free = count()
    for _, _, index, layer in _layers(document):
        own = numbers[index][layer]
        for place, event, note in _notes_of(document.parts[index], layer):
            if not (note.tie_start or note.tie_stop):
                own.append(NO_ORIGIN if event.cue else next(free))
                continue
            if place in chains[index]:
                later.append((own, len(own), begun[index], chains[index][place]))
            own.append(NO_ORIGIN if event.cue or place in chains[index] else next(free))
            if place in begun[index]:
                begun[index][place] = own[-1]
    for own, at, first, head in later:
        own[at] = first[head]
    return numbers


class _Tie(Struct):
    """A tie that waits for its second note: where its chain began, and when it is due."""

    head: Place
    due: int
    layer: int


def _chains(document: Document, part: Part[Written]) -> dict[Place, Place]:
    """Each later note of a chain of ties, with the first note of the chain."""
    heads: dict[Place, Place] = {}
    waiting: dict[Written | Drum, list[_Tie]] = {}
    for start, place, event, note in _tied(document, part):
        head = place
        if note.tie_stop:
            tie = _due(waiting.get(note.pitch, []), start, place[1])
            if tie is not None:
                waiting[note.pitch].remove(tie)
                head = heads[place] = tie.head
        if note.tie_start:
            tie = _Tie(head, start + event.duration, place[1])
            waiting.setdefault(note.pitch, []).append(tie)
    return heads


def _tied(
    document: Document, part: Part[Written]
) -> list[tuple[int, Place, Event[Written], Note[Written]]]:
    """The part's notes with ties, in order of time, grace notes before full ones."""
    layers = range(len(part.layers))
    found = [
        (document.bars[bar].start + event.at, (bar, layer, index, head), event, note)
        for layer in layers
        for bar, content in enumerate(part.bars)
        for index, event in enumerate(content.layers[layer])
        for head, note in enumerate(event.notes)
        if (note.tie_start or note.tie_stop) and not event.cue
    ]
    return sorted(found, key=lambda tied: (tied[0], tied[2].duration > 0))


def _due(ties: list[_Tie], start: int, layer: int) -> _Tie | None:
    """The tie that ends here, of the note's own layer if there is one."""
    due = [tie for tie in ties if tie.due == start]
    own = [tie for tie in due if tie.layer == layer]
    return next(iter(own or due), None)
