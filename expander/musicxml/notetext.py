"""Writing events as `<note>` elements.

The order of a note's children is the schema's; it stands once, in `_note`. Texts of pitches,
values and marks are kept by the identity of their objects, and those of a layer's bar by the
identity of its events: players who double a line share the objects, so their text is built once.
All objects belong to the document being written, which outlives the writer.
"""

from __future__ import annotations

from expander.errors import CannotWrite
from expander.model.pitch import LETTERS, Alter, Drum, Written
from expander.model.score import Attributes, Event, Lyric, Mark, Note, Value
from expander.musicxml.grammar import allows
from expander.musicxml.text import attributes_text, element, escaped, leaf, mark_text

_RUNS = frozenset({"articulations", "ornaments", "technical"})
_ON_EVERY_HEAD = frozenset({"arpeggiate"})
_EDITORIAL = ("footnote", "level")
_AFTER_LYRICS = ("play", "listen")

Events = tuple[Event[Written], ...]
Middle = tuple[str, str, str]
"""Type with dots, ratio, and stem, as XML."""


class NoteWriter:
    """Writes the events of a document's layers. `staves` and `ids` are of the part in hand."""

    def __init__(self) -> None:
        self.staves = 1
        self.ids: dict[str, str] = {}
        self._part = 0
        self._layers: dict[tuple[int, str, int, int, int], list[str]] = {}
        self._pitches: dict[int, str] = {}
        self._values: dict[int, tuple[str, str]] = {}
        self._marks: dict[int, str] = {}
        self._rests: dict[tuple[object, ...], str] = {}
        self._lengths: dict[tuple[int, int, str], tuple[str, Middle]] = {}

    def begin_part(self, staves: int, ids: dict[str, str]) -> None:
        """From here on, events belong to a part of so many staves, with these sounds."""
        self.staves = staves
        self.ids = ids
        # Texts name sounds only where a part has several; other parts share theirs.
        self._part += 1 if len(ids) > 1 else 0

    def texts(self, events: Events, voice: str, home: int) -> list[str]:
        """The text of each event of a layer's bar."""
        part = self._part if len(self.ids) > 1 else 0
        key = (id(events), voice, home, self.staves, part)
        found = self._layers.get(key)
        if found is None:
            spoken = f"<voice>{escaped(voice)}</voice>"
            found = self._layers[key] = [self._event(e, spoken, home) for e in events]
        return found

    def _event(self, event: Event[Written], voice: str, home: int) -> str:
        if not event.notes:
            return self._rest(event, voice, home)
        opening = self._opening(event) if event.grace is not None or event.cue else ""
        duration, middle = self._length(event)
        first = self._head(event, event.notes[0], opening, duration, voice, middle, home, True)
        if len(event.notes) == 1:
            return first
        chord = opening + "<chord/>"
        return first + "".join(
            [
                self._head(event, note, chord, duration, voice, middle, home, False)
                for note in event.notes[1:]
            ]
        )

    def _length(self, event: Event[Written]) -> tuple[str, Middle]:
        """The duration, and what `_middle` gives; most events share theirs with many."""
        if event.grace is not None or event.carried:
            return _duration(event), self._middle(event)
        key = (event.duration, id(event.value), event.stem)
        found = self._lengths.get(key)
        if found is None:
            found = self._lengths[key] = (_duration(event), self._middle(event))
        return found

    def _opening(self, event: Event[Written]) -> str:
        grace = mark_text(event.grace) if event.grace is not None else ""
        return grace + ("<cue/>" if event.cue else "")

    def _middle(self, event: Event[Written]) -> Middle:
        """Type with dots, ratio, and stem: the same for all heads of a chord."""
        kind, ratio = self._value(event)
        stem = f"<stem>{event.stem}</stem>" if event.stem else ""
        return kind, ratio, stem

    def _head(
        self,
        event: Event[Written],
        note: Note[Written],
        opening: str,
        duration: str,
        voice: str,
        middle: Middle,
        home: int,
        first: bool,
    ) -> str:
        kind, ratio, stem = middle
        if note.marks or note.head is not None or note.attributes or event.attributes:
            return self._dressed_head(event, note, opening, duration, voice, middle, home, first)
        pitch = self._pitches.get(id(note.pitch)) or self._pitch(note.pitch)
        ties = self._ties(event, note) if note.tie_start or note.tie_stop else ""
        instrument = self._instrument(note) if len(self.ids) > 1 else ""
        accidental = self._mark(note.accidental) if note.accidental is not None else ""
        staff = self._staff(note.voice_staff or home) if self.staves > 1 else ""
        beams = self._beams(event) if first and event.beams else ""
        tied = note.tie_start or note.tie_stop
        notations = self._notations(event, note, first) if event.marks or tied else ""
        lyrics = self._lyrics(event) if first and event.lyrics else ""
        return (
            f"<note>{opening}{pitch}{duration}{ties}{instrument}{voice}{kind}{accidental}"
            f"{ratio}{stem}{staff}{beams}{notations}{lyrics}</note>\n"
        )

    def _dressed_head(
        self,
        event: Event[Written],
        note: Note[Written],
        opening: str,
        duration: str,
        voice: str,
        middle: Middle,
        home: int,
        first: bool,
    ) -> str:
        """A head with marks, a look or attributes of its own."""
        kind, ratio, stem = middle
        return self._note(
            _merged(event.attributes, note.attributes),
            opening + self._pitch(note.pitch) + duration + self._ties(event, note),
            self._instrument(note) + self._some(note.marks, _EDITORIAL) + voice,
            kind + (self._mark(note.accidental) if note.accidental is not None else ""),
            ratio + stem + self._look(note) + self._staff(note.voice_staff or home),
            self._beams(event) if first else "",
            self._notations(event, note, first),
            self._lyrics(event) if first else "",
            self._some(note.marks, _AFTER_LYRICS),
        )

    def _rest(self, event: Event[Written], voice: str, home: int) -> str:
        """A rest; plain ones of one look share their text."""
        plain = not (
            event.marks or event.lyrics or event.beams or event.attributes or event.carried
        )
        if not plain or event.grace is not None:
            return self._dressed_rest(event, voice, home)
        staff = event.rest_staff or home
        look = (event.duration, event.whole_bar, event.cue, event.stem)
        key = (look, id(event.value), staff, voice, self.staves > 1)
        found = self._rests.get(key)
        if found is None:
            found = self._rests[key] = self._dressed_rest(event, voice, home)
        return found

    def _dressed_rest(self, event: Event[Written], voice: str, home: int) -> str:
        display = next((m.inner for m in event.carried if m.name == "rest"), "")
        attributes: Attributes = (("measure", "yes"),) if event.whole_bar else ()
        duration = _duration(event)
        kind, ratio, stem = self._middle(event)
        return self._note(
            event.attributes,
            self._opening(event) + element("rest", attributes, inner=display) + duration,
            self._some(event.carried, ("instrument",))
            + self._some(event.carried, _EDITORIAL)
            + voice,
            kind,
            ratio + stem + self._staff(event.rest_staff or home),
            self._beams(event),
            self._notations(event, None, True),
            self._lyrics(event),
            self._some(event.carried, _AFTER_LYRICS),
        )

    @staticmethod
    def _note(attributes: Attributes, *sections: str) -> str:
        return f"<note{attributes_text(attributes)}>{''.join(sections)}</note>\n"

    def _pitch(self, pitch: Written | Drum) -> str:
        found = self._pitches.get(id(pitch))
        if found is None:
            found = self._pitches[id(pitch)] = pitch_text(pitch)
        return found

    def _value(self, event: Event[Written]) -> tuple[str, str]:
        value = event.value
        if value is None:
            return "", ""
        if event.carried:
            return value_texts(value, event.carried)
        found = self._values.get(id(value))
        if found is None:
            found = self._values[id(value)] = value_texts(value, ())
        return found

    def _mark(self, mark: Mark) -> str:
        found = self._marks.get(id(mark))
        if found is None:
            found = self._marks[id(mark)] = checked_mark_text(mark)
        return found

    def _some(self, marks: tuple[Mark, ...], names: tuple[str, ...]) -> str:
        """The note's own marks of certain names, in the order of the names."""
        if not marks:
            return ""
        own = [m for m in marks if m.group == "note"]
        return "".join([self._mark(m) for name in names for m in own if m.name == name])

    def _ties(self, event: Event[Written], note: Note[Written]) -> str:
        if event.cue or not (note.tie_start or note.tie_stop):
            return ""
        stop = '<tie type="stop"/>' if note.tie_stop else ""
        return stop + ('<tie type="start"/>' if note.tie_start else "")

    def _instrument(self, note: Note[Written]) -> str:
        if len(self.ids) < 2:
            return ""
        wanted = [m.get("id") for m in note.marks if m.name == "instrument"]
        if isinstance(note.pitch, Drum) and note.pitch.instrument:
            wanted = [note.pitch.instrument]
        known = [self.ids[w] for w in wanted if w in self.ids]
        return "".join([f'<instrument id="{k}"/>' for k in known])

    def _look(self, note: Note[Written]) -> str:
        head = self._mark(note.head) if note.head is not None else ""
        return head + self._some(note.marks, ("notehead-text",))

    def _staff(self, staff: int) -> str:
        return f"<staff>{staff}</staff>" if self.staves > 1 else ""

    def _beams(self, event: Event[Written]) -> str:
        return "".join([self._mark(m) for m in event.beams]) if event.beams else ""

    def _lyrics(self, event: Event[Written]) -> str:
        return "".join([lyric_text(lyric) for lyric in event.lyrics]) if event.lyrics else ""

    # Notations -------------------------------------------------------------------------------

    def _notations(self, event: Event[Written], note: Note[Written] | None, first: bool) -> str:
        marks = self._marks_of(event, note, first)
        tied = _tied(note) if note is not None and (note.tie_start or note.tie_stop) else ""
        if not marks and not tied:
            return ""
        editorial = [m for m in marks if m.group == "notations" and m.name in _EDITORIAL]
        leading = "".join([self._mark(m) for n in _EDITORIAL for m in editorial if m.name == n])
        rest = [m for m in marks if m not in editorial] if editorial else marks
        return f"<notations>{leading}{tied}{self._grouped(rest)}</notations>"

    def _marks_of(
        self, event: Event[Written], note: Note[Written] | None, first: bool
    ) -> list[Mark]:
        own = [m for m in note.marks if m.group != "note"] if note is not None else []
        if first:
            return [*own, *event.marks]
        return [*own, *(m for m in event.marks if m.name in _ON_EVERY_HEAD)]

    def _grouped(self, marks: list[Mark]) -> str:
        """Marks of one group that follow each other share its element."""
        texts: list[str] = []
        group = ""
        for mark in marks:
            run = mark.group if mark.group in _RUNS else ""
            if run != group and mark.name == "accidental-mark":
                run = ""  # its ornament was left out; alone it stands among the notations
            if run != group:
                texts += [f"</{group}>" if group else "", f"<{run}>" if run else ""]
                group = run
            texts.append(self._mark(mark))
        return "".join([*texts, f"</{group}>" if group else ""])


