"""Reading one `<note>`: a table from each child's name to what is done with it."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from html import unescape

from msgspec.structs import replace

from expander.errors import BadMusic, Spot
from expander.model.pitch import LETTERS, Alter, Drum, Written
from expander.model.score import Attributes, Lyric, Mark, Note, Value
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import QUARTERS, exact
from expander.musicxml.grammar import fitting
from expander.musicxml.raw import RawNote
from expander.musicxml.tree import Element, Items, items_of, line_of

KEPT_ATTRIBUTES = frozenset(
    {
        *("color", "print-object", "print-dot", "print-spacing", "print-lyric", "print-leger"),
        *("dynamics", "end-dynamics", "time-only", "pizzicato"),
    }
)
HEAD_MARKS = frozenset(
    {
        *("tied", "glissando", "slide", "accidental-mark", "non-arpeggiate", "fingering"),
        *("footnote", "level"),
        *("string", "fret", "pluck", "harmonic", "hammer-on", "pull-off", "bend", "hole"),
    }
)
"""Notations that belong to one head of a chord and not to the chord."""

HIGHEST_OCTAVE = 9
WIDEST_ALTER = 4
NO_OCTAVE = -99
_PLAYBACK_TIMES = frozenset({"attack", "release", "make-time"})
_TEXTS = frozenset(["voice", "duration", "type", "staff", "stem"])
_GROUPS = frozenset(["articulations", "ornaments", "technical"])
_EDITORIAL = frozenset({"footnote", "level"})
MOST_BEAMS = 8
_STEMS = frozenset(["up", "down", "none", "double", ""])


class NoteReader:
    """Reads notes of one file. `sounds` are the instrument ids of the part being read."""

    def __init__(self, carrier: Carrier, name: str) -> None:
        self.carrier = carrier
        self.name = name
        self.sounds: dict[str, str] = {}
        self.values: dict[tuple[str, int, tuple[int, int, str]], Value] = {}
        self._heads: dict[tuple[int, bool, bool], Note[Written]] = {}
        self._pitches: dict[tuple[str | None, ...], Written] = {}
        self._attributes: dict[tuple[tuple[str, str], ...], Attributes] = {}

    def read(self, el: Element) -> RawNote:
        """The note with all its children; one with neither pitch nor rest is not finished."""
        raw = RawNote()
        items = items_of(el)
        if items:
            raw.attributes = self._kept(el, items)
        texts: dict[str, str | None] = {}
        for child in el:
            tag = child.tag
            if tag in _TEXTS:
                texts[tag] = child.text
                if tag == "type" and child.get("size"):
                    self._size(raw, child)
            else:
                _CHILDREN.get(tag, NoteReader._unknown)(self, raw, child)
        if raw.pitch is not None or raw.rest:
            self._finish(raw, el, texts)
        return raw

    def _finish(self, raw: RawNote, el: Element, texts: dict[str, str | None]) -> None:
        raw.voice = (texts.get("voice") or "").strip() or "1"
        raw.duration, raw.staff = texts.get("duration"), texts.get("staff")
        stem = (texts.get("stem") or "").strip()
        raw.stem = stem if stem in _STEMS else None
        raw.value = self._value(raw, (texts.get("type") or "").strip(), el)
        if not raw.rest:
            raw.note = self._head(raw)
        elif raw.head_marks:
            raw.event_marks += [m for m in raw.head_marks if m.group != "note"]
            raw.carried += [m for m in raw.head_marks if m.group == "note"]

    def _value(self, raw: RawNote, said: str, el: Element) -> Value | None:
        """Its notated value; None where the file gives neither type nor ratio."""
        if said and said not in QUARTERS:
            self._say(f"note type {said!r} is not one of MusicXML's and was left out", el)
            said = ""
        if not said and raw.ratio[0] == raw.ratio[1]:
            return None
        key = (said, raw.dots, raw.ratio)
        found = self.values.get(key)
        if found is None:
            found = self.values[key] = Value(said, raw.dots, *raw.ratio)
        return found

    def _head(self, raw: RawNote) -> Note[Written]:
        """The note's head; plain ones of one pitch share an object."""
        marks = raw.head_marks
        pitch = raw.pitch
        assert pitch is not None
        plain = not marks and raw.accidental is None and raw.head is None and not raw.attributes
        if not plain or isinstance(pitch, Drum):
            return _new_head(raw, pitch)
        key = (id(pitch), raw.tie_start, raw.tie_stop)
        found = self._heads.get(key)
        if found is None:
            found = self._heads[key] = Note(pitch, raw.tie_start, raw.tie_stop)
        return found

    def odd_stem(self, el: Element) -> str:
        """No stem, where the file says one that there is not."""
        said = [(child.text or "").strip() for child in el.iterchildren("stem")][-1]
        self._say(f"stem {said!r} is not up, down, none or double and was left out", el)
        return ""

    def _kept(self, el: Element, items: Items) -> Attributes:
        kept = tuple([item for item in items if item[0] in KEPT_ATTRIBUTES])
        if len(kept) < len(items):
            self._tell_left_out(el, items)
        if not kept:
            return ()
        if kept not in self._attributes:
            checked = self.carrier.attributes(el) or ()
            self._attributes[kept] = tuple(a for a in checked if a[0] in KEPT_ATTRIBUTES)
        return self._attributes[kept]

    def _tell_left_out(self, el: Element, items: Items) -> None:
        """Playback times are in divisions that are gone; positions go without a word."""
        for name, _ in items:
            if name in _PLAYBACK_TIMES:
                self._say(f"{name} of <{el.tag}> (a playback time) was left out", el)

    def _size(self, raw: RawNote, child: Element) -> None:
        """The size of a type is the only attribute of such children that is not layout."""
        size = fitting("symbol-size", child.get("size", ""))
        if size and all(m.name != "type" for m in raw.carried):
            raw.carried.append(Mark("note", "type", (("size", size),)))

    def _pitch(self, raw: RawNote, el: Element) -> None:
        key = tuple([child.text for child in el])
        found = self._pitches.get(key)
        if found is None:
            found = self._new_pitch(el)
            if [child.tag for child in el] in (["step", "octave"], ["step", "alter", "octave"]):
                self._pitches[key] = found
        raw.pitch = found

    def _new_pitch(self, el: Element) -> Written:
        letter = (el.findtext("step") or "").strip().upper()
        octave = exact(el.findtext("octave"))
        said = el.findtext("alter")
        alter = Fraction(0) if said is None or not said.strip() else exact(said)
        if len(letter) != 1 or letter not in LETTERS or octave is None or alter is None:
            raise self._no_pitch(el)
        if (
            not 0 <= octave <= HIGHEST_OCTAVE
            or octave.denominator != 1
            or abs(alter) > WIDEST_ALTER
        ):
            raise self._no_pitch(el)
        return Written(LETTERS.index(letter), whole_if_whole(alter), int(octave))

    def _no_pitch(self, el: Element) -> BadMusic:
        said = " ".join([f"{child.tag} {(child.text or '').strip()!r}" for child in el])
        return BadMusic(
            f"a note's pitch is off the map: {said or 'nothing given'}; expected a step A to G, "
            f"an octave 0 to {HIGHEST_OCTAVE} and an alter within {WIDEST_ALTER} semitones.",
            at=Spot(self.name, line_of(el)),
            hint="Correct the note in the program the score came from.",
        )

    def _unpitched(self, raw: RawNote, el: Element) -> None:
        raw.pitch = Drum(*display_place(el))

    def _rest(self, raw: RawNote, el: Element) -> None:
        raw.rest = True
        raw.whole_bar = el.get("measure") == "yes"
        if len(el):
            inner = self.carrier.inner(el)
            others = [m for m in raw.carried if m.name != "rest"]
            raw.carried = [*others, Mark("note", "rest", inner=inner)] if inner else others

    def _grace(self, raw: RawNote, el: Element) -> None:
        raw.grace = self.carrier.mark(el, "note") or Mark("note", "grace")
        if raw.grace.get("make-time"):
            self._tell_left_out(el, items_of(el))
            raw.grace = raw.grace.having(make_time=None)

    def _chord(self, raw: RawNote, el: Element) -> None:
        raw.chord = True

    def _cue(self, raw: RawNote, el: Element) -> None:
        raw.cue = True

    def _dot(self, raw: RawNote, el: Element) -> None:
        raw.dots += 1

    def _tie(self, raw: RawNote, el: Element) -> None:
        self._tied_type(raw, el.get("type"))

    def _tied_type(self, raw: RawNote, kind: str | None) -> None:
        raw.tie_start = raw.tie_start or kind == "start"
        raw.tie_stop = raw.tie_stop or kind == "stop"

    def _ratio(self, raw: RawNote, el: Element) -> None:
        actual, normal = exact(el.findtext("actual-notes")), exact(el.findtext("normal-notes"))
        unit = (el.findtext("normal-type") or "").strip()
        if not _counts(actual) or not _counts(normal):
            self._say("a tuplet's ratio is not two whole numbers and was left out", el)
            return
        assert actual is not None and normal is not None
        raw.ratio = (int(actual), int(normal), unit if unit in QUARTERS else "")
        for dot in el.iterchildren("normal-dot") if raw.ratio[2] else ():
            raw.carried.append(Mark("note", dot.tag))

    def _beam(self, raw: RawNote, el: Element) -> None:
        if len(raw.beams) < MOST_BEAMS:
            self._add(raw.beams, el, "note")

    def _accidental(self, raw: RawNote, el: Element) -> None:
        raw.accidental = self.carrier.mark(el, "note")

    def _notehead(self, raw: RawNote, el: Element) -> None:
        raw.head = self.carrier.mark(el, "note")

    def _instrument(self, raw: RawNote, el: Element) -> None:
        said = el.get("id", "")
        known = self.sounds.get(said)
        if known is None:
            self._say(f"instrument {said!r} is not one of the part's and was left out", el)
        elif len(self.sounds) > 1:
            raw.head_marks.append(Mark("note", "instrument", (("id", known),)))

    def _head_mark(self, raw: RawNote, el: Element) -> None:
        if any(m.name == el.tag and m.group == "note" for m in raw.head_marks):
            self._say(f"a second <{el.tag}> of a note was left out", el)
            return
        self._add(raw.head_marks, el, "note")

    def _lyric(self, raw: RawNote, el: Element) -> None:
        mark = self.carrier.mark(el, "note")
        if mark is not None:
            raw.lyrics.append(lyric_of(mark))

    def _notations(self, raw: RawNote, el: Element) -> None:
        if el.get("print-object"):
            self._say("print-object of <notations> was left out", el)
        for child in el:
            tag = child.tag
            if tag in _GROUPS:
                self._group(raw, child)
            elif tag == "tied":
                self._tied(raw, child)
            elif tag in _EDITORIAL and any(
                m.group == "notations" for m in raw.head_marks if m.name == tag
            ):
                self._say(f"a second <{tag}> of a note was left out", child)
            else:
                self._add(
                    raw.head_marks if tag in HEAD_MARKS else raw.event_marks, child, "notations"
                )

    def _group(self, raw: RawNote, el: Element) -> None:
        group = el.tag
        before = len(raw.event_marks)
        for child in el:
            if group == "technical" and child.tag in HEAD_MARKS:
                self._add(raw.head_marks, child, group)
            elif child.tag == "accidental-mark" and len(raw.event_marks) == before:
                self._add(raw.head_marks, child, "notations")  # no ornament to belong to
            else:
                self._add(raw.event_marks, child, group)

    def _tied(self, raw: RawNote, el: Element) -> None:
        mark = self.carrier.mark(el, "notations")
        if mark is None:
            return
        kind = mark.get("type")
        self._tied_type(raw, kind)
        if len(mark.attributes) > 1 or kind not in ("start", "stop"):
            raw.head_marks.append(mark)

    def _add(self, marks: list[Mark], el: Element, group: str) -> None:
        mark = self.carrier.mark(el, group)
        if mark is not None:
            marks.append(mark)

    def _unknown(self, raw: RawNote, el: Element) -> None:
        self._say(f"<{el.tag}> in a note is not known to MusicXML 4.0, left out", el)

    def _say(self, message: str, el: Element) -> None:
        self.carrier.oddities.once(message, line_of(el))


