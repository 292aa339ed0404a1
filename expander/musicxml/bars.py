"""Reading the bars of one part: the cursor that walks through a bar, and what it meets."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import TypeVar

from msgspec.structs import replace

from expander.model.score import Attributes, Barline, Carried, Lyric, Mark, Value
from expander.musicxml.attributes import AttributesReader, rank
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import Clock, quarters, usable_divisions
from expander.musicxml.directions import DirectionReader, first_of_each, sound_mark, staff_number
from expander.musicxml.notes import NoteReader
from expander.musicxml.raw import RawBar, RawEvent, RawNote, RawPart
from expander.musicxml.scale import DURATION
from expander.musicxml.tree import Element, items_of, line_of

Thing = TypeVar("Thing", Mark, Lyric)
Pieces = Iterable[tuple[Element, Element]]
"""The bars of a part: the element with the bar's attributes, and the element with its music.
They are one in partwise files and two in timewise files."""

MOST_STAVES = 64
_LOCATIONS = ("left", "middle", "right")


class PartReader:
    """Reads one part. `clock` counts its time, `notes` knows its instruments."""

    def __init__(self, carrier: Carrier, notes: NoteReader, clock: Clock) -> None:
        self.carrier = carrier
        self.oddities = carrier.oddities
        self.notes = notes
        self.clock = clock
        self.attributes = AttributesReader(carrier)
        self.directions = DirectionReader(carrier)
        self.part = RawPart()
        self.bar = RawBar("", False, (), 0)
        self.cursor = 0
        self.last: RawEvent | None = None
        self.timed = False
        self.lasting: str | None = None

    def read(self, pieces: Pieces) -> RawPart:
        """All bars of the part."""
        for measure, content in pieces:
            self._read_bar(measure, content)
        return self.part

    def _read_bar(self, measure: Element, content: Element) -> None:
        self.bar = self._new_bar(measure)
        self.oddities.bar = self.bar.number
        self.part.bars.append(self.bar)
        self.cursor = 0
        self.last = None
        rounded = self.clock.rounded
        note = self._note
        for child in content:
            tag = child.tag
            if tag == "note":
                note(child)
            else:
                _CHILDREN.get(tag, PartReader._carried)(self, child)
        if self.clock.rounded > rounded:
            self.oddities.add("times in this bar were rounded", self.bar.line)
        self._close()

    def _new_bar(self, measure: Element) -> RawBar:
        number = " ".join(measure.get("number", "").split())
        if not number:
            number = str(len(self.part.bars) + 1)
            self.oddities.add(f"a bar without a number is called {number}", line_of(measure))
        kept = self._bar_attributes(measure)
        return RawBar(number, measure.get("implicit") == "yes", kept, line_of(measure))

    def _bar_attributes(self, measure: Element) -> Attributes:
        allowed = ("text", "non-controlling")
        return tuple([(n, v) for n, v in items_of(measure) if n in allowed and _fits(n, v)])

    def _close(self) -> None:
        """Puts the bar's things in order of time."""
        bar = self.bar
        bar.events.sort(key=lambda e: e.at)
        bar.changes.sort(key=lambda c: (c.at, rank(c)))
        for placed in (bar.directions, bar.harmonies, bar.carried):
            placed.sort(key=lambda p: p.at)
        bar.barlines.sort(key=lambda b: (_LOCATIONS.index(b.location), b.at))

    # Time ------------------------------------------------------------------------------------

    def _moved(self, cursor: int) -> None:
        self.cursor = cursor
        if cursor > self.bar.reach:
            self.bar.reach = cursor

    def _forward(self, el: Element) -> None:
        ticks = self._span(el)
        self._moved(self.cursor + ticks)
        self.last = None

    def _backup(self, el: Element) -> None:
        ticks = self._span(el)
        if ticks > self.cursor:
            self.oddities.add("<backup> goes back before the bar's start", line_of(el))
        self.cursor = max(0, self.cursor - ticks)
        self.last = None

    def _span(self, el: Element) -> int:
        ticks = self.clock.ticks(el.findtext("duration"))
        if ticks is None or ticks < 0:
            self.oddities.add(f"<{el.tag}> without a usable duration", line_of(el))
            return 0
        return ticks

    # Notes -----------------------------------------------------------------------------------

    def _note(self, el: Element) -> None:
        raw = self.notes.read(el)
        if raw.pitch is None and not raw.rest:
            self.oddities.add("a note with neither pitch nor rest was left out", line_of(el))
            return
        value = self.notes.value(raw, el)
        if raw.chord and self.last is not None and self._joins(self.last, raw, el):
            self._add_head(self.last, raw)
            return
        if raw.chord and self.last is None:
            self.oddities.add("a chord note without a first note stands alone", line_of(el))
        self._new_event(el, raw, value)

    def _joins(self, last: RawEvent, raw: RawNote, el: Element) -> bool:
        fault = ""
        if not last.heads:
            fault = "a chord note without a first note stands alone"
        elif (last.grace is None) != (raw.grace is None):
            fault = "a chord of a grace note and a full note was read as two notes"
        elif raw.rest:
            fault = "a rest inside a chord stands alone"
        elif raw.grace is None and raw.texts.get("duration") != self.lasting:
            self.oddities.once(
                "a chord's notes differ in duration; the first's was kept", line_of(el)
            )
        if fault:
            self.oddities.add(fault, line_of(el))
        return not fault

    def _new_event(self, el: Element, raw: RawNote, value: Value | None) -> None:
        duration = 0 if raw.grace is not None else self._duration(el, raw, value)
        if duration == 0 and raw.grace is None:
            if raw.rest:
                self.oddities.add("a rest that lasts no time was left out", line_of(el))
                return
            self.oddities.add("a note that lasts no time was read as a grace note", line_of(el))
            raw.grace = Mark("note", "grace")
        event = self._event(el, raw, duration, value)
        self.lasting = raw.texts.get("duration")
        self.bar.events.append(event)
        self.last = event
        self._moved(self.cursor + duration)

    def _event(self, el: Element, raw: RawNote, duration: int, value: Value | None) -> RawEvent:
        texts = raw.texts
        voice = (texts.get("voice") or "").strip() or "1"
        event = RawEvent(self.cursor, duration, voice, self._staff(texts.get("staff")))
        event.value = value
        event.grace, event.cue, event.whole_bar = raw.grace, raw.cue, raw.whole_bar
        event.marks, event.beams, event.lyrics = raw.event_marks, raw.beams, raw.lyrics
        event.carried = raw.carried
        event.stem = self.notes.stem(raw, el) if "stem" in texts else ""
        if raw.rest:
            event.attributes = raw.attributes
            event.marks = [*raw.event_marks, *(m for m in raw.head_marks if m.group != "note")]
            event.carried += [m for m in raw.head_marks if m.group == "note"]
        else:
            event.heads.append((event.staff, self.notes.head(raw)))
        return event

    def _add_head(self, event: RawEvent, raw: RawNote) -> None:
        event.heads.append((self._staff(raw.texts.get("staff")), self.notes.head(raw)))
        if raw.event_marks or raw.beams or raw.lyrics or raw.carried:
            _add_new(event.marks, raw.event_marks)
            _add_new(event.beams, raw.beams)
            _add_new(event.lyrics, raw.lyrics)
            _add_new(event.carried, raw.carried)

    def _staff(self, text: str | None) -> int:
        """A staff's number; the first where the file names none that makes sense."""
        if text is None or text == "1":
            return 1
        staff = min(staff_number(text), MOST_STAVES) or 1
        if staff > self.part.staves:
            self.part.staves = staff
        return staff

    def _duration(self, el: Element, raw: RawNote, value: Value | None) -> int:
        text = raw.texts.get("duration")
        ticks = self.clock.ticks(text)
        if ticks is not None and ticks >= 0:
            if not self.timed:
                self._no_divisions(el)
            return ticks
        self.oddities.add(f"a note's duration is {text!r}; its type was taken", line_of(el))
        length = quarters(value) if value is not None else None
        return self.clock.of_quarters(length) if length is not None else 0

    def _no_divisions(self, el: Element) -> None:
        self.oddities.add("no <divisions> before the first note; 1 was taken", line_of(el))
        self.timed = True

    # Everything else -------------------------------------------------------------------------

    def _attributes(self, el: Element) -> None:
        for child in el.iterchildren("divisions", "staves"):
            if child.tag == "divisions":
                self._divisions(child)
            else:
                self._staff(child.text)
        self.bar.changes.extend(self.attributes.changes(el, self.cursor))

    def _divisions(self, el: Element) -> None:
        divisions = usable_divisions(el.text)
        if divisions is None:
            self.oddities.add(f"<divisions> of {el.text!r} is no use", line_of(el))
            return
        self.timed = True
        self.clock.set_divisions(divisions)

    def _at(self, el: Element) -> int:
        """Where an element stands, its offset counted in."""
        offset = self.clock.ticks(el.findtext("offset")) if el.find("offset") is not None else 0
        at = self.cursor + (offset or 0)
        if at < 0:
            self.oddities.add(f"<{el.tag}> stands before the bar's start", line_of(el))
        return max(at, 0)

    def _direction(self, el: Element) -> None:
        direction = self.directions.direction(el, self._at(el))
        if direction.marks:
            self.bar.directions.append(direction)
        elif direction.sound is not None:
            self.bar.carried.append(
                Carried(direction.at, replace(direction.sound, group="measure"))
            )

    def _harmony(self, el: Element) -> None:
        self.bar.harmonies.extend(self.directions.harmonies(el, self._at(el)))

    def _sound(self, el: Element) -> None:
        at = self._at(el)
        mark = sound_mark(self.carrier, el, "measure")
        if mark is not None:
            self.bar.carried.append(Carried(at, mark))

    def _figured_bass(self, el: Element) -> None:
        """Its duration is turned into ticks, as everything carried stands on our grid."""
        mark = self.carrier.mark(el, "measure")
        if mark is not None:
            inner = DURATION.sub(self._in_ticks, mark.inner)
            self.bar.carried.append(Carried(self.cursor, replace(mark, inner=inner)))

    def _in_ticks(self, found: re.Match[str]) -> str:
        return f"<duration>{self.clock.ticks(found[1]) or 1}</duration>"

    def _carried(self, el: Element) -> None:
        mark = self.carrier.mark(el, "measure")
        if mark is not None:
            self.bar.carried.append(Carried(self.cursor, mark))

    def _barline(self, el: Element) -> None:
        location = el.get("location", "right")
        location = location if location in _LOCATIONS else "right"
        at = self.cursor if location == "middle" else 0
        self.bar.barlines.append(barline_of(self.carrier, el, location, at))


