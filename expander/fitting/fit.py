"""Fit the lines of a task into the ranges of those who play them.

Decided over the phrase and its neighbours: whole phrases go where they lie well, and a note or two
out of reach go by themselves where the line can stand it.
Costs are common practice, no source: they order the possibilities and mean nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import compress

from msgspec.structs import replace

from expander.fitting.compass import Compass, Strength, compass
from expander.fitting.heads import heads_folded, heads_moved
from expander.fitting.moves import Move, moves_of, told
from expander.fitting.octaves import MOVED, SHIFTS, Octaves, best_shifts
from expander.fitting.phrases import Phrase, outermost, phrases, pieces
from expander.model.finding import Finding, Severity
from expander.model.memo import ByIdentity
from expander.model.pitch import Drum, Sounding
from expander.model.plan import Events, Line
from expander.model.score import Event, Sketch

Settled = tuple[Mapping[int, Events], tuple[Move, ...]]
"""The bars of a line in range, and what was moved for it."""

TOP = 1
"""The staff of a sketch that holds its tune: the top one (common practice)."""


class Fitter:
    """Fits lines; keeps moved bars so that players who double a line share them."""

    def __init__(self, sketch: Sketch, strength: Strength | None = None) -> None:
        self._starts = [bar.start for bar in sketch.bars]
        self._bars = sketch.bars
        self._grid = sketch.grid
        self._moved: ByIdentity[Events] = ByIdentity()
        self._strength = strength
        self._reaches: dict[tuple[str, str], Compass | None] = {}
        self._octaves: dict[Compass, Octaves] = {}
        self._settled: ByIdentity[Settled] = ByIdentity()
        self._phrases: ByIdentity[list[Phrase]] = ByIdentity()
        self._pieces: ByIdentity[Sequence[Phrase]] = ByIdentity()
        self._outer: ByIdentity[tuple[float, float]] = ByIdentity()

    def fit(self, lines: Sequence[Line], names: Sequence[str]) -> tuple[list[Line], list[Finding]]:
        """The lines of one task in range, with a finding for each passage that was moved.

        `names` are the players' names for the findings, parallel to `lines`.
        """
        if not lines:
            return [], []
        entry = lines[0].task.entry
        placed = [self._shifted_line(line, entry.octave) for line in lines]
        if entry.spacing == "octaves":
            placed = self._spaced(placed)
        if entry.fit == "hand over":
            return self._handed_over(placed, names)
        if self._method(placed) == "keep":
            return placed, []
        fitted: list[Line] = []
        findings: list[Finding] = []
        for line, name in zip(placed, names, strict=True):
            moved, found = self._by_octaves(line, name)
            fitted.append(moved)
            findings += found
        return fitted, findings

    def _compass(self, line: Line) -> Compass | None:
        """The ranges of a line's player, and what registers cost under the entry's dynamic."""
        instrument, dynamic = line.seat.instrument, line.task.entry.dynamic
        key = (instrument.id, dynamic)
        if key not in self._reaches:
            self._reaches[key] = compass(instrument, dynamic, self._strength)
        return self._reaches[key]

    def _method(self, lines: Sequence[Line]) -> str:
        """A solo line is the arranger's own wish and stays; doublings move."""
        chosen = lines[0].task.entry.fit
        if chosen:
            return chosen
        return "keep" if len(lines) == 1 else "octave"

    # -- octaves ---------------------------------------------------------------------------

    def _by_octaves(self, line: Line, name: str) -> tuple[Line, list[Finding]]:
        reach = self._compass(line)
        if reach is None or self._inside(line, reach):
            return line, []
        tune = TOP in line.task.strand.staves
        bars, moves = self._settled.get(
            (*line.bars.values(),),
            (reach, tune, *line.bars),
            lambda: self._settle(line.bars, reach, tune),
        )
        if not moves:
            return line, []
        return replace(line, bars=bars), [told(move, name, reach, self._bars) for move in moves]

    def _settle(self, bars: Mapping[int, Events], reach: Compass, tune: bool) -> Settled:
        """Bars in range, and what was moved for it."""
        parted = [self._parted(phrase, bars, reach) for phrase in self._phrases_of(bars)]
        units = [unit for row in parted for unit in row]
        if reach not in self._octaves:
            self._octaves[reach] = Octaves(reach, self._grid)
        shifts = best_shifts(units, self._octaves[reach], self._grid, tune)
        too_wide = [
            len(unit.heights) > 1 and not reach.holds(unit, shift)
            for unit, shift in zip(units, shifts, strict=True)
        ]
        shifts = [0 if wide else shift for wide, shift in zip(too_wide, shifts, strict=True)]
        chords = list(compress(units, too_wide))
        if not chords and not any(shifts):
            return bars, ()
        moved = heads_folded(self._moved_by(bars, units, shifts), chords, reach)
        return moved, (*moves_of(parted, shifts), *heads_moved(chords, reach))

    def _parted(
        self, phrase: Phrase, bars: Mapping[int, Events], reach: Compass
    ) -> Sequence[Phrase]:
        """A phrase that is not in range as it stands, in its smallest parts."""
        if reach.holds(phrase, 0):
            return (phrase,)
        return self._pieces.get((phrase,), "", lambda: pieces(phrase, bars, self._starts))

    def _inside(self, line: Line, reach: Compass) -> bool:
        low, high = self._outer.get(
            (*line.bars.values(),), tuple(line.bars), lambda: outermost(line.bars)
        )
        return reach.low <= low and high <= reach.high

    def _phrases_of(self, bars: Mapping[int, Events]) -> list[Phrase]:
        return self._phrases.get(
            (*bars.values(),), tuple(bars), lambda: phrases(bars, self._starts, self._grid)
        )

    def _moved_by(
        self, line: Mapping[int, Events], units: Sequence[Phrase], shifts: Sequence[int]
    ) -> dict[int, Events]:
        wanted: dict[int, dict[int, int]] = {}
        for unit, shift in zip(units, shifts, strict=True):
            for place in unit.places if shift else ():
                wanted.setdefault(place.bar, {})[place.index] = shift
        return {
            bar: self._moved_bar(events, wanted[bar]) if bar in wanted else events
            for bar, events in line.items()
        }

    def _moved_bar(self, events: Events, moves: Mapping[int, int]) -> Events:
        pattern = tuple(moves.get(index, 0) for index in range(len(events)))
        if not any(pattern):
            return events
        return self._moved.get(
            (events,),
            pattern,
            lambda: tuple(octave_moved(e, s) for e, s in zip(events, pattern, strict=True)),
        )

    def _shifted_line(self, line: Line, octaves: int) -> Line:
        if not octaves:
            return line
        bars = {
            bar: self._moved_bar(events, dict.fromkeys(range(len(events)), octaves))
            for bar, events in line.bars.items()
        }
        return replace(line, bars=bars)

    # -- spacing in octaves ----------------------------------------------------------------

    def _spaced(self, lines: Sequence[Line]) -> list[Line]:
        """Each player in the octave of their register, in at least two octaves."""
        reaches = [self._compass(line) for line in lines]
        pitched = [i for i, reach in enumerate(reaches) if reach is not None]
        order = sorted(pitched, key=lambda i: -_centre(reaches[i]))
        costs = [self._line_costs(lines[i], reaches[i]) for i in order]
        shifts = _falling(costs)
        moved = list(lines)
        for index, shift in zip(order, shifts, strict=True):
            moved[index] = self._shifted_line(lines[index], shift)
        return moved

    def _line_costs(self, line: Line, reach: Compass | None) -> dict[int, float]:
        units = self._phrases_of(line.bars)
        if reach is None:
            return dict.fromkeys(SHIFTS, 0.0)
        return {
            shift: sum(reach.cost(u, shift, self._grid) + MOVED * abs(shift) for u in units)
            for shift in SHIFTS
        }

    # -- handing over ----------------------------------------------------------------------

    def _handed_over(
        self, lines: Sequence[Line], names: Sequence[str]
    ) -> tuple[list[Line], list[Finding]]:
        """Each phrase goes to the first player of the group in whose range it lies."""
        units = self._phrases_of(lines[0].bars)
        takers = [self._taker(lines, unit, names) for unit in units]
        findings = [
            self._handed(unit, names[0], names[taker])
            for unit, taker in zip(units, takers, strict=True)
            if taker
        ]
        given: list[dict[int, set[int]]] = [{} for _ in lines]
        for unit, taker in zip(units, takers, strict=True):
            for place in unit.places:
                given[taker].setdefault(place.bar, set()).add(place.index)
        kept = [
            replace(line, bars=_part_of(line.bars, wanted))
            for line, wanted in zip(lines, given, strict=True)
        ]
        return [line for line in kept if line.bars], findings

    def _taker(self, lines: Sequence[Line], unit: Phrase, names: Sequence[str]) -> int:
        for index, line in enumerate(lines):
            reach = self._compass(line)
            if reach is None or reach.holds(unit, 0):
                return index
        return 0

    def _handed(self, unit: Phrase, giver: str, taker: str) -> Finding:
        first = unit.places[0].bar
        bar = self._bars[first].number
        return Finding(
            check="handed-over",
            severity=Severity.NOTE,
            message=f"The phrase from bar {bar} is out of range for {giver}; {taker} takes it.",
            part=taker,
            bar=bar,
            index=first,
        )


