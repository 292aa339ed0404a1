"""A score as values: what a MusicXML document says, in exact time.

One structure serves sketch, full score and part. Its pitch type tells which view it is:
`Score[Written]` is the document as it stands on paper, `Score[Sounding]` what is heard.

Conventions
    Time is in ticks; `Score.grid` ticks make a quarter note. Every `at` counts from the start
    of its bar, every `Bar.start` from the start of the piece. Durations of grace notes are 0.
    Containers are indexed by bar, then by layer. Nothing knows its parent.
    Marks travel: what is attached to a note is carried as the document had it, unknown kinds
    included. Only `musicxml/` looks inside `Mark.inner`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from expander.model.apart import Apart
from expander.model.marks import Attributes as Attributes
from expander.model.marks import Clef as Clef
from expander.model.marks import Key as Key
from expander.model.marks import Lyric as Lyric
from expander.model.marks import Mark as Mark
from expander.model.marks import Time as Time
from expander.model.marks import Value as Value
from expander.model.pitch import Drum, Pitch, Sounding, Transposition, Written

P = TypeVar("P", bound=Pitch)


class Note(Struct, Generic[P], frozen=True, eq=False):
    """One head.

    `origin` is the note's number in the sketch (a tied chain has one number; -1 none), which
    the ledger follows; it takes no part in comparing notes. Where one head stands for several notes
    of the sketch (a unison), `also` has the numbers of the others. `head` is a notehead mark,
    `accidental` the accidental shown in the document, `voice_staff` the staff of the part (from
    1) on which the head stands if not its layer's own (cross-staff), else 0.
    """

    pitch: P | Drum
    tie_start: bool = False
    tie_stop: bool = False
    accidental: Mark | None = None
    head: Mark | None = None
    marks: tuple[Mark, ...] = ()
    attributes: Attributes = ()
    voice_staff: int = 0
    origin: int = -1
    also: tuple[int, ...] = ()

    def __eq__(self, other: object) -> bool:
        """The same head on paper, whichever notes of the sketch it stands for."""
        if type(other) is not Note:
            return NotImplemented
        return self is other or self._on_paper() == other._on_paper()

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(self._on_paper())

    def _on_paper(self) -> tuple[object, ...]:
        return (
            self.pitch, self.tie_start, self.tie_stop, self.accidental,
            self.head, self.marks, self.attributes, self.voice_staff,
        )  # fmt: skip

    @property
    def origins(self) -> tuple[int, ...]:
        """All notes of the sketch that this head stands for."""
        return (self.origin, *self.also)

    def standing_for(self, other: Note[P]) -> Note[P]:
        """The same head, standing also for the notes of another."""
        known = self.origins
        more = tuple(n for n in other.origins if n not in known)
        return replace(self, also=(*self.also, *more)) if more else self


class Event(Struct, Generic[P], frozen=True):
    """A chord, a single note or a rest (no notes) in one layer.

    `value` is None where the document gives no type. `marks` belong to the whole chord (slurs,
    articulations, ornaments, tuplets, fermatas, technique); `beams` are MusicXML's beam
    elements. `grace` carries the grace element for grace notes. `cue` events are information,
    not music to expand. `whole_bar` marks a whole-bar rest. `carried` are other child elements.
    """

    at: int
    duration: int
    notes: tuple[Note[P], ...] = ()
    value: Value | None = None
    marks: tuple[Mark, ...] = ()
    beams: tuple[Mark, ...] = ()
    lyrics: tuple[Lyric, ...] = ()
    grace: Mark | None = None
    cue: bool = False
    whole_bar: bool = False
    stem: str = ""
    rest_staff: int = 0
    attributes: Attributes = ()
    carried: tuple[Mark, ...] = ()

    @property
    def is_rest(self) -> bool:
        """True where nothing sounds."""
        return not self.notes

    @property
    def end(self) -> int:
        """Tick in the bar at which it ends."""
        return self.at + self.duration


class Change(Struct, frozen=True):
    """A clef, key, time, transposition or other attribute that takes effect at a place.

    `what` is a `Clef`, `Key`, `Time`, `Transposition`, or a carried `Mark`. `staff` counts from
    1 within the part; 0 means all staves of it.
    """

    at: int
    what: Clef | Key | Time | Transposition | Mark
    staff: int = 0


class Direction(Struct, frozen=True):
    """A mark at a place of a staff: dynamics, wedge, words, metronome, rehearsal, pedal ...

    `marks` are its direction types in order (their `group` is `direction-type`); `sound` carries
    the playback element. `staff` counts from 1 within the part; 0 where the document names none.
    `voice` is the document's voice, or "".
    """

    at: int
    marks: tuple[Mark, ...]
    staff: int = 0
    voice: str = ""
    placement: str = ""
    attributes: Attributes = ()
    sound: Mark | None = None
    carried: tuple[Mark, ...] = ()

    def first(self, name: str) -> Mark | None:
        """The first direction type of that name."""
        for mark in self.marks:
            if mark.name == name:
                return mark
        return None


class Degree(Struct, frozen=True):
    """A change to a chord symbol: `kind` is add, alter or subtract."""

    value: int
    alter: int
    kind: str


class Harmony(Struct, Generic[P], frozen=True):
    """A chord symbol, by its musical content.

    `root` and `bass` are pitch names as (step, alter) with step 0 = C; root None for function or
    numeral symbols and "N.C.". `kind` is a MusicXML kind value, `text` what the document shows
    for it. `mark` carries the whole element, in which only `musicxml/` may look.
    """

    at: int
    root: tuple[int, int] | None
    kind: str
    text: str = ""
    inversion: int = 0
    bass: tuple[int, int] | None = None
    degrees: tuple[Degree, ...] = ()
    staff: int = 0
    mark: Mark = Mark("measure", "harmony")


class Carried(Struct, frozen=True):
    """A measure-level element that no stage interprets, at its place."""

    at: int
    mark: Mark


class Barline(Struct, frozen=True):
    """A barline: `location` left, right or middle; style, repeat and ending as the document has.

    `repeat` and `ending` are those elements. `marks` are fermatas, segno, coda on it. `at` is the
    tick of a middle barline, 0 for the others.
    """

    location: str
    style: str = ""
    repeat: Mark | None = None
    ending: Mark | None = None
    marks: tuple[Mark, ...] = ()
    at: int = 0


class Bar(Struct, frozen=True):
    """One bar of the system: what all parts share.

    `number` is the printed label (not always a number); `start` and `length` are in ticks;
    `nominal` is the length that the time signature asks for; `implicit` bars are not counted
    (pickups, split bars).
    """

    number: str
    start: int
    length: int
    nominal: int
    time: Time
    implicit: bool = False
    attributes: Attributes = ()


class PartBar(Struct, Generic[P], frozen=True):
    """What one part has in one bar. `layers` is parallel to `Part.layers`."""

    layers: tuple[tuple[Event[P], ...], ...] = ()
    changes: tuple[Change, ...] = ()
    directions: tuple[Direction, ...] = ()
    harmonies: tuple[Harmony[P], ...] = ()
    barlines: tuple[Barline, ...] = ()
    carried: tuple[Carried, ...] = ()
    attributes: Attributes = ()


class LayerId(Struct, frozen=True):
    """A layer of a part: its home staff (from 1) and the document's voice name."""

    staff: int
    voice: str


