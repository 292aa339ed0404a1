"""Music as the file has it, before voices become layers: one bar of one part after the other."""

from __future__ import annotations

from collections.abc import Iterable

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


class RawNote(Struct, eq=False):
    """One `<note>`: its children, then what they come to.

    `duration` and `staff` are the file's texts; `stem` is None where that text is none. `note`
    is the head, None for a rest. Notes of a file that are alike share one object.
    """

    pitch: Written | Drum | None = None
    rest: bool = False
    whole_bar: bool = False
    chord: bool = False
    cue: bool = False
    grace: Mark | None = None
    tie_start: bool = False
    tie_stop: bool = False
    dots: int = 0
    ratio: tuple[int, int, str] = (1, 1, "")
    accidental: Mark | None = None
    head: Mark | None = None
    attributes: Attributes = ()
    beams: list[Mark] = field(default_factory=list)
    event_marks: list[Mark] = field(default_factory=list)
    head_marks: list[Mark] = field(default_factory=list)
    lyrics: list[Lyric] = field(default_factory=list)
    carried: list[Mark] = field(default_factory=list)
    voice: str = "1"
    duration: str | None = None
    staff: str | None = None
    stem: str | None = ""
    value: Value | None = None
    note: Note[Written] | None = None


class RawEvent(Struct, eq=False):
    """A chord, note or rest with the voice and staff the file gives it."""

    at: int
    duration: int
    voice: str
    staff: int
    heads: list[tuple[int, Note[Written]]]
    value: Value | None
    marks: list[Mark]
    beams: list[Mark]
    lyrics: list[Lyric]
    carried: list[Mark]
    grace: Mark | None
    cue: bool
    whole_bar: bool
    stem: str
    attributes: Attributes


class RawMusic(Struct, eq=False):
    """What is in a bar of a part; `reach` is the furthest tick the file's cursor came to.

    Bars of a file that hold the same share one object.
    """

    events: list[RawEvent] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    directions: list[Direction] = field(default_factory=list)
    harmonies: list[Harmony[Written]] = field(default_factory=list)
    barlines: list[Barline] = field(default_factory=list)
    carried: list[Carried] = field(default_factory=list)
    reach: int = 0


class RawBar(Struct, eq=False):
    """One bar of one part: its name and place in the file, and its music."""

    number: str
    implicit: bool
    attributes: Attributes
    line: int
    music: RawMusic


class RawPart(Struct, eq=False):
    """All bars of one part."""

    staves: int = 1
    bars: list[RawBar] = field(default_factory=list)


def all_music(parts: Iterable[RawPart]) -> list[RawMusic]:
    """The music of all bars of some parts, each that is shared once."""
    return list({id(bar.music): bar.music for part in parts for bar in part.bars}.values())
