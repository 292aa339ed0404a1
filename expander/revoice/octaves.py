"""In which octave each player plays: in range, without leaps, outer lines outermost.

Decided for each player over the whole piece, bar by bar, players in the order in which their
lines are needed. Prices are common practice, no source: they order the possibilities.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping, Sequence
from itertools import pairwise

from msgspec import Struct, field

from expander.model.plan import Events
from expander.revoice.casting import Cast, Given
from expander.revoice.chairs import Chair
from expander.revoice.lines import Line, begins_tied, heights
from expander.revoice.moments import Moments

SHIFTS = (0, -1, 1, -2, 2, -3, 3)

OUT = 25.0  # per note beyond the professional range
STRAINED = 0.7  # per note and semitone beyond the comfortable register
MOVED = 2.5  # per bar and octave
MOVED_AT_HOME = 10.0  # the same for a player who had the line in the original
MOVED_IN_ALL = 150.0  # the same where all players have their own lines again
CROSSED = 24.0  # per moment at which an outer line is no longer outermost
MUDDY = 1.5  # per moment with an interval below its limit, where the original has one too
MUDDIED = 80.0  # the same where the original has none
LEAP = 14.0  # a change of octave in the middle of a phrase
BREATH = 5.0  # a change of octave after a rest
TIED = 5000.0

PASSES = 2
"""How often each player is placed anew, when all others are known."""

_FAR = 1000
CLEAR = 66
"""The height from which every interval is clear (above all limits of the table)."""


class Edge(Struct):
    """At a moment: highest notes of the top's pitch class and of others, lowest alike.

    `heights` are all notes, from the lowest up.
    """

    top: int = -_FAR
    below_top: int = -_FAR
    bottom: int = _FAR
    above_bottom: int = _FAR
    heights: list[int] = field(default_factory=list)

    def add(self, height: int, top: int, bottom: int) -> None:
        """A note placed here."""
        insort(self.heights, height)
        if height % 12 == top:
            self.top = max(self.top, height)
        else:
            self.below_top = max(self.below_top, height)
        if height % 12 == bottom:
            self.bottom = min(self.bottom, height)
        else:
            self.above_bottom = min(self.above_bottom, height)

    def muddy(self, height: int, limits: Mapping[int, int]) -> int:
        """How many intervals below their limit a note would make with its neighbours."""
        place = bisect_left(self.heights, height)
        around = self.heights[max(0, place - 1) : place] + self.heights[place : place + 1]
        return sum(too_low(height, other, limits) for other in around)

    def hidden_by(self, height: int, top: int, bottom: int) -> bool:
        """True where an outer line placed here lies inside such a note."""
        over = height % 12 != top and height > self.top > -_FAR
        return over or (height % 12 != bottom and height < self.bottom < _FAR)

    def crossed(self, height: int, top: int, bottom: int) -> int:
        """How many outer lines a note would hide, or be hidden with."""
        if height % 12 == top:
            over = max(self.top, height) < self.below_top
        else:
            over = self.top > -_FAR and height > self.top
        if height % 12 == bottom:
            under = min(self.bottom, height) > self.above_bottom
        else:
            under = self.bottom < _FAR and height < self.bottom
        return over + under


def too_low(one: int, other: int, limits: Mapping[int, int]) -> bool:
    """True where an interval lies too low to be clear."""
    low, high = min(one, other), max(one, other)
    return low < limits.get(high - low, 0)


def _is_muddy(moments: Moments, index: int, limits: Mapping[int, int]) -> bool:
    """True where the original has such an interval itself."""
    heights = sorted(h for row in moments.sounding.values() if (h := row[index]) is not None)
    return any(too_low(a, b, limits) for a, b in pairwise(heights))


class Octaves:
    """Places players one after another; knows what is placed already."""

    def __init__(
        self,
        lines: Sequence[Line],
        moments: Sequence[Moments],
        limits: Mapping[int, int],
        quarter: int,
        homes: Mapping[int, int],
    ) -> None:
        self._lines = lines
        self._moments = moments
        self._limits = limits
        self._quarter = quarter
        self._homes = homes
        everybody = {line.owner.part for line in lines} <= set(homes.values())
        self._home_price = MOVED_IN_ALL if everybody else MOVED_AT_HOME
        self._edges = [[Edge() for _ in m.ticks] for m in moments]
        self._mud = [
            [MUDDY if _is_muddy(m, i, limits) else MUDDIED for i in range(len(m.ticks))]
            for m in moments
        ]

    def placed(self, cast: Cast, chairs: Sequence[Chair]) -> dict[tuple[int, int], int]:
        """Octaves up for each chair and bar."""
        found: dict[tuple[int, int], int] = {}
        rows = _rows(cast)
        order = sorted(rows, key=lambda c: (_doubles(rows[c]), -_weight(rows[c]), c))
        leaders = [n for n in order if not _doubles(rows[n])]
        for number in leaders:
            found |= self._row(chairs[number], rows[number])
            self._keep(rows[number], found, chairs[number])
        for number in leaders * PASSES:
            self._again(number, chairs, {n: rows[n] for n in leaders}, found)
        self._all_kept({n: rows[n] for n in leaders}, chairs, found)
        for number in order[len(leaders) :]:
            found |= self._row(chairs[number], rows[number])
            self._keep(rows[number], found, chairs[number])
        self._hiding(cast, rows, chairs, found)
        return found

    def takes(self, bar: int, tick: int, height: int) -> bool:
        """True where one more note hides no outer line and muddies nothing; after `placed`."""
        moments = self._moments[bar]
        if tick not in moments.ticks:
            return True
        index = moments.ticks.index(tick)
        edge = self._edges[bar][index]
        if edge.hidden_by(height, moments.tops[index], moments.bottoms[index]):
            return False
        return not edge.muddy(height, self._limits)

    def add(self, events: Events, bar: int) -> None:
        """Note that something else is played there too."""
        moments = self._moments[bar]
        for event in events:
            if event.at in moments.ticks:
                index = moments.ticks.index(event.at)
                for height in heights((event,)):
                    edge = self._edges[bar][index]
                    edge.add(height, moments.tops[index], moments.bottoms[index])

    def _all_kept(
        self,
        rows: Mapping[int, Mapping[int, Given]],
        chairs: Sequence[Chair],
        found: Mapping[tuple[int, int], int],
        *,
        without: int = -1,
    ) -> None:
        """Start afresh with what these players have."""
        self._edges = [[Edge() for _ in m.ticks] for m in self._moments]
        for other in rows:
            if other != without:
                self._keep(rows[other], found, chairs[other])

    def _hiding(
        self,
        cast: Cast,
        rows: Mapping[int, Mapping[int, Given]],
        chairs: Sequence[Chair],
        found: Mapping[tuple[int, int], int],
    ) -> None:
        """Take doublings away where they would hide an outer line."""
        for number, row in rows.items():
            for bar, given in row.items():
                if given.doubling and self._hides(chairs[number], given, found[number, bar]):
                    del cast.given[number, bar]

    def _hides(self, chair: Chair, given: Given, shift: int) -> bool:
        bar = given.voice.group.bar
        moments, edges = self._moments[bar], self._edges[bar]
        return any(
            edge.hidden_by(_played(height + 12 * shift, chair), top, bottom)
            for height, edge, top, bottom in zip(
                moments.sounding[given.line], edges, moments.tops, moments.bottoms, strict=True
            )
            if height is not None
        )

    def _again(
        self,
        number: int,
        chairs: Sequence[Chair],
        rows: Mapping[int, Mapping[int, Given]],
        found: dict[tuple[int, int], int],
    ) -> None:
        """Place a player once more, now that all others are known."""
        self._all_kept(rows, chairs, found, without=number)
        found |= self._row(chairs[number], rows[number])

    def _keep(
        self, row: Mapping[int, Given], found: Mapping[tuple[int, int], int], chair: Chair
    ) -> None:
        for bar, given in row.items():
            moments = self._moments[bar]
            shift = 12 * found[chair.number, bar]
            for index, sounding in enumerate(moments.sounding.get(given.line, ())):
                if sounding is not None:
                    height = _played(sounding + shift, chair)
                    self._edges[bar][index].add(height, moments.tops[index], moments.bottoms[index])

    def _row(self, chair: Chair, row: Mapping[int, Given]) -> dict[tuple[int, int], int]:
        """The cheapest octaves for one player over all bars."""
        bars = sorted(row)
        totals = dict.fromkeys(SHIFTS, 0.0)
        came: list[dict[int, int]] = []
        for place, bar in enumerate(bars):
            leap = self._leap(row, bars[place - 1], bar) if place else 0.0
            steps: dict[int, int] = {}
            sums: dict[int, float] = {}
            for shift in SHIFTS:
                best = min(SHIFTS, key=lambda s: totals[s] + leap * abs(s - shift))
                steps[shift] = best
                sums[shift] = (
                    totals[best] + leap * abs(best - shift) + self._price(chair, row[bar], shift)
                )
            came.append(steps)
            totals = sums
        return {
            (chair.number, bar): shift
            for bar, shift in zip(bars, _traced(totals, came), strict=True)
        }

    def _leap(self, row: Mapping[int, Given], before: int, bar: int) -> float:
        """What a change of octave costs between two bars, per octave."""
        if bar != before + 1:
            return 0.5
        old, new = row[before], row[bar]
        cell, last = self._lines[new.line].cells[bar], self._lines[old.line].cells[before]
        if old.line == new.line and begins_tied(cell):
            return TIED
        if old.line not in new.voice.group.everybody and old.line != new.line:
            return BREATH / 2
        return BREATH if _rested(last, cell, self._quarter) else LEAP

    def _price(self, chair: Chair, given: Given, shift: int) -> float:
        bar = given.voice.group.bar
        moments, edges = self._moments[bar], self._edges[bar]
        total = (self._home_price if self._at_home(chair, given) else MOVED) * abs(shift)
        for height in heights(self._lines[given.line].cells[bar]):
            moved = height + 12 * shift
            total += OUT * (moved < chair.low or moved > chair.high)
            total += STRAINED * max(0, chair.soft_low - moved, moved - chair.soft_high)
        for index, sounding in enumerate(moments.sounding.get(given.line, ())):
            if sounding is not None:
                moved = _played(sounding + 12 * shift, chair)
                edge = edges[index]
                total += CROSSED * edge.crossed(moved, moments.tops[index], moments.bottoms[index])
                if moved < CLEAR:
                    total += self._mud[bar][index] * edge.muddy(moved, self._limits)
        return total

    def _at_home(self, chair: Chair, given: Given) -> bool:
        return self._homes.get(chair.number) == self._lines[given.line].owner.part


def _traced(totals: Mapping[int, float], came: Sequence[Mapping[int, int]]) -> list[int]:
    last = min(SHIFTS, key=lambda s: totals[s])
    found: list[int] = []
    for steps in reversed(came):
        found.append(last)
        last = steps[last]
    return found[::-1]


def _rows(cast: Cast) -> dict[int, dict[int, Given]]:
    rows: dict[int, dict[int, Given]] = {}
    for (chair, bar), given in sorted(cast.given.items(), key=lambda item: item[0]):
        if not _silent(given):
            rows.setdefault(chair, {})[bar] = given
    return rows


def _silent(given: Given) -> bool:
    return given.line < 0


def _doubles(row: Mapping[int, Given]) -> bool:
    return 2 * sum(g.doubling for g in row.values()) > len(row)


_WEIGHTS = {"tune": 10.0, "bass": 9.0, "counter": 3.0, "inner": 2.0}


def _weight(row: Mapping[int, Given]) -> float:
    """How much a player's lines are needed on the whole."""
    return sum(
        0.0
        if g.doubling
        else _WEIGHTS.get(g.voice.role, 1.0) + 4 * g.voice.top + 4 * g.voice.bottom
        for g in row.values()
    )


def _rested(last: Events, cell: Events, quarter: int) -> bool:
    """True where at least a quarter rest lies between two neighbouring bars' music."""
    end = max((e.end for e in last if e.notes), default=0)
    whole = max((e.end for e in last), default=0)
    first = next((e.at for e in cell if e.notes), 0)
    return whole - end + first >= quarter


def _played(height: int, chair: Chair) -> int:
    """Where a note will sound: notes beyond the range change octave one by one."""
    return height + 12 * folded(height, chair.low, chair.high)


def folded(height: int, low: int, high: int) -> int:
    """Octaves up that bring a note into a range, 0 where it is in it or nothing helps."""
    if low <= height <= high:
        return 0
    octaves = -((height - low) // 12) if height < low else -((height - high + 11) // 12)
    return octaves if low <= height + 12 * octaves <= high else 0
