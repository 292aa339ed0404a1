"""Writing the bars of a part.

A bar is its layers one after the other, `<backup>` between them and `<forward>` over gaps. What
stands at a place of the bar (changes, directions, chord symbols, carried elements) goes into
the first layer that has a note, a rest or a gap beginning there. For places inside notes of all
layers the cursor is moved, right after the note: readers match the ends of hairpins and other spans
by number in the order of the file. For that reason the spans of a lower staff wait for its layers.
"""

from __future__ import annotations

import re

from expander.errors import CannotWrite
from expander.model.pitch import Written
from expander.model.score import (
    Attributes,
    Bar,
    Barline,
    Carried,
    Change,
    Direction,
    Event,
    LayerId,
    Mark,
    Part,
    PartBar,
)
from expander.model.spans import SPANNING
from expander.musicxml.attributetext import Named, attributes_texts
from expander.musicxml.carry import settled
from expander.musicxml.grammar import kind
from expander.musicxml.harmonytext import harmony_text
from expander.musicxml.notetext import Events, NoteWriter
from expander.musicxml.text import attributes_text, element, escaped, leaf, mark_text
from expander.musicxml.valuetext import checked_mark_text

_SINGLE = ("footnote", "level")
_SPAN = re.compile(f"<(?:{'|'.join(sorted(SPANNING))})[ />]")


class BarWriter:
    """Writes bars of one document after the other, on its grid."""

    def __init__(self, grid: int) -> None:
        self.grid = grid
        self.notes = NoteWriter()
        self._marks: dict[int, str] = {}
        self._tags: dict[int, str] = {}  # by the identity of the document's bars

    def part(self, part: Part[Written], bars: tuple[Bar, ...], ids: dict[str, str]) -> str:
        """All bars of a part."""
        self.notes.begin_part(part.staves, ids)
        texts: list[str] = []
        for index, (bar, content) in enumerate(zip(bars, part.bars, strict=True)):
            try:
                texts.append(self._bar(part, bar, content, index == 0))
            except CannotWrite as error:
                fault = f"{part.name}, bar {bar.number}: {error.fault}"
                raise CannotWrite(fault, hint=error.hint) from error
        return "".join(texts)

    def _bar(self, part: Part[Written], bar: Bar, content: PartBar[Written], first: bool) -> str:
        if not first and len(content.layers) == 1 and _holds_notes_only(content):
            plain = self._plain(part.layers[0], bar, content.layers[0])
            if plain:
                return plain
        places = self._places(content, _opening_attributes(self.grid, part) if first else ())
        waiting = self._waiting(content) if part.staves > 1 else {}
        prints, rest = _leading_prints(content.carried)
        self._place_carried(places, rest)
        tag = self._start_tag(bar, content.attributes) if content.attributes else self._tag(bar)
        out = [tag, *[self._line(c.mark) for c in prints]]
        out += [barline_text(b) for b in content.barlines if b.location == "left"]
        out += _Stream(self.notes, part.layers, content, places, waiting, bar.length).texts()
        out += [barline_text(b) for b in content.barlines if b.location == "right"]
        out.append("</measure>\n")
        return "".join(out)

    def _plain(self, layer: LayerId, bar: Bar, events: Events) -> str:
        """A bar of nothing but one full layer, as most are; "" where it has gaps."""
        written = self.notes.layer(events, layer.voice, layer.staff)
        if not events or written.end < bar.length:
            return ""
        return f"{self._tag(bar)}{''.join(written.texts)}</measure>\n"

    def _tag(self, bar: Bar) -> str:
        found = self._tags.get(id(bar))
        if found is None:
            found = self._tags[id(bar)] = self._start_tag(bar, bar.attributes)
        return found

    def _start_tag(self, bar: Bar, own: Attributes) -> str:
        implicit = (("implicit", "yes"),) if bar.implicit else ()
        attributes = (("number", bar.number), *implicit, *own)
        return f"<measure{attributes_text(attributes)}>\n"

    def _line(self, mark: Mark) -> str:
        return checked_mark_text(mark) + "\n"

    # What stands at places -------------------------------------------------------------------

    def _places(self, content: PartBar[Written], first: tuple[Named, ...]) -> dict[int, str]:
        """Text by tick, in the order in which it is to be written."""
        places: dict[int, str] = {}
        if first or content.changes:
            _place_changes(places, content.changes, first)
        for barline in content.barlines:
            if barline.location == "middle":
                places[barline.at] = places.get(barline.at, "") + barline_text(barline)
        for direction in content.directions:
            if not _waits(direction):
                places[direction.at] = places.get(direction.at, "") + self._direction(direction)
        for harmony in content.harmonies:
            places[harmony.at] = places.get(harmony.at, "") + harmony_text(harmony)
        return places

    def _waiting(self, content: PartBar[Written]) -> dict[int, dict[int, str]]:
        """The spans of lower staves by staff and tick: they stand among their staff's notes."""
        found: dict[int, dict[int, str]] = {}
        for direction in content.directions:
            if _waits(direction):
                here = found.setdefault(direction.staff, {})
                here[direction.at] = here.get(direction.at, "") + self._direction(direction)
        return found

    def _place_carried(self, places: dict[int, str], carried: tuple[Carried, ...]) -> None:
        for thing in carried:
            places[thing.at] = places.get(thing.at, "") + self._line(thing.mark)

    def _direction(self, direction: Direction) -> str:
        if not direction.marks:
            return mark_text(direction.sound) + "\n" if direction.sound is not None else ""
        placement = (("placement", direction.placement),) if direction.placement else ()
        types = [f"<direction-type>{self._mark(m)}</direction-type>" for m in direction.marks]
        sound = mark_text(direction.sound) if direction.sound is not None else ""
        inner = [
            *types,
            *[
                checked_mark_text(m)
                for name in _SINGLE
                for m in direction.carried
                if m.name == name
            ],
            leaf("voice", direction.voice),
            f"<staff>{direction.staff}</staff>" if direction.staff else "",
            sound,
            *[checked_mark_text(m) for m in direction.carried if m.name == "listening"],
        ]
        return (
            element("direction", (*placement, *direction.attributes), inner="".join(inner)) + "\n"
        )

    def _mark(self, mark: Mark) -> str:
        found = self._marks.get(id(mark))
        if found is None:
            found = self._marks[id(mark)] = checked_mark_text(mark)
        return found


