"""From a MusicXML file to a Document."""

from __future__ import annotations

import re
from fractions import Fraction
from math import lcm
from pathlib import Path
from typing import TypeVar

from lxml import etree
from msgspec import Struct
from msgspec.structs import replace

from expander.errors import BadMusic, Spot
from expander.model.pitch import Written
from expander.model.score import (
    Bar,
    Carried,
    Direction,
    Document,
    Harmony,
    Header,
    Part,
    PartBar,
    Score,
    Time,
    Value,
)
from expander.musicxml.attributes import with_numbered_clefs
from expander.musicxml.barcheck import check_bars, refuse_endless, system_bars
from expander.musicxml.bars import PartReader
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import (
    COARSE_GRID,
    LARGEST_GRID,
    Clock,
    guessed_grid,
    notated_grid,
)
from expander.musicxml.container import LARGEST, score_bytes
from expander.musicxml.header import HeaderReader
from expander.musicxml.known import Known, Piece, bar_texts, without_places
from expander.musicxml.layers import Events, Layering, Layers
from expander.musicxml.notes import NoteReader
from expander.musicxml.oddities import Oddities
from expander.musicxml.parse import score_tree
from expander.musicxml.partlist import PartInfo, PartListReader
from expander.musicxml.raw import RawBar, RawMusic, RawPart, all_music
from expander.musicxml.scale import needed_grid, rescale
from expander.musicxml.tree import Element, line_of

Pieces = list[Piece]
Placed = TypeVar("Placed", Direction, Harmony[Written], Carried)
_DIVISIONS = re.compile(rb"<divisions>\s*([\d.]{1,20})")
"""Found in the bytes, which is quicker than in the tree; a guess that missed some is mended."""


def read(path: Path | str) -> Document:
    """The score in a MusicXML file, plain or compressed, told by its content.

    Pitches are as written (under an octave line MusicXML's own pitch is already the one meant,
    with the line's octave in it). What was odd is in `warnings`. Raises BadMusic with the place
    where nothing sensible can be read.
    """
    file = Path(path)
    try:
        with file.open("rb") as stream:
            data = stream.read(LARGEST + 1)  # some files have no end
    except (OSError, ValueError) as error:
        raise BadMusic(
            f"the file cannot be opened ({getattr(error, 'strerror', None) or error}).",
            at=Spot(str(path)),
            hint="Check the name and the folder.",
        ) from error
    return read_bytes(data, str(path))


def read_bytes(data: bytes, name: str) -> Document:
    """The score in a file's bytes; `name` is what messages call it. See `read`."""
    oddities = Oddities()
    given = score_bytes(data, name, oddities)
    xml = without_places(given)
    try:
        root = score_tree(xml, name, oddities)
    except BadMusic:
        root = score_tree(given, name, oddities)  # which says at what place in the file
    reading = _Reading(root, xml, name, oddities)
    return reading.document(guessed_grid(_DIVISIONS.findall(xml)))


class _Source(Struct):
    """One part: what the list tells of it, and its bars."""

    info: PartInfo
    pieces: Pieces


