"""Ties, slurs and other marks with two ends: nothing left open, nothing ending from nowhere.

A player's line may be cut out of a longer one. What the cut left open is closed at the last note
of the same material, a trill's wave with its own note, unless that is tied on; an end without a
beginning is taken away. Bars where all is well stay the same objects.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Mark, Note
from expander.model.spans import alternates, span_of
from expander.model.values import without_tremolo

WAVE = "wavy-line"
CLOSED = frozenset({"slur", "glissando", "slide", WAVE})
"""Marks that are closed at the last note when their end is missing."""

DROPPED = frozenset({"tremolo"})
"""Marks that make no sense with one end."""

_MENDED = CLOSED | DROPPED
_TYPES = ("start", "stop")


Key = tuple[str, str, str]
"""Name, number and material of a mark that is open."""


class _Open(Struct):
    """A mark that has begun: where, and where its material was last heard."""

    bar: int
    index: int
    mark: Mark
    last: tuple[int, int]


class _Tie(Struct):
    """A tie that has begun: the head, and the tick at which it has to go on."""

    bar: int
    index: int
    number: int
    end: int


class Mender:
    """Mends lines; remembers which bars have ties and marks with two ends."""

    def __init__(self, starts: Sequence[int]) -> None:
        self._starts = starts
        self._known: dict[int, tuple[Events, bool, bool]] = {}

    def mended(
        self, line: Mapping[int, Events], material: Callable[[int], str]
    ) -> dict[int, Events]:
        """The line with sound ties and spanners. `material` names a bar's source."""
        walk = _Walk(_Fixes(dict(line)))
        for bar in sorted(line):
            events, tied, marked = self._has(line[bar])
            if tied or walk.ties:
                walk.follow_ties(bar, self._starts[bar], events)
            if marked or walk.marks:
                walk.follow_marks(bar, events, material(bar))
        walk.end()
        return walk.fixes.bars

    def _has(self, events: Events) -> tuple[Events, bool, bool]:
        """The bar, whether it has ties, and whether it has marks with two ends."""
        known = self._known.get(id(events))
        if known is None:
            tied = any([n.tie_start or n.tie_stop for e in events for n in e.notes])
            marked = any([_two_ended(m) for e in events if e.marks for m in e.marks])
            known = self._known[id(events)] = (events, tied, marked)
        return known


class _Walk:
    """A line followed bar by bar: what is open, and what was mended."""

    def __init__(self, fixes: _Fixes) -> None:
        self.fixes = fixes
        self.ties: dict[float, _Tie] = {}
        self.marks: dict[Key, _Open] = {}

    def follow_ties(self, bar: int, start: int, events: Events) -> None:
        """Follow the ties of a bar that begins at a tick."""
        for index, event in enumerate(events):
            if self.ties or any([n.tie_start or n.tie_stop for n in event.notes]):
                self._tie(bar, index, event, start + event.at)

    def follow_marks(self, bar: int, events: Events, material: str) -> None:
        """Follow the marks of a bar."""
        for index, event in enumerate(events):
            if not event.notes:
                continue
            for (_, _, source), opened in self.marks.items():
                if source == material:
                    opened.last = (bar, index)
            for mark, key in self._ends(event, material) if event.marks else ():
                self._mark(bar, index, mark, key)

    def end(self) -> None:
        """Nothing stays open."""
        for tie in self.ties.values():
            self.fixes.drop_tie(tie.bar, tie.index, tie.number, "tie_start")
        for opened in self.marks.values():
            self.fixes.close(opened)

    def _tie(self, bar: int, index: int, event: Event[Sounding], at: int) -> None:
        """Match tie ends with their beginnings: same pitch, right after each other."""
        for number, note in enumerate(event.notes):
            if not event.duration and not note.tie_stop and not note.tie_start:
                continue  # a grace note passes by under a tie
            height = _height(note)
            held = self.ties.pop(height, None)
            unmatched = not note.tie_stop or (held is not None and held.end != at)
            if held is not None and unmatched and event.duration:
                self.fixes.drop_tie(held.bar, held.index, held.number, "tie_start")
                held = None
            if note.tie_stop and held is None:
                self.fixes.drop_tie(bar, index, number, "tie_stop")
            if note.tie_start:
                self.ties[height] = _Tie(bar, index, number, at + event.duration)

    def _ends(self, event: Event[Sounding], material: str) -> Sequence[tuple[Mark, Key]]:
        """The ends of marks on an event, those that stop first.

        Marks that begin and end on one note, such as a wavy line over it, are not among them.
        """
        ends = [(m, _key(m, material)) for m in event.marks if _two_ended(m)]
        if len(ends) < 2:
            return ends
        kinds = {(mark.get("type"), key) for mark, key in ends}
        both = {key for kind, key in kinds if kind == "start" and ("stop", key) in kinds}
        passing = both - self.marks.keys()
        ends.sort(key=lambda end: end[0].get("type") != "stop")
        return [(mark, key) for mark, key in ends if key not in passing]

    def _mark(self, bar: int, index: int, mark: Mark, key: Key) -> None:
        """Match the end of a mark with its beginning."""
        held = self.marks.pop(key, None)
        if mark.get("type") != "stop":
            if held is not None:
                self.fixes.close(held)
            self.marks[key] = _Open(bar, index, mark, (bar, index))
        elif held is None:
            self.fixes.drop_mark(bar, index, mark)


