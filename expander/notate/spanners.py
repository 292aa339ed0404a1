"""Ties, slurs and other marks with two ends: nothing left open, nothing ending from nowhere.

A player's line may be cut out of a longer one. What the cut left open is closed at the last note
of the same material; an end without a beginning is taken away. Bars where all is well stay the
same objects.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events
from expander.model.score import Event, Mark, Note

CLOSED = frozenset({"slur", "glissando", "slide", "wavy-line"})
"""Marks that are closed at the last note when their end is missing."""

DROPPED = frozenset({"tremolo"})
"""Marks that make no sense with one end."""

_TYPES = ("start", "stop")


class _Open(Struct):
    """A mark that has begun: where, and where its material was last heard."""

    bar: int
    index: int
    mark: Mark
    last: tuple[int, int]


class Mender:
    """Mends lines; remembers which bars hold nothing to mend."""

    def __init__(self, starts: Sequence[int]) -> None:
        self._starts = starts
        self._calm: dict[int, tuple[Events, bool]] = {}

    def mended(self, line: Mapping[int, Events], material: Mapping[int, str]) -> dict[int, Events]:
        """The line with sound ties and spanners. `material` names each bar's source."""
        fixes = _Fixes(dict(line))
        ties: dict[float, tuple[int, int, int, int]] = {}
        marks: dict[tuple[str, str, str], _Open] = {}
        for bar in sorted(line):
            events = line[bar]
            if not ties and not marks and self._is_calm(events):
                continue
            self._walk(bar, events, material.get(bar, ""), ties, marks, fixes)
        for tie in ties.values():
            fixes.drop_tie(tie[0], tie[1], tie[2], "tie_start")
        for opened in marks.values():
            fixes.close(opened)
        return fixes.bars

    def _is_calm(self, events: Events) -> bool:
        known = self._calm.get(id(events))
        if known is None:
            calm = not any(
                [n.tie_start or n.tie_stop for e in events for n in e.notes]
            ) and not any([_two_ended(m) for e in events if e.marks for m in e.marks])
            known = self._calm[id(events)] = (events, calm)
        return known[1]

    def _walk(
        self,
        bar: int,
        events: Events,
        material: str,
        ties: dict[float, tuple[int, int, int, int]],
        marks: dict[tuple[str, str, str], _Open],
        fixes: _Fixes,
    ) -> None:
        for index, event in enumerate(events):
            if not event.notes:
                continue
            self._ties(bar, index, event, ties, fixes)
            for opened in marks.values():
                if opened.mark.get("material") == material:
                    opened.last = (bar, index)
            _spanners(bar, index, event, material, marks, fixes)

    def _ties(
        self,
        bar: int,
        index: int,
        event: Event[Sounding],
        ties: dict[float, tuple[int, int, int, int]],
        fixes: _Fixes,
    ) -> None:
        """Match tie ends with their beginnings: same pitch, right after each other."""
        at = self._starts[bar] + event.at
        for number, note in enumerate(event.notes):
            height = _height(note)
            if not event.duration and not note.tie_stop and not note.tie_start:
                continue  # a grace note passes by under a tie
            held = ties.pop(height, None)
            unmatched = not note.tie_stop or (held is not None and held[3] != at)
            if held is not None and unmatched and event.duration:
                fixes.drop_tie(held[0], held[1], held[2], "tie_start")
                held = None
            if note.tie_stop and held is None:
                fixes.drop_tie(bar, index, number, "tie_stop")
            if note.tie_start:
                ties[height] = (bar, index, number, at + event.duration)


def _two_ended(mark: Mark) -> bool:
    return (mark.name in CLOSED or mark.name in DROPPED) and mark.get("type") in _TYPES


def _spanners(
    bar: int,
    index: int,
    event: Event[Sounding],
    material: str,
    marks: dict[tuple[str, str, str], _Open],
    fixes: _Fixes,
) -> None:
    own = {key for key in map(_key, event.marks) if key not in _open_in(marks, material)}
    for mark in sorted(event.marks, key=lambda m: m.get("type") != "stop"):
        if not _two_ended(mark):
            continue
        key = (*_key(mark), material)
        begins_and_ends = _key(mark) in own and _both_ends(event, mark)
        if begins_and_ends:
            continue
        if mark.get("type") == "stop":
            if marks.pop(key, None) is None:
                fixes.drop_mark(bar, index, mark)
            continue
        if key in marks:
            fixes.close(marks.pop(key))
        marks[key] = _Open(bar, index, mark.having(material=material), (bar, index))


def _key(mark: Mark) -> tuple[str, str]:
    return mark.name, mark.get("number", "1")


def _open_in(marks: Mapping[tuple[str, str, str], _Open], material: str) -> set[tuple[str, str]]:
    """The marks of some material that are open."""
    return {(name, number) for name, number, of in marks if of == material}


def _both_ends(event: Event[Sounding], mark: Mark) -> bool:
    """A mark that begins and ends on one note, such as a wavy line over it."""
    types = [m.get("type") for m in event.marks if _key(m) == _key(mark)]
    return "start" in types and "stop" in types


def _height(note: Note[Sounding]) -> float:
    if isinstance(note.pitch, Drum):
        return -float(note.pitch.octave * 7 + note.pitch.step)
    return float(note.pitch.semitone)


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
        event = self.bars[bar][index]
        self._put(bar, index, replace(event, marks=tuple(m for m in event.marks if m != mark)))

    def close(self, opened: _Open) -> None:
        """End a mark at the last note of its material, or take it away where there is none."""
        start = opened.mark.having(material=None)
        if opened.last == (opened.bar, opened.index) or opened.mark.name in DROPPED:
            self.drop_mark(opened.bar, opened.index, start)
            return
        bar, index = opened.last
        event = self.bars[bar][index]
        number = start.get("number")
        attributes = (("type", "stop"), *((("number", number),) if number else ()))
        stop = Mark(start.group, start.name, attributes)
        self._put(bar, index, replace(event, marks=(stop, *event.marks)))

    def _put(self, bar: int, index: int, event: Event[Sounding]) -> None:
        events = self.bars[bar]
        self.bars[bar] = (*events[:index], event, *events[index + 1 :])
