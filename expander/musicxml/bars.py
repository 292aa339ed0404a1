"""Reading the bars of one part: the cursor that walks through a bar, and what it meets."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from operator import attrgetter
from typing import TypeVar

from msgspec.structs import replace

from expander.model.score import Attributes, Barline, Carried, Lyric, Mark
from expander.musicxml.attributes import AttributesReader, rank
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import Clock, quarters, usable_divisions
from expander.musicxml.directions import DirectionReader, first_of_each, sound_mark, staff_number
from expander.musicxml.known import Known, Piece, State, names_sounds, note_texts, text_of_bar
from expander.musicxml.notes import NoteReader
from expander.musicxml.raw import RawBar, RawEvent, RawMusic, RawNote, RawPart
from expander.musicxml.scale import DURATION
from expander.musicxml.tree import Element, items_of, line_of

Thing = TypeVar("Thing", Mark, Lyric)

MOST_STAVES = 64
_LOCATIONS = ("left", "middle", "right")
_AT = attrgetter("at")


class PartReader:
    """Reads one part. `clock` counts its time, `notes` knows its instruments.

    `known` is what was read before, in this part or another.
    """

    def __init__(self, carrier: Carrier, notes: NoteReader, clock: Clock, known: Known) -> None:
        self.carrier = carrier
        self.known = known
        self.oddities = carrier.oddities
        self.notes = notes
        self.clock = clock
        self.attributes = AttributesReader(carrier)
        self.directions = DirectionReader(carrier)
        self.part = RawPart()
        self.music = RawMusic()
        self.cursor = 0
        self.last: RawEvent | None = None
        self.timed = False
        self.lasting: str | None = None

    def read(self, pieces: Iterable[Piece]) -> RawPart:
        """All bars of the part."""
        for piece in pieces:
            self._read_bar(piece)
        return self.part

    def _read_bar(self, piece: Piece) -> None:
        measure = piece.measure
        number = self._number(measure)
        self.oddities.bar = number
        line = line_of(measure)
        music = self._music(piece, line)
        kept = self._bar_attributes(measure)
        implicit = measure.get("implicit") == "yes"
        self.part.bars.append(RawBar(number, implicit, kept, line, music))

    def _music(self, piece: Piece, line: int) -> RawMusic:
        """What is in a bar; read anew where no bar like it was, or where it is odd."""
        content, text = piece.content, text_of_bar(piece)
        state = self._state()
        key = (text, id(self.notes.sounds) if names_sounds(text) else 0, state)
        found = self.known.music.get(key)
        if found is None:
            told = self.oddities.count
            found = self._new_music(content, line, note_texts(text, content))
            if told == self.oddities.count and state == self._state():
                self.known.music[key] = found
        return found

    def _state(self) -> State:
        """What a bar's reading depends on, and may change, besides what stands in it."""
        divisions = self.clock.divisions
        return divisions.numerator, divisions.denominator, self.timed, self.part.staves

    def _new_music(self, content: Element, line: int, texts: Iterator[bytes]) -> RawMusic:
        self.music = RawMusic()
        self.cursor = 0
        self.last = None
        rounded = self.clock.rounded
        note = self._note
        for child in content:
            tag = child.tag
            if tag == "note":
                note(child, next(texts))
            else:
                _CHILDREN.get(tag, PartReader._carried)(self, child)
        if self.clock.rounded > rounded:
            self.oddities.add("times in this bar were rounded", line)
        self._close()
        return self.music

    def _number(self, measure: Element) -> str:
        number = " ".join(measure.get("number", "").split())
        if not number:
            number = str(len(self.part.bars) + 1)
            self.oddities.add(f"a bar without a number is called {number}", line_of(measure))
        return number

    def _bar_attributes(self, measure: Element) -> Attributes:
        allowed = ("text", "non-controlling")
        return tuple([(n, v) for n, v in items_of(measure) if n in allowed and _fits(n, v)])

    def _close(self) -> None:
        """Puts the bar's things in order of time."""
        bar = self.music
        bar.events.sort(key=_AT)
        if bar.changes:
            bar.changes.sort(key=lambda c: (c.at, rank(c)))
        for placed in (bar.directions, bar.harmonies, bar.carried):
            if placed:
                placed.sort(key=_AT)
        if bar.barlines:
            bar.barlines.sort(key=lambda b: (_LOCATIONS.index(b.location), b.at))

    # Time ------------------------------------------------------------------------------------

    def _moved(self, cursor: int) -> None:
        self.cursor = cursor
        if cursor > self.music.reach:
            self.music.reach = cursor

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

    def _note(self, el: Element, text: bytes) -> None:
        raw = self._known_note(el, text) if text else self.notes.read(el)
        if raw.pitch is None and not raw.rest:
            self.oddities.add("a note with neither pitch nor rest was left out", line_of(el))
            return
        if raw.chord and self.last is not None and self._joins(self.last, raw, el):
            self._add_head(self.last, raw)
            return
        if raw.chord and self.last is None:
            self.oddities.add("a chord note without a first note stands alone", line_of(el))
        self._new_event(el, raw)

    def _known_note(self, el: Element, text: bytes) -> RawNote:
        """The note of a text; read anew where it is new or odd."""
        found = self.known.notes.get(text)
        if found is None:
            told = self.oddities.count
            found = self.notes.read(el)
            if told == self.oddities.count and not names_sounds(text):
                self.known.notes[text] = found
        return found

    def _joins(self, last: RawEvent, raw: RawNote, el: Element) -> bool:
        fault = ""
        if not last.heads:
            fault = "a chord note without a first note stands alone"
        elif (last.grace is None) != (raw.grace is None):
            fault = "a chord of a grace note and a full note was read as two notes"
        elif raw.rest:
            fault = "a rest inside a chord stands alone"
        elif raw.grace is None and raw.duration != self.lasting:
            self.oddities.once(
                "a chord's notes differ in duration; the first's was kept", line_of(el)
            )
        if fault:
            self.oddities.add(fault, line_of(el))
        return not fault

    def _new_event(self, el: Element, raw: RawNote) -> None:
        duration = 0 if raw.grace is not None else self._duration(el, raw)
        if duration == 0 and raw.grace is None:
            if raw.rest:
                self.oddities.add("a rest that lasts no time was left out", line_of(el))
                return
            self.oddities.add("a note that lasts no time was read as a grace note", line_of(el))
        event = self._event(el, raw, duration)
        if duration == 0 and raw.grace is None:
            event.grace = Mark("note", "grace")
        self.lasting = raw.duration
        self.music.events.append(event)
        self.last = event
        self._moved(self.cursor + duration)

    def _event(self, el: Element, raw: RawNote, duration: int) -> RawEvent:
        staff = self._staff(raw.staff)
        stem = raw.stem if raw.stem is not None else self.notes.odd_stem(el)
        return RawEvent(
            self.cursor, duration, raw.voice, staff,
            [(staff, raw.note)] if raw.note is not None else [],
            raw.value, raw.event_marks, raw.beams, raw.lyrics, raw.carried,
            raw.grace, raw.cue, raw.whole_bar, stem, raw.attributes if raw.rest else (),
        )  # fmt: skip

    def _add_head(self, event: RawEvent, raw: RawNote) -> None:
        assert raw.note is not None
        event.heads.append((self._staff(raw.staff), raw.note))
        if raw.event_marks or raw.beams or raw.lyrics or raw.carried:
            event.marks = _with_new(event.marks, raw.event_marks)
            event.beams = _with_new(event.beams, raw.beams)
            event.lyrics = _with_new(event.lyrics, raw.lyrics)
            event.carried = _with_new(event.carried, raw.carried)

    def _staff(self, text: str | None) -> int:
        """A staff's number; the first where the file names none that makes sense."""
        if text is None or text == "1":
            return 1
        staff = min(staff_number(text), MOST_STAVES) or 1
        if staff > self.part.staves:
            self.part.staves = staff
        return staff

    def _duration(self, el: Element, raw: RawNote) -> int:
        text = raw.duration
        ticks = self.clock.ticks(text)
        if ticks is not None and ticks >= 0:
            if not self.timed:
                self._no_divisions(el)
            return ticks
        self.oddities.add(f"a note's duration is {text!r}; its type was taken", line_of(el))
        length = quarters(raw.value) if raw.value is not None else None
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
        self.music.changes.extend(self.attributes.changes(el, self.cursor))

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
            self.music.directions.append(direction)
        elif direction.sound is not None:
            self.music.carried.append(
                Carried(direction.at, replace(direction.sound, group="measure"))
            )

    def _harmony(self, el: Element) -> None:
        self.music.harmonies.extend(self.directions.harmonies(el, self._at(el)))

    def _sound(self, el: Element) -> None:
        at = self._at(el)
        mark = sound_mark(self.carrier, el, "measure")
        if mark is not None:
            self.music.carried.append(Carried(at, mark))

    def _figured_bass(self, el: Element) -> None:
        """Its duration is turned into ticks, as everything carried stands on our grid."""
        mark = self.carrier.mark(el, "measure")
        if mark is not None:
            inner = DURATION.sub(self._in_ticks, mark.inner)
            self.music.carried.append(Carried(self.cursor, replace(mark, inner=inner)))

    def _in_ticks(self, found: re.Match[str]) -> str:
        return f"<duration>{self.clock.ticks(found[1]) or 1}</duration>"

    def _carried(self, el: Element) -> None:
        mark = self.carrier.mark(el, "measure")
        if mark is not None:
            self.music.carried.append(Carried(self.cursor, mark))

    def _barline(self, el: Element) -> None:
        location = el.get("location", "right")
        location = location if location in _LOCATIONS else "right"
        at = self.cursor if location == "middle" else 0
        self.music.barlines.append(barline_of(self.carrier, el, location, at))


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


def _with_new(kept: list[Thing], new: list[Thing]) -> list[Thing]:
    """A chord's heads often repeat what the chord has already; that is kept once."""
    return kept + [t for t in new if t not in kept] if new else kept


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
