"""A line dressed for its player: words only for singers, marks only for those who can use them.

Works on sounding events, once for each bar of music and kind of player.
"""

from __future__ import annotations

from collections.abc import Mapping
from operator import is_not

from msgspec import Struct
from msgspec.structs import replace

from expander.model.hands import suits
from expander.model.instrument import Instrument
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events, Line
from expander.model.rules import Technique
from expander.model.score import Event, Mark, Note, Sound
from expander.model.spans import alternates
from expander.model.values import without_tremolo
from expander.notate.harmonics import as_harmonics

SINGING = "voice"
CHORDAL = 4

SLASH = "slash"
"""The head of a beat on which the player makes up the notes."""

UNMEASURED = "3"
"""Strokes of a tremolo that is no measured repetition: players who blow cannot do it."""

_BREATHING = frozenset({"woodwind", "brass", "voice"})
PLUCKED = frozenset({"pizzicato", "snap-pizzicato", "left-hand-pizzicato", "quasi-guitar"})
_BOWED = frozenset({"slur", "up-bow", "down-bow", "tremolo", "detached-legato"})
"""Marks of the bow, which mean nothing to plucked strings."""

_SLIDES = frozenset({"glissando", "slide"})
_CHORD_ONLY = frozenset({"arpeggiate", "non-arpeggiate"})
_REFERRING = frozenset({"instrument", "play", "listen", "level"})

MIDDLE_LINE = Drum(6, 4)
"""Where an instrument without a place of its own stands: the middle line, as treble B4."""


class Dressing(Struct, frozen=True):
    """What decides how a bar is dressed, apart from its music."""

    instrument: Instrument
    sings: bool
    technique: Technique | None
    sounds: Mapping[str, Sound]


class Dresser:
    """Dresses lines; the same bar for the same kind of player is dressed once."""

    def __init__(self, techniques: Mapping[str, Technique], sounds: Mapping[str, Sound]) -> None:
        self._techniques = techniques
        self._sounds = sounds
        self._kept: dict[tuple[object, ...], dict[int, tuple[Events, Events]]] = {}
        self._bare: dict[tuple[int, bool], tuple[Events, Events]] = {}
        self.unplayable: list[tuple[Line, int]] = []

    def dressed(self, line: Line) -> Line:
        """The line as its player reads it, still at sounding pitch."""
        dressing = self.dressing(line)
        kept = self._kept.setdefault(_kind(dressing), {})
        several = dressing.instrument.staves > 1
        bars: dict[int, Events] = {}
        for bar, events in line.bars.items():
            found = kept.get(id(events))
            if found is None:
                bare = self._without_layout(events, several)
                found = kept[id(events)] = (events, dress(bare, dressing))
            new = found[1]
            if new is not events and _has_notes(events) and not _has_notes(new):
                self.unplayable.append((line, bar))
            if new:
                bars[bar] = new
        return replace(line, bars=bars)

    def _without_layout(self, events: Events, several: bool) -> Events:
        """A bar without the sketch's layout, taken off once for all who read one stave or more."""
        found = self._bare.get((id(events), several))
        if found is None:
            bare = without_layout(events, several)
            found = self._bare[id(events), several] = (events, bare)
        return found[1]

    def dressing(self, line: Line) -> Dressing:
        """How a line's entry wants its player dressed."""
        entry = line.task.entry
        instrument = line.seat.instrument
        sings = instrument.family == SINGING if entry.words is None else entry.words
        return Dressing(
            instrument,
            sings,
            self._techniques.get(entry.technique),
            self._sounds,
        )


def _has_notes(events: Events) -> bool:
    return any([event.notes for event in events])


def _kind(dressing: Dressing) -> tuple[object, ...]:
    """Players for whom the same bar looks the same have the same kind."""
    instrument = dressing.instrument
    pitched = instrument.pitched
    own = "" if pitched and not _needs_strings(dressing) else instrument.id
    technique = dressing.technique.id if dressing.technique else ""
    chordal = instrument.at_once >= CHORDAL
    return (instrument.family, own, chordal, instrument.staves, dressing.sings, technique)


def _needs_strings(dressing: Dressing) -> bool:
    return dressing.technique is not None and dressing.technique.id == "harmonics"