def octave_moved(event: Event[Sounding], octaves: int) -> Event[Sounding]:
    """An event some octaves up; unpitched notes stay."""
    if not octaves or not event.notes:
        return event
    notes = tuple(
        note
        if isinstance(note.pitch, Drum)
        else replace(note, pitch=note.pitch.octave_moved(octaves))
        for note in event.notes
    )
    return replace(event, notes=notes)


def _centre(reach: Compass | None) -> float:
    return (reach.soft_low + reach.soft_high) / 2 if reach else 0.0


def _falling(costs: Sequence[Mapping[int, float]]) -> list[int]:
    """The cheapest octaves that never rise down the list and span at least one octave."""
    best: dict[tuple[int, int], tuple[float, list[int]]] = {
        (shift, shift): (cost, [shift]) for shift, cost in (costs[0].items() if costs else ())
    }
    for row in costs[1:]:
        grown: dict[tuple[int, int], tuple[float, list[int]]] = {}
        for (first, last), (total, path) in best.items():
            for shift, cost in row.items():
                key = (first, shift)
                if shift <= last and total + cost < grown.get(key, (float("inf"), []))[0]:
                    grown[key] = (total + cost, [*path, shift])
        best = grown
    spread = {key: value for key, value in best.items() if key[0] > key[1]} or best
    return min(spread.values())[1] if spread else []


def _part_of(line: Mapping[int, Events], wanted: Mapping[int, set[int]]) -> dict[int, Events]:
    """The chosen events of a line, in bars where all are chosen the same object."""
    kept: dict[int, Events] = {}
    for bar, indices in wanted.items():
        events = line[bar]
        sounding = {i for i, e in enumerate(events) if e.notes}
        whole = sounding <= indices
        kept[bar] = events if whole else tuple(events[i] for i in sorted(indices))
    return kept
