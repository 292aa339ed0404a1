"""What lines must have in common, besides their notes, to stand at one place of a short score.

Marks stand with a layer, so lines of other marks need one of their own: words, hairpins, accents.
A level at the first note alone does not matter, as rules can give a player another.
"""

from __future__ import annotations

from collections.abc import Sequence

from expander.model.dynamics import LASTING, LOUDNESS, dynamic_names
from expander.model.score import Direction
from expander.model.spans import span_of
from expander.revoice.lines import Line, begins_tied

SPANNING = frozenset({"wedge", "dashes", "bracket"})

Plain = tuple[int, str, str, str, str]
"""A mark with its tick, without the number that tells spans apart."""


def plain(directions: Sequence[Direction], names: frozenset[str] | None = None) -> list[Plain]:
    """The marks of a bar as they are compared, those of some names or all."""
    return [
        (d.at, m.name, m.get("type"), m.text, m.inner)
        for d in directions
        for m in d.marks
        if names is None or m.name in names
    ]


def open_at(line: Line) -> frozenset[int]:
    """The bars into which a hairpin or the like of a line goes on."""
    found: set[int] = set()
    opened: set[tuple[str, str]] = set()
    for bar in range(max(line.cells) + 1):
        if bar not in line.cells:
            opened.clear()
        directions = (line.told or {}).get(bar, ())
        spans = [(d.at, m) for d in directions for m in d.marks if m.name in SPANNING]
        ended = {span_of(m) for at, m in spans if at == 0 and m.get("type") == "stop"}
        if opened - ended:
            found.add(bar)
        for _, mark in spans:
            if mark.get("type") == "stop":
                opened.discard(span_of(mark))
            elif mark.get("type") not in ("continue", "change"):
                opened.add(span_of(mark))
    return frozenset(found)


def manner(line: Line, bars: range) -> object:
    """What is equal for lines that can share heads or stems over some bars."""
    rows = [(line.told or {}).get(bar, ()) for bar in bars]
    if any(plain(row, LOUDNESS) for row in rows[1:]) or not is_simple(line, bars.start):
        return tuple(tuple(plain(row)) for row in rows)
    return tuple(tuple(p for p in plain(row) if p[1] not in LOUDNESS) for row in rows)


def is_simple(line: Line, bar: int) -> bool:
    """True where all that a bar says of loudness is a level for its first note, or nothing."""
    directions = (line.told or {}).get(bar, ())
    loud = [(d.at, m) for d in directions for m in d.marks if m.name in LOUDNESS]
    if not loud:
        return True
    first = next((e.at for e in line.cells[bar] if e.notes), 0)
    at, mark = loud[0]
    level = mark.name == "dynamics" and all(name in LASTING for name in dynamic_names(mark))
    return len(loud) == 1 and level and at == first and not begins_tied(line.cells[bar])