def _two_ended(mark: Mark) -> bool:
    return mark.name in _MENDED and mark.get("type") in _TYPES


def _key(mark: Mark, material: str) -> Key:
    return (*span_of(mark), material)


def _height(note: Note[Sounding]) -> float:
    if isinstance(note.pitch, Drum):
        return -float(note.pitch.octave * 7 + note.pitch.step)
    return float(note.pitch.semitone)


def _stop(start: Mark) -> Mark:
    number = start.get("number")
    attributes = (("type", "stop"), *((("number", number),) if number else ()))
    return Mark(start.group, start.name, attributes)


class _Fixes:
    """Changes to a line, made on copies of the bars concerned."""

    def __init__(self, bars: dict[int, Events]) -> None:
        self.bars = bars

    def drop_tie(self, bar: int, index: int, number: int, end: str) -> None:
        event = self.bars[bar][index]
        notes = list(event.notes)
        note = notes[number]
        kind = end.removeprefix("tie_")
        marks = tuple(m for m in note.marks if m.name != "tied" or m.get("type") != kind)
        if end == "tie_start":
            notes[number] = replace(note, tie_start=False, marks=marks)
        else:
            notes[number] = replace(note, tie_stop=False, marks=marks)
        self._put(bar, index, replace(event, notes=tuple(notes)))

    def drop_mark(self, bar: int, index: int, mark: Mark) -> None:
        """Take a mark away, of several that are equal the last."""
        event = self.bars[bar][index]
        place = len(event.marks) - 1 - event.marks[::-1].index(mark)
        left = (*event.marks[:place], *event.marks[place + 1 :])
        if event.value and alternates(mark):
            event = replace(event, value=without_tremolo(event.value), beams=())
        self._put(bar, index, replace(event, marks=left))

    def close(self, opened: _Open) -> None:
        """End a mark at the last note of its material, or take it away where there is none."""
        start = opened.mark
        own = self.bars[opened.bar][opened.index]
        if start.name == WAVE and not any(n.tie_start for n in own.notes):
            at = own.marks.index(start) + 1
            marks = (*own.marks[:at], _stop(start), *own.marks[at:])
            self._put(opened.bar, opened.index, replace(own, marks=marks))
            return
        if opened.last == (opened.bar, opened.index) or opened.mark.name in DROPPED:
            self.drop_mark(opened.bar, opened.index, start)
            return
        bar, index = opened.last
        event = self.bars[bar][index]
        self._put(bar, index, replace(event, marks=(_stop(start), *event.marks)))

    def _put(self, bar: int, index: int, event: Event[Sounding]) -> None:
        events = self.bars[bar]
        self.bars[bar] = (*events[:index], event, *events[index + 1 :])
