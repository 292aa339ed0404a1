"""What no player is left for goes to whoever rests meanwhile, a few notes in a row at least.

Only where it stays a line: neighbouring notes of one line, in the player's range, with time for a
breath, no outer line hidden, no low interval muddied. Figures are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.limits import breath_seconds
from expander.fitting.fit import octave_moved
from expander.model.dynamics import LEVELS
from expander.model.finding import Finding, Severity
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Event
from expander.revoice.casting import Cast, Given
from expander.revoice.chairs import SHIFTS
from expander.revoice.lines import FullScore, Line, heights
from expander.revoice.octaves import Octaves
from expander.revoice.roles import BASS, COUNTER, TUNE, Voice
from expander.revoice.seats import Seated, standing_for
from expander.revoice.spans import mended

FEWEST = 3
"""Notes in a row that are worth handing over."""

LEAP = 12
"""Semitones between a player's own note and another line's right after it, at the most."""

AROUND = 4
"""Bars on each side in which a place to breathe is looked for."""

STRANGERS = ("voice", "pitched percussion", "unpitched percussion", "keyboard", "plucked")
"""Families that are not handed single bars of others' lines."""

_ORDER = (TUNE, BASS, COUNTER)


class Filled(Struct, frozen=True):
    """Notes of a line that a player has in the rests of their own."""

    seat: Seated
    bar: int
    line: Line
    events: Events


class Filler:
    """Looks for rests that hold what is left over."""

    def __init__(
        self, score: FullScore, lines: Sequence[Line], seats: Sequence[Seated], octaves: Octaves
    ) -> None:
        self._score = score
        self._lines = lines
        self._seats = [s for s in seats if s.chair.instrument.family not in STRANGERS]
        self._octaves = octaves

    def fill(self, cast: Cast) -> list[Filled]:
        """Add to the seats' cells what fits, the lines most needed first."""
        found: list[Filled] = []
        for bar, voice in sorted(cast.left, key=_need):
            line = self._lines[voice.group.lead]
            if line.unpitched:
                continue
            cell = standing_for(line.cells[bar], Given(line.number, voice), bar, self._lines)
            waiting = tuple(_plain(e) for e in cell if e.notes and e.duration)
            options = [o for seat in self._seats for o in self._options(seat, line, bar, waiting)]
            if options:
                best = max(options, key=lambda o: (len(o.events), -o.seat.chair.number))
                _add(best)
                self._octaves.add(best.events, bar)
                found.append(best)
        return found

    def _options(self, seat: Seated, line: Line, bar: int, waiting: Events) -> Iterator[Filled]:
        own = seat.cells.get(bar, ())
        if not own or not self._alike(seat, line, bar):
            return
        for run in _runs(waiting, own):
            for shift in SHIFTS:
                moved = tuple(octave_moved(e, shift) for e in run) if shift else run
                if self._suits(seat, bar, moved):
                    yield Filled(seat, bar, line, moved)
                    break

    def _alike(self, seat: Seated, line: Line, bar: int) -> bool:
        """True where the line is played as loud and in the same way as the player's own."""
        mine = self._lines[seat.given[bar].line].owner.part
        levels = self._score.levels
        same = self._score.colours[mine][bar] == self._score.colours[line.owner.part][bar]
        return same and abs(levels[mine][bar] - levels[line.owner.part][bar]) <= 1

    def _suits(self, seat: Seated, bar: int, run: Events) -> bool:
        chair = seat.chair
        high = heights(run)
        if min(high) < max(chair.low, chair.soft_low) or max(high) > chair.soft_high:
            return False
        grid = self._score.sketch.grid
        before, after = _around(seat.cells[bar], run)
        ends = ((before, run[0]), (after, run[-1]))
        if not all(_near(own, note, grid) for own, note in ends if own):
            return False
        if self._seconds(seat, bar, run) > self._breath(seat, bar):
            return False
        return all(self._octaves.takes(bar, e.at, h) for e, h in zip(run, high, strict=True))

    def _breath(self, seat: Seated, bar: int) -> float:
        """Seconds that are planned for one breath of the player; without end under a bow."""
        part = self._lines[seat.given[bar].line].owner.part
        level = LEVELS[self._score.levels[part][bar]]
        seconds = breath_seconds(seat.chair.instrument.id, level)
        return float("inf") if seconds is None else seconds

    def _seconds(self, seat: Seated, bar: int, run: Events) -> float:
        """How long the player would play without a place to breathe."""
        bars, gap = self._score.sketch.bars, self._score.sketch.grid // 2
        near = range(max(0, bar - AROUND), min(len(bars), bar + AROUND + 1))
        spans = sorted(
            (bars[b].start + e.at, bars[b].start + e.end)
            for b in near
            for e in (*seat.cells.get(b, ()), *(run if b == bar else ()))
            if e.notes
        )
        place = spans.index((bars[bar].start + run[0].at, bars[bar].start + run[0].end))
        first = last = place
        while first and spans[first][0] - spans[first - 1][1] < gap:
            first -= 1
        while last + 1 < len(spans) and spans[last + 1][0] - spans[last][1] < gap:
            last += 1
        tick = self._score.seconds[bar + 1] - self._score.seconds[bar]
        return (spans[last][1] - spans[first][0]) * tick / max(1, bars[bar].length)


def _need(left: tuple[int, Voice]) -> tuple[int, int]:
    bar, voice = left
    return bar, _ORDER.index(voice.role) if voice.role in _ORDER else len(_ORDER)


def _plain(event: Event[Sounding]) -> Event[Sounding]:
    return replace(event, beams=(), lyrics=())


def _runs(waiting: Events, own: Events) -> list[Events]:
    """Notes in a row, or what there is where it is the whole bar's, during which nothing sounds."""
    taken = [(e.at, e.end) for e in own if e.notes]
    runs: list[list[Event[Sounding]]] = [[]]
    for event in waiting:
        if any(event.at < end and at < event.end for at, end in taken):
            runs.append([])
        else:
            runs[-1].append(event)
    return [tuple(run) for run in runs if len(run) >= FEWEST]


def _around(own: Events, run: Events) -> tuple[Event[Sounding] | None, Event[Sounding] | None]:
    """A player's own notes before and after a run in its bar."""
    before = [e for e in own if e.notes and e.at < run[0].at]
    after = [e for e in own if e.notes and e.at >= run[-1].end]
    return before[-1] if before else None, after[0] if after else None


def _near(own: Event[Sounding], other: Event[Sounding], grid: int) -> bool:
    """True where there is time between two notes, or no wide leap."""
    gap = max(other.at - own.end, own.at - other.end)
    one, two = heights((own,)), heights((other,))
    return gap >= grid or not one or not two or abs(one[0] - two[0]) <= LEAP


def _add(filled: Filled) -> None:
    seat, bar = filled.seat, filled.bar
    run = mended({bar: filled.events}, {bar: filled.line.number})[bar]
    own = [replace(e, beams=()) for e in seat.cells[bar] if e.notes]
    seat.cells[bar] = tuple(sorted([*own, *run], key=lambda e: (e.at, e.duration > 0)))


def told(score: FullScore, filled: Sequence[Filled], names: Mapping[int, str]) -> list[Finding]:
    """A finding for each run that a player has beside their own line."""
    return [
        Finding(
            "handed-over",
            Severity.NOTE,
            f"{names[f.seat.chair.player]} also has {len(f.events)} notes of {f.line.owner.name} "
            f"in bar {score.sketch.bars[f.bar].number}, while its own line rests.",
            f.line.owner.name,
            score.sketch.bars[f.bar].number,
            index=f.bar,
        )
        for f in filled
    ]