class _Reading:
    """Reads one file."""

    def __init__(self, root: Element, xml: bytes, name: str, oddities: Oddities) -> None:
        self.root = root
        self.xml = xml
        self.name = name
        self.oddities = oddities
        self.carrier = Carrier(oddities)
        self.list = PartListReader(self.carrier)

    def document(self, guess: int) -> Document:
        """The whole score; `guess` is a grid to begin with."""
        header = HeaderReader(self.carrier).read(self.root)
        self.list.read(self.root.find("part-list"))
        sources = self._sources()
        if not any(source.pieces for source in sources):
            raise BadMusic(
                "the score has no part with bars in it, expected at least one.",
                at=Spot(self.name, line_of(self.root)),
                hint="Save the score again with its parts.",
            )
        grid, raws = self._walk(sources, guess)
        return self._assembled(header, grid, sources, raws)

    # Parts -----------------------------------------------------------------------------------

    def _sources(self) -> list[_Source]:
        given = self._timewise() if self.root.tag == "score-timewise" else self._partwise()
        left = {info.given_id: info for info in reversed(self.list.parts)}
        found: dict[str, Pieces] = {}
        for number, (part_id, pieces) in enumerate(given):
            info = left.pop(part_id) if part_id in left else self._unlisted(part_id, number, left)
            found[info.id] = pieces
        return [self._source(info, found.get(info.id, [])) for info in self.list.parts]

    def _unlisted(self, part_id: str, number: int, left: dict[str, PartInfo]) -> PartInfo:
        """A part whose id is not in the list: the listed one at its place, or a new one."""
        self.oddities.add(f"part {part_id!r} is not in the part list")
        at_place = self.list.parts[number : number + 1]
        if not part_id and at_place and left.pop(at_place[0].given_id, False):
            return at_place[0]
        return self.list.unlisted(part_id)

    def _source(self, info: PartInfo, pieces: Pieces) -> _Source:
        if not pieces:
            self.oddities.add(f"part {info.name or info.id!r} has no bars; it was left empty")
        return _Source(info, pieces)

    def _partwise(self) -> list[tuple[str, Pieces]]:
        parts = list(self.root.iterchildren("part"))
        bars = [self._bars(part) for part in parts]
        count = sum(map(len, bars))
        texts = bar_texts(self.xml, count)
        return [
            (part.get("id", ""), [Piece(bar, bar, next(texts)) for bar in own])
            for part, own in zip(parts, bars, strict=True)
        ]

    def _bars(self, part: Element) -> list[Element]:
        for stray in part.iterchildren(etree.Element):
            if stray.tag != "measure":
                fault = f"<{stray.tag}> stands outside the bars and was left out"
                self.oddities.add(fault, line_of(stray))
        return list(part.iterchildren("measure"))

    def _timewise(self) -> list[tuple[str, Pieces]]:
        found: dict[str, Pieces] = {}
        bars = list(self.root.iterchildren("measure"))
        for bar in bars:
            for part in bar.iterchildren("part"):
                found.setdefault(part.get("id", ""), []).append(Piece(bar, part))
        return list(found.items())

    # Walking ---------------------------------------------------------------------------------

    def _walk(self, sources: list[_Source], guess: int) -> tuple[int, list[RawPart]]:
        """All parts on the grid they need; walked again where the first guess was too coarse."""
        before = self.oddities.mark()
        clock = Clock(guess)
        raws = self._walk_parts(sources, clock)
        asked = lcm(*clock.needed)
        if clock.rounded or asked > LARGEST_GRID:
            self.oddities.rewind(before)
            clock = Clock(COARSE_GRID if asked > LARGEST_GRID else asked)
            raws = self._walk_parts(sources, clock)
        grid = self._settled_grid(clock, raws)
        rescale(all_music(raws), Fraction(grid, clock.grid))
        if clock.rounded:
            self.oddities.add(f"the file divides its quarters more finely than 1/{LARGEST_GRID}")
        return grid, raws

    def _walk_parts(self, sources: list[_Source], clock: Clock) -> list[RawPart]:
        self.carrier.forget()
        notes = NoteReader(self.carrier, self.name)
        known = Known()
        return [self._walk_part(source, notes, clock, known) for source in sources]

    @staticmethod
    def _settled_grid(clock: Clock, raws: list[RawPart]) -> int:
        """The coarsest grid for what was read; finer for notated values where that is possible."""
        music = all_music(raws)
        grid = needed_grid(music, clock.grid)
        finer = lcm(grid, notated_grid(_values(music), _times(music)))
        return finer if finer <= LARGEST_GRID and not clock.rounded else grid

    def _walk_part(self, source: _Source, notes: NoteReader, clock: Clock, known: Known) -> RawPart:
        clock.begin_part()
        notes.sounds = source.info.ids
        self.oddities.part = source.info.name or source.info.id
        return PartReader(self.carrier, notes, clock, known).read(source.pieces)

    # Putting together ------------------------------------------------------------------------

    def _assembled(
        self, header: Header, grid: int, sources: list[_Source], raws: list[RawPart]
    ) -> Document:
        bars = system_bars(grid, raws)
        refuse_endless(grid, bars, raws, self.name)
        layering = Layering(self.oddities)
        parts = tuple(
            self._part(source.info, raw, bars, layering)
            for source, raw in zip(sources, raws, strict=True)
        )
        self.oddities.part = ""
        check_bars(grid, bars, raws, [s.info.name or s.info.id for s in sources], self.oddities)
        return Score(
            grid,
            header,
            bars,
            parts,
            tuple(self.list.brackets),
            self.oddities.told(),
        )

    def _part(
        self, info: PartInfo, raw: RawPart, bars: tuple[Bar, ...], layering: Layering
    ) -> Part[Written]:
        self.oddities.part = info.name or info.id
        layers = layering.layered(raw)
        self.oddities.bar = ""
        empty: PartBar[Written] = PartBar(tuple(() for _ in layers.ids))
        found = [
            _part_bar(rb, events, layers, bar)
            for rb, events, bar in zip(raw.bars, layers.bars, bars, strict=False)
        ]
        if 0 < len(found) < len(bars):
            self.oddities.add(
                f"the part has {len(found)} bars of {len(bars)}; empty bars were added"
            )
        found += [empty] * (len(bars) - len(found))
        if raw.staves > 1:
            found = [with_numbered_clefs(bar) for bar in found]
        return Part(
            info.id,
            info.name,
            info.short,
            raw.staves,
            layers.ids,
            tuple(found),
            info.sounds,
            info.carried,
        )


def _values(music: list[RawMusic]) -> list[Value]:
    events = (e for bar in music for e in bar.events)
    # Equal values are one object, so that their identity tells them apart, and quicker.
    values = {id(e.value): e.value for e in events}
    return [value for value in values.values() if value is not None]


def _times(music: list[RawMusic]) -> set[Time]:
    changes = (c.what for bar in music for c in bar.changes)
    return {what for what in changes if isinstance(what, Time)}


def _part_bar(
    raw: RawBar, events: tuple[Events, ...], layers: Layers, bar: Bar
) -> PartBar[Written]:
    own = raw.attributes if raw.attributes != bar.attributes else ()
    music = raw.music
    return PartBar(
        events,
        tuple(music.changes),
        tuple(_within([_revoiced(d, layers) for d in music.directions], bar)),
        tuple(_within(music.harmonies, bar)),
        tuple(music.barlines),
        tuple(_within(music.carried, bar)),
        own,
    )


def _within(placed: list[Placed], bar: Bar) -> list[Placed]:
    """Things that an offset put behind the bar's end stand at its end."""
    if not placed or placed[-1].at <= bar.length:
        return placed
    return [replace(p, at=bar.length) if p.at > bar.length else p for p in placed]


def _revoiced(direction: Direction, layers: Layers) -> Direction:
    """The direction with the name its voice has got."""
    if not direction.voice or not layers.names:
        return direction
    name = layers.names.get((direction.voice, direction.staff or 1))
    return replace(direction, voice=name) if name else direction
