"""From what is written to what is heard: a Document becomes a Sketch, its notes numbered.

Written and sounding differ by the transposition in force at each place of each staff. An octave
line (8va) changes nothing here: MusicXML's pitch under it has the octave meant already.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

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


@dataclass(frozen=True, slots=True)
class Origin:
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
    parts = tuple(_Sounded(part).part() for part in document.parts)
    numbered = _numbered(Score(document.grid, document.header, document.bars, parts))
    return replace(numbered, brackets=document.brackets, warnings=document.warnings)


def origins(sketch: Sketch) -> Mapping[int, Origin]:
    """Every note number of the sketch with its address, in order of the numbers."""
    found: dict[int, Origin] = {}
    for address in staves_of(sketch):
        part = sketch.parts[address.part]
        for number, layer in enumerate(address.layers, start=1):
            for bar, event, note in _notes_of(part, layer):
                if note.origin not in found and note.origin != NO_ORIGIN:
                    found[note.origin] = Origin(
                        note.origin, address.number, number, bar, event.at, note.pitch
                    )
    return dict(sorted(found.items()))


def fifths_of(interval: Interval) -> int:
    """How many steps of the circle of fifths an interval is: 1 for a fifth up, 0 for octaves."""
    return 7 * interval.chromatic - 12 * interval.diatonic


def _notes_of(
    part: Part[Sounding], layer: int
) -> Iterator[tuple[int, Event[Sounding], Note[Sounding]]]:
    for bar, content in enumerate(part.bars):
        for event in content.layers[layer]:
            for note in event.notes:
                yield bar, event, note


# Transposition -----------------------------------------------------------------------------------


class _Moves:
    """The transpositions of a part's staves inside one bar, by tick."""

    def __init__(self, before: dict[int, Transposition]) -> None:
        self.after = dict(before)
        self._steps: list[tuple[int, dict[int, Transposition]]] = [(0, dict(before))]

    def add(self, change: Change, move: Transposition) -> None:
        """From a change's tick on, its staff (0: all) has this transposition."""
        if change.staff == 0:
            self.after = {0: move}
        else:
            self.after[change.staff] = move
        self._steps.append((change.at, dict(self.after)))

    def at(self, tick: int, staff: int) -> Transposition:
        """The transposition in force at a tick of a staff (0: the first)."""
        state = self._steps[0][1]
        for start, later in self._steps:
            if start <= tick:
                state = later
        return state.get(staff or 1, state.get(0, CONCERT))


class _Sounded:
    """One part on its way to sounding pitch."""

    def __init__(self, part: Part[Written]) -> None:
        self._part = part
        self._moves = _Moves({})
        self._keys: dict[int, Key] = {}
        self._pitches: dict[tuple[Written, Transposition], Sounding] = {}

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

    def _bar(self, content: PartBar[Written]) -> PartBar[Sounding]:
        self._moves = _Moves(self._moves.after)
        for change in content.changes:
            if isinstance(change.what, Transposition):
                self._moves.add(change, change.what)
        layers = tuple(
            tuple([self._event(event, layer.staff) for event in events])
            for layer, events in zip(self._part.layers, content.layers, strict=True)
        )
        return PartBar(
            layers,
            tuple(self._changes(content.changes)),
            content.directions,
            tuple(self._harmony(h) for h in content.harmonies),
            content.barlines,
            content.carried,
            content.attributes,
        )

    def _event(self, event: Event[Written], home: int) -> Event[Sounding]:
        notes = tuple([self._note(event.at, note, home) for note in event.notes])
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

    def _note(self, at: int, note: Note[Written], home: int) -> Note[Sounding]:
        pitch = note.pitch
        heard: Sounding | Drum = (
            pitch
            if isinstance(pitch, Drum)
            else self._pitch(pitch, self._moves.at(at, note.voice_staff or home))
        )
        return Note(
            heard,
            note.tie_start,
            note.tie_stop,
            note.accidental,
            note.head,
            note.marks,
            note.attributes,
            note.voice_staff,
        )

    def _pitch(self, pitch: Written, move: Transposition) -> Sounding:
        key = (pitch, move)
        found = self._pitches.get(key)
        if found is None:
            found = self._pitches[key] = move.sounding(pitch)
        return found

    def _changes(self, changes: tuple[Change, ...]) -> Iterator[Change]:
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
        shift = fifths_of(self._moves.at(at, staff).interval)
        return key if key.own or not shift else replace(key, fifths=key.fifths + shift)

    def _harmony(self, harmony: Harmony[Written]) -> Harmony[Sounding]:
        interval = self._moves.at(harmony.at, harmony.staff).interval
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