def _duration(event: Event[Written]) -> str:
    return "" if event.grace is not None else f"<duration>{event.duration}</duration>"


def _merged(event: Attributes, note: Attributes) -> Attributes:
    own = {name for name, _ in note}
    return (*(a for a in event if a[0] not in own), *note)


def _tied(note: Note[Written]) -> str:
    """The ties' own notation where the note does not carry it."""
    shown = {m.get("type") for m in note.marks if m.name == "tied"}
    stop = '<tied type="stop"/>' if note.tie_stop and "stop" not in shown else ""
    return stop + ('<tied type="start"/>' if note.tie_start and "start" not in shown else "")


def pitch_text(pitch: Written | Drum) -> str:
    """A pitch or a place on the staff as XML."""
    letter = LETTERS[pitch.step]
    if isinstance(pitch, Drum):
        if pitch.octave < 0:
            return "<unpitched/>"
        place = f"<display-step>{letter}</display-step>"
        place += f"<display-octave>{pitch.octave}</display-octave>"
        return f"<unpitched>{place}</unpitched>"
    if not 0 <= pitch.octave <= 9:
        raise CannotWrite(
            f"a note is to be written as {pitch}, outside MusicXML's octaves 0 to 9.",
            hint="Give the line to another instrument or move it by octaves.",
        )
    alter = f"<alter>{decimal(pitch.alter)}</alter>" if pitch.alter else ""
    return f"<pitch><step>{letter}</step>{alter}<octave>{pitch.octave}</octave></pitch>"