def without_layout(events: Events, several: bool = False) -> Events:
    """A bar without what belonged to the sketch's own layout.

    That is stems, ids of sounds, places on another staff: these an instrument of `several` staves
    may have as well.
    """
    if not _has_layout(events):
        return events
    return tuple([_plain(event, several) for event in events])


def _has_layout(events: Events) -> bool:
    for event in events:  # loops, as this is asked of every bar of every player
        if event.stem or event.carried or event.rest_staff:
            return True
        for note in event.notes:
            if note.voice_staff:
                return True
    return False


def _plain(event: Event[Sounding], several: bool) -> Event[Sounding]:
    notes = event.notes
    if not several and _crosses(event):
        notes = tuple([replace(n, voice_staff=0) for n in notes])
    carried = tuple([m for m in event.carried if m.name not in _REFERRING])
    stem = event.stem if event.stem == "none" else ""
    return replace(event, stem=stem, carried=carried, notes=notes, rest_staff=0)


def _crosses(event: Event[Sounding]) -> bool:
    return any([note.voice_staff for note in event.notes])


def dress(events: Events, dressing: Dressing) -> Events:
    """One bar of a line for one kind of player."""
    if dressing.technique is None and dressing.instrument.pitched and _is_plain(events):
        return events
    dressed = [_dressed_event(event, dressing) for event in events]
    kept = [event for event in dressed if event is not None]
    if len(kept) != len(events) or any(map(is_not, kept, events)):
        return tuple(kept)
    return events


def _dressed_event(event: Event[Sounding], dressing: Dressing) -> Event[Sounding] | None:
    if dressing.technique is None and dressing.instrument.pitched and _is_plain((event,)):
        return event
    notes = _notes(event, dressing)
    if event.notes and not notes:
        return None
    if notes is not event.notes:
        event = replace(event, notes=notes)
    event = _one_voice_marks(event)
    event = _words(event, dressing.sings)
    event = _marks(event, dressing)
    technique = dressing.technique
    if technique is None or not event.notes:
        return event
    if _needs_strings(dressing):
        return as_harmonics(event, dressing.instrument)
    if technique.id in PLUCKED and family_of_bows(dressing):
        event = replace(event, marks=tuple(m for m in event.marks if m.name not in _BOWED))
    return _each(event, technique)


def _is_plain(events: Events) -> bool:
    """Nothing in a bar that would not suit every player: most bars of most scores."""
    for event in events:
        if event.marks or event.lyrics:
            return False
        for note in event.notes:
            if note.marks or type(note.pitch) is Drum:
                return False
    return True


def family_of_bows(dressing: Dressing) -> bool:
    """Whether the player has a bow to lay aside."""
    return dressing.instrument.family == "strings"


def _one_voice_marks(event: Event[Sounding]) -> Event[Sounding]:
    """A slide of a single note is its line's, so that it is followed to its other end."""
    if len(event.notes) != 1 or not any(m.name in _SLIDES for m in event.notes[0].marks):
        return event
    (note,) = event.notes
    slides = tuple(m for m in note.marks if m.name in _SLIDES)
    kept = tuple(m for m in note.marks if m.name not in _SLIDES)
    return replace(event, notes=(replace(note, marks=kept),), marks=(*event.marks, *slides))


def _words(event: Event[Sounding], sings: bool) -> Event[Sounding]:
    """Without lyrics for those who do not sing; their notes are beamed by the beat again."""
    if sings or not event.lyrics:
        return event
    return replace(event, lyrics=(), beams=())


def _marks(event: Event[Sounding], dressing: Dressing) -> Event[Sounding]:
    family = dressing.instrument.family
    alone = len(event.notes) == 1
    marks = tuple(m for m in event.marks if _usable(m, family, alone))
    notes = event.notes
    if any(n.marks for n in notes):
        notes = tuple(
            replace(n, marks=tuple(m for m in n.marks if _usable(m, family, alone))) for n in notes
        )
    if marks == event.marks and notes == event.notes:
        return event
    if event.value and any(alternates(m) for m in event.marks if m not in marks):
        event = replace(event, value=without_tremolo(event.value), beams=())
    return replace(event, marks=marks, notes=notes)


