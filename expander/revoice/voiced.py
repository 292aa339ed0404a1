"""The marks of a short score's rows, each with the voice of its layer.

What all rows that play in a bar are told alike stands once, without a voice. A stave with marks
of single layers says so (`plan.meant`), and a row that rested through a level of others has its
own again where it comes in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.dynamics import LEVELS, dynamic, is_loud, level_after
from expander.model.pitch import Written
from expander.model.plan import Events
from expander.model.score import Direction, Mark, Part, PartBar
from expander.model.spans import span_of
from expander.plan.meant import BY_LAYER
from expander.revoice.manner import SPANNING

NUMBERS = 16

Said = Mapping[int, Sequence[Direction]]
Token = tuple[object, ...]
"""What is equal where rows say the same: a span with its bars, or a mark in its place."""


class Row(Struct, frozen=True):
    """One row: its cells and what it is told, by bar."""

    cells: Mapping[int, Events]
    said: Said


def with_row_marks(part: Part[Written], rows: Sequence[Row]) -> Part[Written]:
    """A part of one stave, a layer for each row, with the marks of its rows added."""
    writer = _Writer(rows)
    bars = [_with(bar, writer.bar(index)) for index, bar in enumerate(part.bars)]
    if writer.voiced:
        bars[0] = _with(bars[0], [Direction(0, (BY_LAYER,))])
    return replace(part, bars=tuple(bars))


def _with(bar: PartBar[Written], directions: Sequence[Direction]) -> PartBar[Written]:
    if not directions:
        return bar
    both = sorted([*bar.directions, *directions], key=lambda d: d.at)
    return replace(bar, directions=tuple(both))


class _Writer:
    """Goes through the bars with each row's level in mind."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.voiced = False
        self._rows = rows
        self._tokens = [_tokens(row.said) for row in rows]
        self._held = [{t for spots in one.values() for t in spots} for one in self._tokens]
        self._numbers: dict[tuple[int, str, str], int] = {}
        self._levels = [""] * len(rows)
        self._missed = [False] * len(rows)

    def bar(self, bar: int) -> list[Direction]:
        """The marks of a bar."""
        playing = [i for i, row in enumerate(self._rows) if bar in row.cells]
        found: list[Direction] = []
        common: set[Token] = set()
        for number, row in enumerate(self._rows):
            for place, direction in enumerate(self._of(number, row, bar)):
                tokens = self._tokens[number].get((bar, place), ())
                shared = bool(tokens) and all(self._is_shared(t, playing) for t in tokens)
                if not shared:
                    found.append(self._voiced(direction, number))
                elif not common.issuperset(tokens):
                    common.update(tokens)
                    found.append(self._numbered(direction, number))
                    self._miss(direction, playing)
        return found

    def _of(self, number: int, row: Row, bar: int) -> Iterator[Direction]:
        """What a row says in a bar, and first its level where it missed another's."""
        said = row.said.get(bar, ())
        yield from said
        first = next((e.at for e in row.cells.get(bar, ()) if e.notes), 0)
        if bar in row.cells and self._missed[number]:
            self._missed[number] = False
            told = any(d.at <= first and d.first("dynamics") for d in said)
            if self._levels[number] and not told:
                yield dynamic(self._levels[number], first)
        levels = [level for d in said if (level := level_after(d)) in LEVELS]
        self._levels[number] = levels[-1] if levels else self._levels[number]

    def _is_shared(self, token: Token, playing: Sequence[int]) -> bool:
        """True where all who play are told it; of a span, in every bar of it."""
        return all(token in self._held[i] for i in self._concerned(token, playing))

    def _concerned(self, token: Token, playing: Sequence[int]) -> Sequence[int]:
        bars = token[-1]
        if not isinstance(bars, range):
            return playing
        return [i for i, row in enumerate(self._rows) if any(b in row.cells for b in bars)]

    def _voiced(self, direction: Direction, number: int) -> Direction:
        if len(self._rows) == 1:
            return direction
        self.voiced = True
        upper = 2 * number < len(self._rows) - 1 or number == 0
        named = self._numbered(direction, number)
        return replace(named, voice=str(number + 1), placement="above" if upper else "below")

    def _numbered(self, direction: Direction, row: int) -> Direction:
        """Spans numbered apart from those of other rows."""
        if not any(m.name in SPANNING for m in direction.marks):
            return direction
        return replace(direction, marks=tuple(self._apart(m, row) for m in direction.marks))

    def _apart(self, mark: Mark, row: int) -> Mark:
        if mark.name not in SPANNING:
            return mark
        key = (row, *span_of(mark))
        alike = [k for k in self._numbers if k[1] == mark.name]
        number = self._numbers.setdefault(key, len(alike) % NUMBERS + 1)
        return mark.having(number=str(number))

    def _miss(self, direction: Direction, playing: Sequence[int]) -> None:
        if is_loud(direction):
            for number in range(len(self._rows)):
                self._missed[number] = self._missed[number] or number not in playing


def _tokens(said: Said) -> dict[tuple[int, int], list[Token]]:
    """The tokens of each direction, by bar and place in it."""
    found: dict[tuple[int, int], list[Token]] = {}
    opened: dict[tuple[str, str], tuple[int, int, int, str]] = {}
    for bar in sorted(said):
        for place, direction in enumerate(said[bar]):
            here = found.setdefault((bar, place), [])
            for mark in direction.marks:
                key = span_of(mark)
                kind = mark.get("type")
                if mark.name not in SPANNING:
                    here.append((bar, direction.at, mark.name, kind, mark.text, mark.inner, None))
                elif kind != "stop":
                    opened[key] = (bar, place, direction.at, kind)
                elif key in opened:
                    first, begun, at, kind = opened.pop(key)
                    span = (mark.name, kind, at, direction.at, range(first, bar + 1))
                    found[first, begun].append(("begins", *span))
                    here.append(("ends", *span))
    return found
