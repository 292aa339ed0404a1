"""Music as the file has it, before voices become layers: one bar of one part after the other."""

from __future__ import annotations

from msgspec import Struct, field

from expander.model.pitch import Drum, Written
from expander.model.score import (
    Attributes,
    Barline,
    Carried,
    Change,
    Direction,
    Harmony,
    Lyric,
    Mark,
    Note,
    Value,
)


class RawNote:
    """One `<note>` while its children are read."""

    __slots__ = (
        "accidental",
        "attributes",
        "beams",
        "carried",
        "chord",
        "cue",
        "dots",
        "event_marks",
        "grace",
        "head",
        "head_marks",
        "lyrics",
        "pitch",
        "ratio",
        "rest",
        "texts",
        "tie_start",
        "tie_stop",
        "whole_bar",
    )

    def __init__(self) -> None:
        self.texts: dict[str, str | None] = {}
        self.pitch: Written | Drum | None = None
        self.rest = False
        self.whole_bar = False
        self.chord = False
        self.cue = False
        self.grace: Mark | None = None
        self.tie_start = False
        self.tie_stop = False
        self.dots = 0
        self.ratio: tuple[int, int, str] = (1, 1, "")
        self.accidental: Mark | None = None
        self.head: Mark | None = None
        self.attributes: Attributes = ()
        self.beams: list[Mark] = []
        self.event_marks: list[Mark] = []
        self.head_marks: list[Mark] = []
        self.lyrics: list[Lyric] = []
        self.carried: list[Mark] = []


class RawEvent:
    """A chord, note or rest with the voice and staff the file gives it."""

    __slots__ = (
        "at",
        "attributes",
        "beams",
        "carried",
        "cue",
        "duration",
        "grace",
        "heads",
        "lyrics",
        "marks",
        "staff",
        "stem",
        "value",
        "voice",
        "whole_bar",
    )

    def __init__(self, at: int, duration: int, voice: str, staff: int) -> None:
        self.at = at
        self.duration = duration
        self.voice = voice
        self.staff = staff
        self.heads: list[tuple[int, Note[Written]]] = []
        self.value: Value | None = None
        self.marks: list[Mark] = []
        self.beams: list[Mark] = []
        self.lyrics: list[Lyric] = []
        self.carried: list[Mark] = []
        self.grace: Mark | None = None
        self.cue = False
        self.whole_bar = False
        self.stem = ""
        self.attributes: Attributes = ()


class RawBar(Struct):
    """One bar of one part; `reach` is the furthest tick the file's cursor came to."""

    number: str
    implicit: bool
    attributes: Attributes
    line: int
    events: list[RawEvent] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    directions: list[Direction] = field(default_factory=list)
    harmonies: list[Harmony[Written]] = field(default_factory=list)
    barlines: list[Barline] = field(default_factory=list)
    carried: list[Carried] = field(default_factory=list)
    reach: int = 0


class RawPart(Struct):
    """All bars of one part."""

    staves: int = 1
    bars: list[RawBar] = field(default_factory=list)