_CHILDREN: dict[str, Callable[[PartReader, Element], None]] = {
    "backup": PartReader._backup,
    "forward": PartReader._forward,
    "attributes": PartReader._attributes,
    "direction": PartReader._direction,
    "harmony": PartReader._harmony,
    "barline": PartReader._barline,
    "sound": PartReader._sound,
    "figured-bass": PartReader._figured_bass,
}


def _add_new(kept: list[Thing], new: list[Thing]) -> None:
    """A chord's heads often repeat what the chord has already; that is kept once."""
    if new:
        kept += [thing for thing in new if thing not in kept]


def barline_of(carrier: Carrier, el: Element, location: str, at: int) -> Barline:
    """A barline with what stands on it."""
    found = [m for m in (carrier.mark(c, "barline") for c in el) if m is not None]
    named = {m.name: m for m in reversed(found)}
    style = named.get("bar-style")
    others = _standing_on(found)
    own = carrier.attributes(el) or ()
    kept = tuple(a for a in own if a[0] not in ("location", "divisions"))
    if style is not None and style.attributes:
        others.append(Mark("barline", "bar-style", style.attributes))
    if kept:
        others.append(Mark("barline", "barline", kept))
    return Barline(
        location,
        style.text if style else "",
        named.get("repeat"),
        named.get("ending"),
        tuple(others),
        at,
    )


def _standing_on(marks: list[Mark]) -> list[Mark]:
    """What stands on a barline: two fermatas at most, one of everything else."""
    fermatas = [m for m in marks if m.name == "fermata"][:2]
    others = [m for m in marks if m.name not in _OWN_FIELDS and m.name != "fermata"]
    kept = {id(m) for m in (*fermatas, *first_of_each(others))}
    return [m for m in marks if id(m) in kept]


_OWN_FIELDS = frozenset({"bar-style", "repeat", "ending"})


def _fits(name: str, value: str) -> bool:
    return value in ("yes", "no") if name == "non-controlling" else bool(value.strip())