class _Stream:
    """One bar of one part on its way to text; `cursor` is where the file's cursor is."""

    def __init__(
        self,
        notes: NoteWriter,
        layers: tuple[LayerId, ...],
        content: PartBar[Written],
        places: dict[int, str],
        waiting: dict[int, dict[int, str]],
        length: int,
    ) -> None:
        self.notes = notes
        self.layers = [(i, e) for i, e in zip(layers, content.layers, strict=True) if e]
        self.places = places
        self.waiting = waiting
        self.length = length
        self.cursor = 0
        self.out: list[str] = []

    def texts(self) -> list[str]:
        """Everything between the barlines."""
        if 0 in self.places:
            self.out.append(self.places.pop(0))
        reach = 0
        for number, (layer, events) in enumerate(self.layers, 1):
            self._layer(layer, events, number)
            reach = max(reach, self.cursor)
        for staff in sorted(self.waiting):
            self._take_waiting(staff)
        for tick in sorted(self.places):
            self._move(tick)
            self.out.append(self.places[tick])
            reach = max(reach, tick)
        if reach < self.length or self.cursor < reach:
            self._move(max(reach, self.length))
        return self.out

    def _take_waiting(self, staff: int) -> None:
        for tick, text in self.waiting.pop(staff, {}).items():
            self.places[tick] = self.places.get(tick, "") + text

    def _layer(self, layer: LayerId, events: Events, number: int) -> None:
        self._take_waiting(layer.staff)
        written = self.notes.layer(events, layer.voice, layer.staff)
        if not self.places and written.end >= 0:
            self._move(0)
            self.out += written.texts
            self.cursor = written.end
            return
        if self.cursor:
            self._move(events[0].at)
        later = {event.at for _, others in self.layers[number:] for event in others}
        for event, text in zip(events, written.texts, strict=True):
            self._place_until(event.at)
            if event is events[-1] and self.notes.staves > 1:
                self._place_symbols(event, layer.staff)
            self._move(event.at)
            self.out.append(text)
            self.cursor = event.at + event.duration
            self._place_inside(event.at, later)
        self._place_until(self.cursor)

    def _place_until(self, tick: int) -> None:
        """Writes what stands between the cursor and a tick, both included."""
        if not self.places:
            return
        for place in sorted(t for t in self.places if self.cursor <= t <= tick):
            self._move(place)
            self.out.append(self.places.pop(place))

    def _place_symbols(self, event: Event[Written], staff: int) -> None:
        """Writes the chord symbols inside the last note of a layer before that note.

        Some readers take a symbol to be for the staff of the note that follows it in the file.
        """
        here = f"<staff>{staff}</staff></harmony>"
        for place in sorted(t for t in self.places if event.at < t < event.end):
            text = self.places[place]
            if here in text and "<direction" not in text:
                self._move(place)
                self.out.append(self.places.pop(place))

    def _place_inside(self, start: int, later: set[int]) -> None:
        """Writes what stands inside the note just written, and at no note of a later layer.

        `later` are the places of such notes. Hairpins and other spans do not wait for those, so
        that both ends come in the order of time.
        """
        end = self.cursor
        for place in sorted(t for t in self.places if start < t < end):
            if place in later and not _SPAN.search(self.places[place]):
                continue
            self._move(place)
            self.out.append(self.places.pop(place))
        self._move(end)

    def _move(self, tick: int) -> None:
        if tick == self.cursor:
            return
        tag = "forward" if tick > self.cursor else "backup"
        self.out.append(f"<{tag}><duration>{abs(tick - self.cursor)}</duration></{tag}>\n")
        self.cursor = tick


