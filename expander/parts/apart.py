"""Shared staves taken apart: which heads are whose.

Two voices at one time are two players, the upper voice the first's. A line alone is played by
those whom the label in force names, by all where there is none; a chord on one stem is one head
each, from the top down, and ends a label that names fewer (common practice; the labels are those
that `notate/sharing` writes and those of editions, see `labels`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from operator import itemgetter

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.pitch import Drum, Written
from expander.model.score import Event, Mark, Note, Part, PartBar
from expander.parts.labels import label_in, places

Events = tuple[Event[Written], ...]
Shares = dict[int, tuple[Note[Written], ...]]
"""The heads of one event by the player's place."""

_SINGLE = frozenset({"slur", "tied"})
_UNLABELLED = "one line without a label such as '1.' or 'a 2' was given to all who share the staff"
_UNEVEN = "heads and players do not match; the heads were shared out from the top down"


class Taken(Struct, frozen=True):
    """A shared staff taken apart: for each player and bar, their voices.

    `layers_of` tells for each bar which of the part's layers went to whom. `unclear` are bar
    indices with the reason where the score did not say whose the notes are.
    """

    voices: tuple[tuple[tuple[Events, ...], ...], ...]
    layers_of: tuple[dict[int, frozenset[int]], ...]
    unclear: tuple[tuple[int, str], ...]


class _Bar(Struct):
    """One bar while it is taken apart."""

    active: tuple[int, ...]
    labels: list[tuple[int, tuple[int, ...] | None]]
    events: dict[int, Events]
    given: dict[int, dict[int, list[Event[Written]]]] = field(default_factory=dict)
    layers_of: dict[int, set[int]] = field(default_factory=dict)
    unclear: set[str] = field(default_factory=set)

    def give(self, place: int, layer: int, event: Event[Written]) -> None:
        """An event of a layer for a player."""
        self.given.setdefault(place, {}).setdefault(layer, []).append(event)
        if event.notes:
            self.layers_of.setdefault(layer, set()).add(place)

    def beside(self, layer: int, event: Event[Written]) -> bool:
        """Whether another voice has something at the time of an event."""
        if self.active in ((), (layer,)):
            return False
        return any(
            _covers(other, event)
            for number in self.active
            if number != layer
            for other in self.events[number]
            if _shown(other)
        )


def take_apart(part: Part[Written], staff: int, numbers: Sequence[int]) -> Taken:
    """Who plays what on a staff shared by players with these numbers."""
    work = _Work(part, staff, tuple(numbers))
    bars = [work.bar(content) for content in part.bars]
    voices = tuple(
        tuple(_voices(bar.given.get(place, {})) for bar in bars) for place in range(len(numbers))
    )
    layers = tuple({k: frozenset(v) for k, v in bar.layers_of.items()} for bar in bars)
    unclear = [(index, why) for index, bar in enumerate(bars) for why in sorted(bar.unclear)]
    return Taken(voices, layers, tuple(unclear))


class _Work:
    """Goes through the bars with the label in force in mind."""

    def __init__(self, part: Part[Written], staff: int, numbers: tuple[int, ...]) -> None:
        self.numbers = numbers
        self.everyone = tuple(range(len(numbers)))
        self.staff = staff
        self.layers = tuple(i for i, la in enumerate(part.layers) if la.staff == staff)
        self.label: tuple[int, ...] | None = None
        self.by_voice: tuple[tuple[int, ...], ...] = ()

    def bar(self, content: PartBar[Written]) -> _Bar:
        """One bar taken apart."""
        events = {i: content.layers[i] for i in self.layers}
        active = tuple(i for i in self.layers if any(map(_shown, events[i])))
        bar = _Bar(active, self._labels(content), events)
        for layer, event in _in_time(events):
            self._told(bar, event.at)
            if event.notes:
                self._notes(bar, layer, event)
            elif _shown(event) or event.marks:
                self._rest(bar, layer, event)
        self._told(bar, 1 << 30)
        return bar

    def _labels(self, content: PartBar[Written]) -> list[tuple[int, tuple[int, ...] | None]]:
        found: list[tuple[int, tuple[int, ...] | None]] = []
        for direction in sorted(content.directions, key=lambda d: (d.at, d.placement == "below")):
            label = label_in(direction) if direction.staff in (0, self.staff) else None
            if label and label.lasts:
                whom = None if label.divides else places(label, self.numbers)
                found.append((direction.at, whom))
        return found

    def _told(self, bar: _Bar, tick: int) -> None:
        """Take the labels up to a tick as read; several at one place are one for each voice."""
        while bar.labels and bar.labels[0][0] <= tick:
            at = bar.labels[0][0]
            here = [whom for place, whom in bar.labels if place == at]
            bar.labels = bar.labels[len(here) :]
            self.by_voice = tuple(whom or self.everyone for whom in here) if len(here) > 1 else ()
            self.label = here[0] if len(here) == 1 else None

    def _rest(self, bar: _Bar, layer: int, event: Event[Written]) -> None:
        whose = self._owners(bar, layer) if bar.beside(layer, event) else self.everyone
        for place in whose:
            bar.give(place, layer, event)

    def _notes(self, bar: _Bar, layer: int, event: Event[Written]) -> None:
        if bar.beside(layer, event):
            whose = self._owners(bar, layer)
            shares = self._dealt(bar, event, whose)
            if self._all_sound(bar):
                self.label = None
        elif self.label is None and layer != self.layers[0]:
            shares = self._dealt(bar, event, self._rank(layer, self.layers))
        else:
            shares = self._alone(bar, event)
        for place, notes in shares.items():
            bar.give(place, layer, _with_heads(event, notes))

    def _all_sound(self, bar: _Bar) -> bool:
        sounding = [i for i in bar.active if any(e.notes for e in bar.events[i])]
        return len(sounding) > 1

    def _owners(self, bar: _Bar, layer: int) -> tuple[int, ...]:
        """Whose a voice is where there are several."""
        sounding = [i for i in bar.active if any(e.notes for e in bar.events[i])]
        if len(bar.active) < len(self.numbers) and layer in sounding:
            place = sounding.index(layer)
            if len(self.by_voice) == len(sounding):
                return self.by_voice[place]
            if self.label and len(sounding) == 1:
                return self.label
            if self.label and len(self.label) == len(sounding):
                return (self.label[place],)
        return self._rank(layer, bar.active)

    def _rank(self, layer: int, among: Sequence[int]) -> tuple[int, ...]:
        """The players of a voice by its place: with fewer voices than players, the top has more."""
        rank, spare = among.index(layer), len(self.numbers) - len(among)
        if spare <= 0:
            return (min(rank, len(self.numbers) - 1),)
        return tuple(range(spare + 1)) if rank == 0 else (rank + spare,)

    def _alone(self, bar: _Bar, event: Event[Written]) -> Shares:
        heads = len(event.notes)
        if heads == 1:
            if self.label is None:
                bar.unclear.add(_UNLABELLED)
            return dict.fromkeys(self.label or self.everyone, event.notes)
        if self.label is not None and len(self.label) < heads:
            self.label = None
        return self._dealt(bar, event, self.label or self.everyone)

    def _dealt(self, bar: _Bar, event: Event[Written], whose: Sequence[int]) -> Shares:
        """A chord's heads among players, the top one to the first."""
        heads, count = from_the_top(event.notes), len(whose)
        if count == 1 or len(heads) == 1:
            return dict.fromkeys(whose, event.notes)
        if len(heads) == count:
            return {place: (head,) for place, head in zip(whose, heads, strict=True)}
        bar.unclear.add(_UNEVEN)
        return {place: _portion(heads, i, count) for i, place in enumerate(whose)}