def _usable(mark: Mark, family: str, alone: bool) -> bool:
    if mark.name == "tremolo" and mark.text.strip() == UNMEASURED:
        return family not in _BREATHING
    if mark.name in _CHORD_ONLY:
        return not alone
    return mark.group != "technical" or suits(mark.name, family)


def _each(event: Event[Sounding], technique: Technique) -> Event[Sounding]:
    """The technique's own mark on a note, where it has one for every note."""
    if not technique.each or not technique.element:
        return event
    group, name = technique.element.split("/")
    if any(m.name == name for m in event.marks):
        return event
    mark = Mark(group, name, *_CONTENT.get(name, ((), "")))
    return replace(event, marks=(*event.marks, mark))


_CONTENT: dict[str, tuple[tuple[tuple[str, str], ...], str]] = {
    "tremolo": ((("type", "single"),), "3"),
}
"""Attributes and text of marks that may not be empty: an unmeasured tremolo has three strokes."""


def _notes(event: Event[Sounding], dressing: Dressing) -> tuple[Note[Sounding], ...]:
    """The heads this player can play: pitches for pitched instruments, strokes for others."""
    if any(isinstance(n.pitch, Drum) for n in event.notes):
        if all(_shows_time(n, event) for n in event.notes):
            return event.notes
        if dressing.instrument.pitched:
            return tuple(n for n in event.notes if not isinstance(n.pitch, Drum))
    return event.notes if dressing.instrument.pitched else _strokes(event, dressing)


def _shows_time(note: Note[Sounding], event: Event[Sounding]) -> bool:
    """Slashes and the kicks above them, which every player reads alike."""
    if not isinstance(note.pitch, Drum):
        return False
    return event.cue or (note.head is not None and note.head.text.strip() == SLASH)


def _strokes(event: Event[Sounding], dressing: Dressing) -> tuple[Note[Sounding], ...]:
    """A stroke for each head; a pitched chord is one stroke, its rhythm given to the drum."""
    strokes = [_stroke(note, dressing) for note in event.notes]
    heads: dict[tuple[object, Mark | None], Note[Sounding]] = {}
    for stroke in strokes:
        known = heads.get((stroke.pitch, stroke.head))
        heads[stroke.pitch, stroke.head] = known.standing_for(stroke) if known else stroke
    return tuple(heads.values())


def _stroke(note: Note[Sounding], dressing: Dressing) -> Note[Sounding]:
    """The stroke for a head of the sketch.

    A set keeps the sketch's own places and heads (the sketch notates a set already) and takes
    its own sound for each; a single instrument has its own place and head; the rhythm of a
    pitched line goes to the first drum.
    """
    instrument = dressing.instrument
    if isinstance(note.pitch, Drum) and len(instrument.drum_places) > 2:
        name = _drum_name(note.pitch, dressing)
        return replace(note, pitch=replace(note.pitch, instrument=name), accidental=None)
    drum, head = main_drum(instrument)
    return replace(note, pitch=drum, tie_start=False, tie_stop=False, accidental=None, head=head)


def _drum_name(drum: Drum, dressing: Dressing) -> str:
    """The set's drum for a head of the sketch: by its MIDI key, its name, or the nearest place."""
    instrument = dressing.instrument
    sound = dressing.sounds.get(drum.instrument)
    keys = {key: name for name, key in instrument.drum_keys}
    if sound and sound.key in keys:
        return keys[sound.key]
    names = {name for name, _ in instrument.drum_keys}
    if sound and sound.name.lower() in names:
        return sound.name.lower()
    height = drum.octave * 7 + drum.step
    return min(
        instrument.drum_places, key=lambda row: abs(Sounding.named(row[1]).diatonic - height)
    )[0]


def main_drum(instrument: Instrument) -> tuple[Drum, Mark | None]:
    """Place and head of the instrument's first sound: the middle line where none is given."""
    if not instrument.drum_places:
        return MIDDLE_LINE, None
    name, place, head = instrument.drum_places[0]
    pitch = Sounding.named(place)
    shape = None if head in ("", "normal") else Mark("note", "notehead", (), head)
    sound = name if len(instrument.drum_keys) > 1 else ""
    return Drum(pitch.step, pitch.octave, sound), shape
