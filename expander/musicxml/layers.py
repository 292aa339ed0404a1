"""From voices to layers.

A voice of a part is one layer, whose home is the staff most of its notes stand on. Where a file
uses one voice number on several staves at once, each staff has a layer of its own; where a
voice overlaps itself on one staff, what overlaps goes to an extra layer. Extra layers get the
lowest voice numbers that are free, so that a voice's name is enough to tell it in the output.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import chain

from msgspec import Struct, field
from msgspec.structs import replace

from expander.model.pitch import Written
from expander.model.score import Event, LayerId, Note
from expander.musicxml.oddities import Oddities
from expander.musicxml.raw import RawEvent, RawMusic, RawPart, all_music

Address = tuple[str, int, int]
"""Voice name of the file, staff (0: not split by staff), lane (0: the voice itself)."""

Events = tuple[Event[Written], ...]


Lanes = dict[Address, list[RawEvent]]


class Layers(Struct):
    """The layers of a part, and its events by bar and layer. `names` are for directions."""

    ids: tuple[LayerId, ...]
    bars: list[tuple[Events, ...]]
    names: dict[tuple[str, int], str] = field(default_factory=dict)


class Layering:
    """Sorts the events of a file's parts into layers, music that bars share once."""

    def __init__(self, oddities: Oddities) -> None:
        self.oddities = oddities
        self._lanes: dict[tuple[int, frozenset[str]], Lanes] = {}
        self._events: dict[tuple[int, int], Events] = {}

    def layered(self, part: RawPart) -> Layers:
        """The events of a part; the part outlives the layering."""
        split = _shared_voices(part)
        placed = [self._placed(bar.music, split) for bar in part.bars]
        _report(part, placed, self.oddities)
        homes = _homes(placed) if part.staves > 1 else dict.fromkeys(chain(*placed), 1)
        names = _names(homes)
        order = sorted(homes, key=lambda a: (homes[a], _numeric(names[a])))
        ids = tuple(LayerId(homes[a], names[a]) for a in order)
        bars = [tuple([self._finished(bar.get(a), homes[a]) for a in order]) for bar in placed]
        by_staff = {(a[0], a[1]): names[a] for a in order if a[1] and not a[2]}
        return Layers(ids, bars, by_staff)

    def _placed(self, music: RawMusic, split: frozenset[str]) -> Lanes:
        key = (id(music), split)
        found = self._lanes.get(key)
        if found is None:
            found = self._lanes[key] = _lanes(music.events, split)
        return found

    def _finished(self, events: list[RawEvent] | None, home: int) -> Events:
        """Events of a lane; the lane is kept, so that its identity stays its own."""
        if events is None:
            return ()
        key = (id(events), home)
        found = self._events.get(key)
        if found is None:
            found = self._events[key] = tuple([_event(event, home) for event in events])
        return found


def _shared_voices(part: RawPart) -> frozenset[str]:
    """Voices that are on several staves at the same time."""
    if part.staves == 1:
        return frozenset()
    found = set()
    for music in all_music([part]):
        latest: dict[str, tuple[int, int]] = {}
        for event in music.events:
            end, staff = latest.get(event.voice, (0, event.staff))
            if event.at < end and event.staff != staff:
                found.add(event.voice)
            if event.at + event.duration >= end:
                latest[event.voice] = (event.at + event.duration, event.staff)
    return frozenset(found)


def _lanes(events: list[RawEvent], split: frozenset[str]) -> Lanes:
    """A bar's events by layer; each is put in the first lane that is free."""
    lanes: Lanes = {}
    ends: dict[Address, int] = {}
    for event in events:
        voice = event.voice
        staff = event.staff if voice in split else 0
        address = (voice, staff, 0)
        while ends.get(address, 0) > event.at:
            address = (voice, staff, address[2] + 1)
        if address in lanes:
            lanes[address].append(event)
        else:
            lanes[address] = [event]
        ends[address] = event.at + event.duration
    return lanes


def _report(part: RawPart, placed: list[Lanes], oddities: Oddities) -> None:
    for bar, lanes in zip(part.bars, placed, strict=True):
        oddities.bar = bar.number
        for voice, _, lane in lanes:
            if lane:
                oddities.add(f"voice {voice} overlaps itself; an extra voice was made", bar.line)


def _homes(placed: list[Lanes]) -> dict[Address, int]:
    """The home staff of every layer: of most of its notes, else of most of its rests."""
    notes: dict[Address, Counter[int]] = {}
    rests: dict[Address, Counter[int]] = {}
    for address, events in (pair for bar in placed for pair in bar.items()):
        rests.setdefault(address, Counter()).update([e.staff for e in events])
        heads = [staff for event in events for staff, _ in event.heads]
        notes.setdefault(address, Counter()).update(heads)
    return {address: _most(notes[address] or rests[address]) for address in notes}


def _most(counted: Counter[int]) -> int:
    return min(counted, key=lambda staff: (-counted[staff], staff))


def _names(homes: dict[Address, int]) -> dict[Address, str]:
    """A voice name for every layer: the file's own to the first of that voice."""
    names: dict[Address, str] = {}
    taken = {address[0] for address in homes}
    free = _free(taken)
    given: set[str] = set()
    for address in sorted(homes, key=lambda a: (a[2], _numeric(a[0]), a[1])):
        own = address[0]
        names[address] = next(free) if own in given else own
        given.add(own)
    return names


def _free(taken: set[str]) -> Iterator[str]:
    number = 0
    while True:
        number += 1
        if str(number) not in taken:
            yield str(number)


def _numeric(voice: str) -> tuple[int, int, str]:
    digits = voice.isascii() and voice.isdigit() and len(voice) < 10
    return (0, int(voice), "") if digits else (1, 0, voice)


def _event(raw: RawEvent, home: int) -> Event[Written]:
    heads = raw.heads
    return Event(
        raw.at,
        raw.duration,
        tuple([_homed(note, staff, home) for staff, note in heads]) if heads else (),
        raw.value,
        tuple(raw.marks),
        tuple(raw.beams),
        tuple(raw.lyrics),
        raw.grace,
        raw.cue,
        raw.whole_bar,
        raw.stem,
        0 if heads or raw.staff == home else raw.staff,
        raw.attributes,
        tuple(raw.carried),
    )


def _homed(note: Note[Written], staff: int, home: int) -> Note[Written]:
    return note if staff == home else replace(note, voice_staff=staff)