def decimal(number: Alter) -> str:
    """A number as XML has it: whole where it is whole."""
    value = float(number)
    return str(int(value)) if value == int(value) else repr(value)


def value_texts(value: Value, carried: tuple[Mark, ...]) -> tuple[str, str]:
    """A notated value's type with dots, and its ratio."""
    size = next((m for m in carried if m.name == "type"), None)
    kind = element("type", size.attributes if size else (), value.type) if value.type else ""
    kind += "<dot/>" * value.dots
    if value.actual == value.normal == 1:
        return kind, ""
    ratio = (
        f"<actual-notes>{value.actual}</actual-notes><normal-notes>{value.normal}</normal-notes>"
    )
    unit = leaf("normal-type", value.normal_type)
    dots = "<normal-dot/>" * sum(m.name == "normal-dot" for m in carried) if unit else ""
    return kind, f"<time-modification>{ratio}{unit}{dots}</time-modification>"


def lyric_text(lyric: Lyric) -> str:
    """A syllable as the document had it, or built where it is new."""
    mark = lyric.mark
    if mark.inner:
        return element("lyric", mark.attributes, inner=mark.inner)
    attributes = mark.attributes or ((("number", lyric.verse),) if lyric.verse else ())
    inner = leaf("syllabic", lyric.syllabic) + f"<text>{escaped(lyric.text)}</text>"
    return element("lyric", attributes, inner=inner)


def checked_mark_text(mark: Mark) -> str:
    """A mark as XML. Raises CannotWrite where MusicXML has no such element in its group."""
    if not allows(mark.group, mark.name):
        raise CannotWrite(
            f"<{mark.name}> has no place in MusicXML's {mark.group}.",
            hint="This is a fault of the program, please report it.",
        )
    if mark.name == "dynamics" and not mark.inner and mark.text:
        return element("dynamics", mark.attributes, inner=level_text(mark.text))
    return mark_text(mark)


def level_text(level: str) -> str:
    """A dynamic level as an element."""
    if allows("dynamics", level) and level != "other-dynamics":
        return f"<{level}/>"
    return f"<other-dynamics>{escaped(level)}</other-dynamics>"