def _waits(direction: Direction) -> bool:
    """True for a span of a lower staff that does not stand at the bar's beginning."""
    spans = any([mark.name in SPANNING for mark in direction.marks])
    return spans and direction.staff > 1 and direction.at > 0


def _holds_notes_only(content: PartBar[Written]) -> bool:
    return not (
        content.changes
        or content.directions
        or content.harmonies
        or content.barlines
        or content.carried
        or content.attributes
    )


def _opening_attributes(grid: int, part: Part[Written]) -> tuple[Named, ...]:
    divisions = ("divisions", f"<divisions>{grid}</divisions>")
    if part.staves == 1:
        return (divisions,)
    return (divisions, ("staves", f"<staves>{part.staves}</staves>"))


def _place_changes(
    places: dict[int, str], changes: tuple[Change, ...], first: tuple[Named, ...]
) -> None:
    by_tick: dict[int, list[Change]] = {0: []} if first else {}
    for change in changes:
        by_tick.setdefault(change.at, []).append(change)
    for tick, here in by_tick.items():
        places[tick] = attributes_texts(here, first if tick == 0 else ())


def _leading_prints(
    carried: tuple[Carried, ...],
) -> tuple[tuple[Carried, ...], tuple[Carried, ...]]:
    """Page and system breaks at the start of the bar come before everything else in it."""
    count = 0
    while count < len(carried) and carried[count].mark.name == "print" and not carried[count].at:
        count += 1
    return carried[:count], carried[count:]


def barline_text(barline: Barline) -> str:
    """A barline with what stands on it."""
    marks = {m.name: m for m in barline.marks}
    own = marks.pop("barline", Mark("barline", "barline"))
    look = marks.pop("bar-style", Mark("barline", "bar-style"))
    named = [(m.name, mark_text(m)) for m in barline.marks if m.name in marks]
    if barline.style:
        text = f"<bar-style{attributes_text(look.attributes)}>{escaped(barline.style)}</bar-style>"
        named.append(("bar-style", text))
    for mark in (barline.ending, barline.repeat):
        if mark is not None:
            named.append((mark.name, mark_text(mark)))
    known = kind("barline")
    assert known is not None
    fitting = settled(known, named) or []
    attributes = (("location", barline.location), *own.attributes)
    return element("barline", attributes, inner="".join([t for _, t in fitting])) + "\n"