def _portion(heads: Sequence[Note[Written]], place: int, count: int) -> tuple[Note[Written], ...]:
    """The heads of one of `count` players: every head is somebody's, everybody has one."""
    first = place * len(heads) // count
    last = max(first + 1, (place + 1) * len(heads) // count)
    return tuple(reversed(heads[first:last]))


def from_the_top(notes: Sequence[Note[Written]]) -> list[Note[Written]]:
    """Heads of a chord from the highest down."""
    return sorted(notes, key=lambda n: _height(n.pitch), reverse=True)


def _height(pitch: Written | Drum) -> tuple[float, int]:
    if isinstance(pitch, Drum):
        return float(7 * pitch.octave + pitch.step), 0
    return float(pitch.semitone), pitch.diatonic


def _with_heads(event: Event[Written], notes: tuple[Note[Written], ...]) -> Event[Written]:
    """The event with some of its heads; of slurs that each head has, the head's own."""
    if len(notes) == len(event.notes):
        return replace(event, stem="") if event.stem in ("up", "down") else event
    top = from_the_top(event.notes).index(notes[-1])
    marks = tuple(_own_marks(event.marks, top, len(event.notes)))
    stem = "" if event.stem in ("up", "down") else event.stem
    return replace(event, notes=notes, marks=marks, stem=stem)


def _own_marks(marks: Sequence[Mark], head: int, heads: int) -> Iterator[Mark]:
    for mark in marks:
        alike = [m for m in marks if m.name == mark.name and m.get("type") == mark.get("type")]
        if mark.name not in _SINGLE or len(alike) != heads or alike.index(mark) == head:
            yield mark


def _shown(event: Event[Written]) -> bool:
    return bool(event.notes) or ("print-object", "no") not in event.attributes


def _covers(other: Event[Written], event: Event[Written]) -> bool:
    return other.at <= event.at < other.end or (other.at == event.at and other.duration == 0)


def _in_time(events: dict[int, Events]) -> list[tuple[int, Event[Written]]]:
    rows = [(e.at, order, i, e) for i, es in events.items() for order, e in enumerate(es)]
    rows.sort(key=itemgetter(0, 1, 2))
    return [(i, e) for _, _, i, e in rows]


def _voices(given: dict[int, list[Event[Written]]]) -> tuple[Events, ...]:
    """What a player has of each layer, as few voices as can be; rests only where nothing sounds."""
    voices: list[list[Event[Written]]] = []
    for layer in sorted(given):
        notes = [e for e in given[layer] if e.notes]
        if not notes:
            continue
        for voice in voices:
            if not any(_collide(a, b) for a in voice for b in notes):
                voice += notes
                break
        else:
            voices.append(notes)
    rests = [e for layer in sorted(given) for e in given[layer] if not e.notes]
    if not voices:
        voices = [[]]
    for rest in rests:
        if not any(_collide(rest, e) for e in voices[0]):
            voices[0].append(rest)
    return tuple(tuple(sorted(v, key=lambda e: (e.at, e.duration > 0))) for v in voices)


def _collide(one: Event[Written], other: Event[Written]) -> bool:
    return one.at < other.end and other.at < one.end