_CHILDREN: dict[str, Callable[[NoteReader, RawNote, Element], None]] = {
    "pitch": NoteReader._pitch,
    "unpitched": NoteReader._unpitched,
    "rest": NoteReader._rest,
    "grace": NoteReader._grace,
    "chord": NoteReader._chord,
    "cue": NoteReader._cue,
    "dot": NoteReader._dot,
    "tie": NoteReader._tie,
    "time-modification": NoteReader._ratio,
    "beam": NoteReader._beam,
    "accidental": NoteReader._accidental,
    "notehead": NoteReader._notehead,
    "instrument": NoteReader._instrument,
    "notations": NoteReader._notations,
    "lyric": NoteReader._lyric,
    "notehead-text": NoteReader._head_mark,
    "footnote": NoteReader._head_mark,
    "level": NoteReader._head_mark,
    "play": NoteReader._head_mark,
    "listen": NoteReader._head_mark,
}


def _new_head(raw: RawNote, pitch: Written | Drum) -> Note[Written]:
    marks = raw.head_marks
    if isinstance(pitch, Drum):
        ids = [m.get("id") for m in marks if m.name == "instrument"]
        pitch = replace(pitch, instrument=ids[0] if ids else "")
        marks = [m for m in marks if m.name != "instrument"]
    return Note(
        pitch,
        raw.tie_start,
        raw.tie_stop,
        raw.accidental,
        raw.head,
        tuple(marks),
        raw.attributes,
    )


