"""Where each line stands in a short score from which all lines can be told: stave, layer, chord.

Lines share stems only where each keeps its place in every chord, and as long as ties hold them;
a line that goes on keeps its stave and layer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import count

from expander.model.plan import Events
from expander.revoice.chording import Sourced, rhythm_of, stacked
from expander.revoice.doubling import held_bars
from expander.revoice.lines import Line, height
from expander.revoice.manner import manner
from expander.revoice.roles import COUNTER, FIGURE, INNER, Voice

WANDERING = frozenset({COUNTER, INNER, FIGURE})
"""Roles between which a line that goes on does not change its stave."""


class Rows:
    """Follows lines from bar to bar."""

    def __init__(self, lines: Sequence[Line], layout: Mapping[str, str]) -> None:
        self._lines = lines
        self._layout = layout
        self._held = [held_bars(line) for line in lines]
        self._staves: dict[int, tuple[int, str]] = {}
        self._places: dict[int, tuple[int, str, int]] = {}

    def staff(self, voice: Voice) -> str:
        """The stave, by its role, on which a voice stands; asked once in each bar, in order."""
        lead, bar = voice.group.lead, voice.group.bar
        own = self._layout[voice.role]
        last, before = self._staves.get(lead, (-2, own))
        goes_on = last == bar - 1
        wandered = voice.role in WANDERING and before in map(self._layout.get, WANDERING)
        if goes_on and (wandered or bar > self._held[lead][bar].start):
            own = before
        self._staves[lead] = (bar, own)
        return own

    def shared(self, cells: Sequence[Sourced], bar: int) -> list[Sourced]:
        """Lines that can share stems as chords; a cell's number is its line's."""
        together: dict[tuple[int, object], list[Sourced]] = {}
        for cell in sorted(cells, key=_first):
            key = self._key(cell[1][0], bar)
            rank = 0
            while not self._goes_below(cell, together.get((rank, key), ()), bar):
                rank += 1
            together.setdefault((rank, key), []).append(cell)
        return [stacked(group) for group in together.values()]

    def _key(self, number: int, bar: int) -> object:
        bars = self._held[number][bar]
        before = self._places.get(number, (-2, "", -1))
        tied = before[2] if bar > bars.start else -1
        line = self._lines[number]
        return bars, tied, tuple(rhythm_of(line.cells[b]) for b in bars), manner(line, bars)

    def _goes_below(self, cell: Sourced, others: Sequence[Sourced], bar: int) -> bool:
        """True where a line lies below the last of some others as long as ties hold it."""
        if not others:
            return True
        mine, above = self._lines[cell[1][0]], self._lines[others[-1][1][-1]]
        bars = self._held[mine.number][bar]
        return all(_below(mine.cells[b], above.cells[b]) for b in bars)

    def placed(self, cells: Sequence[Sourced], bar: int, staff: str) -> list[tuple[int, Sourced]]:
        """Each cell of a stave with its layer: that which it had, else the first that is free."""
        had = [self._had(numbers, bar, staff) for _, numbers in cells]
        order = sorted(range(len(cells)), key=lambda i: (not self._is_tied(cells[i], bar), i))
        taken: dict[int, int] = {}
        for index in order:
            if had[index] not in (-1, *taken.values()):
                taken[index] = had[index]
        for index in range(len(cells)):
            if index not in taken:
                taken[index] = next(r for r in count() if r not in taken.values())
        for index, (_, numbers) in enumerate(cells):
            self._places |= dict.fromkeys(numbers, (bar, staff, taken[index]))
        return [(taken[i], cell) for i, cell in enumerate(cells)]

    def _had(self, numbers: Sequence[int], bar: int, staff: str) -> int:
        last, on, row = self._places.get(numbers[0], (-2, "", -1))
        return row if (last, on) == (bar - 1, staff) else -1

    def _is_tied(self, cell: Sourced, bar: int) -> bool:
        return bar > self._held[cell[1][0]][bar].start


def _first(cell: Sourced) -> int:
    """Higher beginnings come first."""
    return -next((height(n.pitch) for e in cell[0] for n in e.notes), 0)


def _below(mine: Events, above: Events) -> bool:
    pairs = zip([e for e in mine if e.notes], [e for e in above if e.notes], strict=True)
    return all(
        len(a.notes) == len(b.notes) == 1 and height(a.notes[0].pitch) < height(b.notes[0].pitch)
        for a, b in pairs
    )
