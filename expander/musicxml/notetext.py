"""Writing events as `<note>` elements.

The order of a note's children is the schema's; it stands once, in `_note`. Texts of pitches,
values and marks are kept by the identity of their objects, and those of a layer's bar by the
identity of its events: players who double a line share the objects, so their text is built once.
All objects belong to the document being written, which outlives the writer.
"""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct

from expander.model.pitch import Drum, Written
from expander.model.score import Attributes, Event, Lyric, Mark, Note
from expander.musicxml.text import attributes_text, element, escaped, mark_text
from expander.musicxml.valuetext import checked_mark_text, lyric_text, pitch_text, value_texts

_RUNS = frozenset({"articulations", "ornaments", "technical"})
_ON_EVERY_HEAD = frozenset({"arpeggiate"})
_EDITORIAL = ("footnote", "level")
_AFTER_LYRICS = ("play", "listen")

Events = tuple[Event[Written], ...]
Middle = tuple[str, str, str]
"""Type with dots, ratio, and stem, as XML."""

Looks = dict[tuple[int, int, str], tuple[str, str]]
"""What stands before and after the accidental of plain notes of one duration, value and stem."""


class LayerBar(Struct, frozen=True):
    """A bar of a layer: the text of each event, and where it ends; -1 where it has gaps."""

    texts: list[str]
    end: int


class NoteWriter:
    """Writes the events of a document's layers. `staves` and `ids` are of the part in hand."""

    def __init__(self) -> None:
        self.staves = 1
        self.ids: dict[str, str] = {}
        self._part = 0
        self._layers: dict[tuple[int, str, int, int, int], LayerBar] = {}
        self._pitches: dict[int, str] = {}
        self._values: dict[int, tuple[str, str]] = {}
        self._marks: dict[int, str] = {}
        self._lyrics: dict[int, str] = {}
        self._beams: dict[tuple[int, ...], str] = {}
        self._notations: dict[tuple[int, ...], str] = {}
        self._rests: dict[tuple[object, ...], str] = {}
        self._lengths: dict[tuple[int, int, str], tuple[str, Middle]] = {}
        self._voices: dict[tuple[str, int, bool], tuple[str, Looks]] = {}

    def begin_part(self, staves: int, ids: dict[str, str]) -> None:
        """From here on, events belong to a part of so many staves, with these sounds."""
        self.staves = staves
        self.ids = ids
        # Texts name sounds only where a part has several; other parts share theirs.
        self._part += 1 if len(ids) > 1 else 0

    def layer(self, events: Events, voice: str, home: int) -> LayerBar:
        """A layer's bar as text."""
        part = self._part if len(self.ids) > 1 else 0
        key = (id(events), voice, home, self.staves, part)
        found = self._layers.get(key)
        if found is None:
            spoken, looks = self._voice(voice, home)
            texts = [self._event(e, spoken, home, looks) for e in events]
            found = self._layers[key] = LayerBar(texts, _end(events))
        return found

    def _voice(self, voice: str, home: int) -> tuple[str, Looks]:
        """The element that names a voice, and the looks of its plain notes so far."""
        key = (voice, home, self.staves > 1)
        found = self._voices.get(key)
        if found is None:
            found = self._voices[key] = (f"<voice>{escaped(voice)}</voice>", {})
        return found

    def _event(self, event: Event[Written], voice: str, home: int, looks: Looks) -> str:
        notes = event.notes
        if not notes:
            return self._rest(event, voice, home)
        if len(notes) == 1 and len(self.ids) < 2 and _is_plain(event, notes[0]):
            return self._plain(event, notes[0], voice, home, looks)
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

    def _plain(
        self, event: Event[Written], note: Note[Written], voice: str, home: int, looks: Looks
    ) -> str:
        """A single note with nothing out of the ordinary, as most are."""
        key = (event.duration, id(event.value), event.stem)
        look = looks.get(key)
        if look is None:
            duration, (kind, ratio, stem) = self._length(event)
            look = looks[key] = (duration + voice + kind, ratio + stem + self._staff(home))
        pitch = self._pitches.get(id(note.pitch)) or self._pitch(note.pitch)
        accidental = self._mark(note.accidental) if note.accidental is not None else ""
        beams = self._beams_of(event) if event.beams else ""
        notations = self._plain_notations(event.marks) if event.marks else ""
        lyrics = self._lyrics_of(event) if event.lyrics else ""
        return f"<note>{pitch}{look[0]}{accidental}{look[1]}{beams}{notations}{lyrics}</note>\n"

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
        beams = self._beams_of(event) if first and event.beams else ""
        tied = note.tie_start or note.tie_stop
        notations = self._notations_of(event, note, first) if event.marks or tied else ""
        lyrics = self._lyrics_of(event) if first and event.lyrics else ""
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
            self._beams_of(event) if first else "",
            self._notations_of(event, note, first),
            self._lyrics_of(event) if first else "",
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
            self._beams_of(event),
            self._notations_of(event, None, True),
            self._lyrics_of(event),
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

    def _beams_of(self, event: Event[Written]) -> str:
        key = tuple(map(id, event.beams))
        found = self._beams.get(key)
        if found is None:
            found = self._beams[key] = "".join(map(self._mark, event.beams))
        return found

    def _lyrics_of(self, event: Event[Written]) -> str:
        return "".join(map(self._lyric, event.lyrics)) if event.lyrics else ""

    def _lyric(self, lyric: Lyric) -> str:
        found = self._lyrics.get(id(lyric))
        if found is None:
            found = self._lyrics[id(lyric)] = lyric_text(lyric)
        return found

    # Notations -------------------------------------------------------------------------------

    def _notations_of(self, event: Event[Written], note: Note[Written] | None, first: bool) -> str:
        marks = self._marks_of(event, note, first)
        tied = _tied(note) if note is not None and (note.tie_start or note.tie_stop) else ""
        if tied:
            return self._notations_text(marks, tied)
        return self._plain_notations(tuple(marks)) if marks else ""

    def _plain_notations(self, marks: tuple[Mark, ...]) -> str:
        """Notations without ties; most are like others."""
        key = tuple(map(id, marks))
        found = self._notations.get(key)
        if found is None:
            found = self._notations[key] = self._notations_text(marks, "")
        return found

    def _notations_text(self, marks: Sequence[Mark], tied: str) -> str:
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

    def _grouped(self, marks: Sequence[Mark]) -> str:
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


def _end(events: Events) -> int:
    """The tick at which events end that follow each other from the start, else -1."""
    at = 0
    for event in events:
        if event.at != at:
            return -1
        at += event.duration
    return at


def _is_plain(event: Event[Written], note: Note[Written]) -> bool:
    """True where neither grace, cue, tie, look nor staff of its own sets a note apart."""
    return not (
        note.marks
        or note.tie_start
        or note.tie_stop
        or note.voice_staff
        or note.attributes
        or event.attributes
        or event.carried
        or event.cue
        or note.head is not None
        or event.grace is not None
    )


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