class Sound(Struct, frozen=True):
    """One playback sound of a part: score-instrument and midi-instrument together.

    `sound` is an id of the MusicXML sound list; `program` 1-128 and `channel` 1-16, 0 for none;
    `key` is the MIDI key of an unpitched sound counted from 1 as MusicXML does (0: none).
    """

    id: str
    name: str
    sound: str = ""
    program: int = 0
    channel: int = 0
    key: int = 0
    volume: str = ""
    pan: str = ""
    carried: tuple[Mark, ...] = ()


class Part(Struct, Generic[P], frozen=True):
    """One part of a score, of one or more staves."""

    id: str
    name: str
    short: str
    staves: int
    layers: tuple[LayerId, ...]
    bars: tuple[PartBar[P], ...]
    sounds: tuple[Sound, ...] = ()
    carried: tuple[Mark, ...] = ()


class Bracket(Struct, frozen=True):
    """A bracket or brace over neighbouring parts, `first` to `last` (indices, both included).

    `symbol` is bracket, brace, square, line or "" (none: barlines only). `barlines` tells
    whether barlines run through.
    """

    first: int
    last: int
    symbol: str = "bracket"
    barlines: bool = True
    name: str = ""
    short: str = ""
    number: str = ""


class Credit(Struct, frozen=True):
    """A line of the title page: `kind` is title, composer, lyricist, arranger, rights ...

    Credits with a page position are carried whole in `mark`.
    """

    kind: str
    text: str
    mark: Mark | None = None


class Header(Struct, frozen=True):
    """The document's head. `people` are creators as (type, name), e.g. ("composer", "…")."""

    work_title: str = ""
    work_number: str = ""
    movement_title: str = ""
    movement_number: str = ""
    people: tuple[tuple[str, str], ...] = ()
    rights: tuple[tuple[str, str], ...] = ()
    source: str = ""
    miscellaneous: tuple[tuple[str, str], ...] = ()
    credits: tuple[Credit, ...] = ()
    defaults: str = ""
    concert_pitch: bool = False


class Oddity(Struct, frozen=True):
    """Something odd in a file that was read all the same, with its place in the file."""

    message: str
    line: int = 0
    part: str = ""
    bar: str = ""


class Score(Apart, Generic[P], frozen=True):
    """A whole score. Every part has as many bars as `bars`."""

    grid: int
    header: Header
    bars: tuple[Bar, ...]
    parts: tuple[Part[P], ...]
    brackets: tuple[Bracket, ...] = ()
    warnings: tuple[Oddity, ...] = ()


Document = Score[Written]
"""A score as it stands on paper."""

Sketch = Score[Sounding]
"""A score as it is heard; what the stages work on."""


class StaffAddress(Struct, frozen=True):
    """A staff of a sketch: staves are numbered from 1 down the whole sketch."""

    number: int
    part: int
    staff: int
    layers: tuple[int, ...]  # indices into Part.layers, in order down the staff


def staves_of(score: Score[P]) -> tuple[StaffAddress, ...]:
    """All staves from the top down, each with its layers in order."""
    found: list[StaffAddress] = []
    for index, part in enumerate(score.parts):
        for staff in range(1, part.staves + 1):
            layers = tuple(i for i, layer in enumerate(part.layers) if layer.staff == staff)
            found.append(StaffAddress(len(found) + 1, index, staff, layers))
    return tuple(found)


Sections = Mapping[str, range]
"""Section names with their bar indices (counted from 0)."""
