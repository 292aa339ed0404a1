"""Directions of several lanes in one part: what is said twice is said once.

Lanes come from the top down. A span (a hairpin, say) counts as said only where an upper lane has
the whole of it, both ends; otherwise it stays and gets a number of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from expander.model.dynamics import is_loud
from expander.model.score import Direction, Mark
from expander.model.spans import SPANNING, Span, begins, ends, span_of

NUMBERS = 16

Said = Mapping[int, Sequence[Direction]]
Place = tuple[int, int]
Token = tuple[str, str, Place, Place]
"""A span: its name, its kind, where it begins and ends."""


Spot = tuple[int, int, int]
"""A mark by its bar, its direction's index there, and its own index in the direction."""


def merged(lanes: Sequence[Said]) -> list[dict[int, list[Direction]]]:
    """The directions that each lane still has to say itself, by bar."""
    heard = [{bar: list(marks) for bar, marks in lanes[0].items()}] if lanes else []
    known: set[object] = set()
    for number in range(1, len(lanes)):
        known |= _said(lanes[number - 1])
        heard.append(_kept(lanes[number], known, number))
    return [_above_lower(table, heard[n + 1 :]) for n, table in enumerate(heard)]


def _said(lane: Said) -> set[object]:
    """What a lane says: its spans, and other marks with their places."""
    spans = _spans(lane)
    plain = {
        (bar, *_plain(direction, spans, (bar, index)))
        for bar, directions in lane.items()
        for index, direction in enumerate(directions)
    }
    return {*plain, *spans.values()}


def _spans(lane: Said) -> dict[Spot, Token]:
    """For each mark that begins or ends a span, the whole span."""
    opened: dict[Span, tuple[Spot, str, Place]] = {}
    found: dict[Spot, Token] = {}
    for spot, place, mark in _marks(lane):
        key = span_of(mark)
        if begins(mark):
            opened[key] = (spot, mark.get("type"), place)
        elif ends(mark) and key in opened:
            begun, kind, since = opened.pop(key)
            found[begun] = found[spot] = (mark.name, kind, since, place)
    return found


def _marks(lane: Said) -> Iterator[tuple[Spot, Place, Mark]]:
    for bar in sorted(lane):
        for index, direction in enumerate(lane[bar]):
            for number, mark in enumerate(direction.marks):
                if mark.name in SPANNING:
                    yield (bar, index, number), (bar, direction.at), mark


def _plain(
    direction: Direction, spans: Mapping[Spot, Token], place: tuple[int, int]
) -> tuple[int, tuple[Mark, ...]]:
    """A direction's place in the bar and its marks that are no spans."""
    marks = (m for n, m in enumerate(direction.marks) if (*place, n) not in spans)
    return direction.at, tuple(marks)


def _kept(lane: Said, known: set[object], number: int) -> dict[int, list[Direction]]:
    spans = _spans(lane)
    kept: dict[int, list[Direction]] = {}
    for bar, directions in lane.items():
        for index, direction in enumerate(directions):
            said = (bar, *_plain(direction, spans, (bar, index))) in known
            marks = tuple(
                _numbered(mark, number) if (bar, index, n) in spans else mark
                for n, mark in enumerate(direction.marks)
                if not _is_known(spans.get((bar, index, n)), known, said)
            )
            if marks:
                kept.setdefault(bar, []).append(replace(direction, marks=marks))
    return kept


def _is_known(span: Token | None, known: set[object], said: bool) -> bool:
    return said if span is None else span in known


def _numbered(mark: Mark, lane: int) -> Mark:
    if not lane:
        return mark
    number = int(mark.get("number", "1"))
    return mark.having(number=str((number - 1 + 2 * lane) % NUMBERS + 1))


def _above_lower(
    lane: dict[int, list[Direction]], lower: Sequence[Mapping[int, list[Direction]]]
) -> dict[int, list[Direction]]:
    """Dynamics go above the staff in bars where a lower lane has its own."""
    if not lower:
        return lane
    return {
        bar: [
            replace(d, placement="above") if is_loud(d) and _spoken(lower, bar) else d
            for d in directions
        ]
        for bar, directions in lane.items()
    }


def _spoken(lanes: Sequence[Mapping[int, list[Direction]]], bar: int) -> bool:
    return any(is_loud(d) for lane in lanes for d in lane.get(bar, ()))
