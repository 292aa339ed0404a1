"""What the sheet shows, as values: sections, rows of players, curves and words.

Conventions
    Bars are indices from 0; `Outline.labels` has their printed numbers. Times are seconds at the
    tempo, played through once. Heights are sounding semitones (middle C = 60).
"""

from __future__ import annotations

from enum import StrEnum

from msgspec import Struct


class Role(StrEnum):
    """What a player has to do in a bar, the most prominent first."""

    TUNE = "tune"
    COUNTER = "counter-line"
    BASS = "bass"
    FIGURE = "figure"
    PAD = "pad"


class Cell(Struct, frozen=True):
    """What one player does in one bar: `colour` is technique and mute in words, or ""."""

    role: Role
    strand: str = ""
    colour: str = ""
    level: str = ""


class Stretch(Struct, frozen=True):
    """A stretch of music or silence: first and last bar, and its seconds."""

    first: int
    last: int
    seconds: float


class Row(Struct, frozen=True):
    """One player (or one staff of a sketch): a cell per bar, None where silent.

    `playing` is the longest stretch without any rest, `silent` the longest without a note; None
    where there is no such stretch.
    """

    name: str
    cells: tuple[Cell | None, ...]
    playing: Stretch | None = None
    silent: Stretch | None = None


class LyricLine(Struct, frozen=True):
    """Words between two breaths, with the bars they fall on. `singer` where several differ."""

    verse: str
    first: int
    last: int
    text: str
    singer: str = ""


class Playing(Struct, frozen=True):
    """Who plays one strand in a section: names with their colour, in score order."""

    role: Role
    strand: str
    who: tuple[tuple[str, str], ...]

    @property
    def title(self) -> str:
        """Role and strand, the strand only where it says more."""
        return (
            self.role.value
            if self.strand in self.role.value
            else f"{self.role.value}: {self.strand}"
        )


class Happening(Struct, frozen=True):
    """A key, metre or tempo, told where it begins: `fresh` where it changes inside the piece."""

    bar: int
    text: str
    fresh: bool = True


class Section(Struct, frozen=True):
    """A section of the form. The first key, metre and tempo are those it begins with."""

    name: str
    first: int
    last: int
    seconds: float
    keys: tuple[Happening, ...] = ()
    metres: tuple[Happening, ...] = ()
    tempi: tuple[Happening, ...] = ()
    words: tuple[LyricLine, ...] = ()
    players: tuple[Playing, ...] = ()

    @property
    def length(self) -> int:
        """How many bars it has."""
        return self.last - self.first + 1


class Curves(Struct, frozen=True):
    """How the piece goes, a value per bar; None where nothing sounds or nothing is said.

    `players` sound in the bar, `at_once` is how many notes sound together on average. `low`,
    `middle`, `high` are heights. `level` is the mean dynamic (0 = ppp ... 7 = fff), `softest` and
    `loudest` the ends of it.
    """

    players: tuple[int, ...]
    at_once: tuple[float, ...]
    low: tuple[int | None, ...]
    middle: tuple[float | None, ...]
    high: tuple[int | None, ...]
    softest: tuple[float | None, ...]
    level: tuple[float | None, ...]
    loudest: tuple[float | None, ...]


class Remark(Struct, frozen=True):
    """Something the curves tell: "fullest" with the bars and a sentence."""

    title: str
    first: int
    last: int
    text: str


class Outline(Struct, frozen=True):
    """The plan of a piece.

    `seconds` is once through, `played` with repeats and endings. `exact` is True where the roles
    are those of a rule file, False where they were read from the music. `tempo_said` is False
    where no tempo stands in the file and an ordinary one was taken.
    """

    title: str
    people: tuple[tuple[str, str], ...]
    line_up: str
    labels: tuple[str, ...]
    starts: tuple[float, ...]
    seconds: float
    played: float
    sections: tuple[Section, ...]
    rows: tuple[Row, ...]
    curves: Curves
    remarks: tuple[Remark, ...] = ()
    exact: bool = False
    tempo_said: bool = True
    jumps: bool = False
    marks: tuple[tuple[int, str], ...] = ()

    def bars(self, first: int, last: int) -> str:
        """A stretch of bars by their printed numbers: "9-14", or "9" for one bar."""
        one, other = self.labels[first], self.labels[last]
        return one if first == last else f"{one}–{other}"