_SUNG = re.compile(r"<(syllabic|text|elision)(?:[^>/]*|[^>]*[^>/])>([^<]*)<")


@lru_cache(maxsize=8192)
def lyric_of(mark: Mark) -> Lyric:
    """The syllable a lyric's mark shows, elided ones joined."""
    found = _SUNG.findall(mark.inner)
    syllabics = [text for tag, text in found if tag == "syllabic"]
    texts = [text for tag, text in found if tag != "syllabic"]
    shown = unescape("".join(texts))
    return Lyric(mark.get("number", "1"), next(iter(syllabics), ""), shown, mark)


def display_place(el: Element) -> tuple[int, int]:
    """Step and octave of a display position; octave -99 where the file gives none."""
    letter = (el.findtext("display-step") or "").strip().upper()
    octave = exact(el.findtext("display-octave"))
    if len(letter) != 1 or letter not in LETTERS or octave is None:
        return 0, NO_OCTAVE
    if not 0 <= octave <= HIGHEST_OCTAVE:
        return 0, NO_OCTAVE
    return LETTERS.index(letter), int(octave)


def whole_if_whole(number: Fraction) -> Alter:
    """An int where the fraction is one."""
    return int(number) if number.denominator == 1 else number


def _counts(number: Fraction | None) -> bool:
    return number is not None and number.denominator == 1 and number > 0