def _numbered(sketch: Sketch) -> Sketch:
    """The sketch with its notes' origins filled in."""
    chains = [_chains(sketch, part) for part in sketch.parts]
    numbers: list[dict[Place, int]] = [{} for _ in sketch.parts]
    following = 0
    for address in staves_of(sketch):
        heads, given = chains[address.part], numbers[address.part]
        for layer in address.layers:
            for place in _places(sketch.parts[address.part], layer):
                if place not in heads:
                    given[place] = following
                    following += 1
    for heads, given in zip(chains, numbers, strict=True):
        given.update((place, given[head]) for place, head in heads.items())
    parts = tuple(
        replace(part, bars=_with_numbers(part, given))
        for part, given in zip(sketch.parts, numbers, strict=True)
    )
    return replace(sketch, parts=parts)


def _places(part: Part[Sounding], layer: int) -> Iterator[Place]:
    """Every note of a layer that has a number, in order of time."""
    for bar, content in enumerate(part.bars):
        for index, event in enumerate(content.layers[layer]):
            if not event.cue:
                for head in range(len(event.notes)):
                    yield bar, layer, index, head


@dataclass(slots=True)
class _Tie:
    """A tie that waits for its second note: where its chain began, and when it is due."""

    head: Place
    due: int
    layer: int


def _chains(sketch: Sketch, part: Part[Sounding]) -> dict[Place, Place]:
    """Each later note of a chain of ties, with the first note of the chain."""
    heads: dict[Place, Place] = {}
    waiting: dict[Sounding | Drum, list[_Tie]] = {}
    for start, place, event, note in sorted(
        _tied(sketch, part), key=lambda t: (t[0], t[2].duration > 0)
    ):
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
    sketch: Sketch, part: Part[Sounding]
) -> Iterator[tuple[int, Place, Event[Sounding], Note[Sounding]]]:
    for bar, content in enumerate(part.bars):
        start = sketch.bars[bar].start
        for layer, events in enumerate(content.layers):
            for index, event in enumerate(events):
                for head, note in enumerate(event.notes):
                    if (note.tie_start or note.tie_stop) and not event.cue:
                        yield start + event.at, (bar, layer, index, head), event, note


def _due(ties: list[_Tie], start: int, layer: int) -> _Tie | None:
    """The tie that ends here, of the note's own layer if there is one."""
    due = [tie for tie in ties if tie.due == start]
    own = [tie for tie in due if tie.layer == layer]
    return next(iter(own or due), None)


def _with_numbers(part: Part[Sounding], given: dict[Place, int]) -> tuple[PartBar[Sounding], ...]:
    return tuple(
        replace(
            content,
            layers=tuple(
                tuple(
                    _with_origins(event, bar, layer, index, given)
                    for index, event in enumerate(events)
                )
                for layer, events in enumerate(content.layers)
            ),
        )
        for bar, content in enumerate(part.bars)
    )


def _with_origins(
    event: Event[Sounding], bar: int, layer: int, index: int, given: dict[Place, int]
) -> Event[Sounding]:
    if event.cue or not event.notes:
        return event
    notes = tuple(
        replace(note, origin=given[bar, layer, index, head])
        for head, note in enumerate(event.notes)
    )
    return replace(event, notes=notes)
