"""The marks that go with the music: dynamics, hairpins and words of whoever had it before.

What belonged to the old player's hands or name ("pizz.", "con sord.", "div.", "a 2", "solo") is
left out; colours come back as ways of playing where the new player has them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec.structs import replace

from expander.catalogue.naming import by_name, plain
from expander.checks.figures import folded
from expander.checks.saying import said_by
from expander.model.dynamics import dynamic, level_after
from expander.model.instrument import Instrument
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Direction, Mark, Part
from expander.model.spans import SPANNING, begins, ends, span_of
from expander.model.words import is_system_mark
from expander.revoice.lines import FullScore, Line
from expander.rulefile.techniques import find_technique

HANDS = frozenset({"bow", "mute", "split", "label", "sticks"})
"""States of a player's hands, which are nothing to another."""

_LEFT_BEHIND = frozenset({"octave-shift", "harp-pedals", "pedal", "string-mute", "scordatura"})

_NO_NAMES = frozenset({"ten.", "ten"})
"""Tenuto, though it is short for a tenor too."""

Directions = dict[int, tuple[Direction, ...]]


def directions_for(
    score: FullScore,
    lines: Sequence[Line],
    numbers: Mapping[int, int],
    cells: Mapping[int, Events],
    reader: Instrument | None = None,
) -> Directions:
    """The marks for a player by bar; `numbers` are the lines they play, by bar.

    `reader` is their instrument: ways of playing that it has not are left out.

    Where the player goes over to another part's music at another level, its level is written.
    """
    found: dict[int, list[Direction]] = {}
    level = ""
    for run in _runs(lines, numbers):
        line = lines[numbers[run[0]]]
        own = {bar: own_marks(score, line, bar, reader) for bar in run}
        _close(own, run, cells)
        before = level_before(score, line, run[0])
        first = next((e.at for e in cells.get(run[0], ()) if e.notes), 0)
        goes_on = bool(level) and run[0] - 1 in cells
        if before and before != level and not (goes_on and _soon(own[run[0]])):
            level = _set_level(before, level, first, run[0], own, found)
        for bar in run:
            found[bar] = own[bar]
            level = next((n for d in reversed(own[bar]) if (n := level_after(d))), level)
    return {bar: tuple(marks) for bar, marks in found.items() if marks}


def level_before(score: FullScore, line: Line, bar: int) -> str:
    """The level in force for a line where a bar begins, "" before the first."""
    earlier = (d for b in sorted(line.told or {}) if b < bar for d in (line.told or {})[b])
    own = [level for d in earlier if (level := level_after(d))]
    return own[-1] if own else score.said[line.owner.part][bar]


def _soon(directions: Sequence[Direction]) -> bool:
    """True where a bar sets a level of its own, or grows into one: none is wanted before it."""
    return any(d.at and level_after(d) for d in directions)


def _set_level(
    wanted: str,
    level: str,
    first: int,
    bar: int,
    own: Mapping[int, list[Direction]],
    found: dict[int, list[Direction]],
) -> str:
    """Write the level at an entry; the level that holds for the player then.

    Beside an accent it is not printed, but stands in the silent bar before, where it is known to
    whoever restates it later.
    """
    here = [d for d in own[bar] if d.at <= first and d.first("dynamics")]
    if not here:
        own[bar].insert(0, dynamic(wanted, first))
        return wanted
    if any(level_after(d) for d in here):
        return wanted
    if bar and bar - 1 not in found:
        found[bar - 1] = [dynamic(wanted, 0)]
        return wanted
    return level


def _runs(lines: Sequence[Line], numbers: Mapping[int, int]) -> list[list[int]]:
    """Neighbouring bars of one player's music."""
    runs: list[list[int]] = []
    for bar in sorted(numbers):
        last = runs[-1][-1] if runs else -2
        if last == bar - 1 and _whose(lines[numbers[last]]) == _whose(lines[numbers[bar]]):
            runs[-1].append(bar)
        else:
            runs.append([bar])
    return runs


def _whose(line: Line) -> tuple[int, int]:
    return line.owner.part, line.player


def own_marks(
    score: FullScore, line: Line, bar: int, reader: Instrument | None = None
) -> list[Direction]:
    """The marks of a line in a bar, without those of the system and of the old player's hands."""
    if line.told is not None:
        return list(line.told.get(bar, ()))
    return carried(_meant(score.sketch.parts[line.owner.part], line, bar), HANDS, reader)


def carried(
    directions: Iterable[Direction], hands: frozenset[str], reader: Instrument | None = None
) -> list[Direction]:
    """Marks in time order, without what was said to the old player alone.

    `hands` are the states (see `checks.saying`) of which words are left out.
    """
    kept = []
    for direction in directions:
        marks = tuple(m for m in direction.marks if not _personal(m, hands, reader))
        if marks:
            sound = None if len(marks) < len(direction.marks) else direction.sound
            kept.append(replace(direction, marks=marks, staff=1, voice="", sound=sound))
    return sorted(kept, key=lambda d: d.at)


def _meant(part: Part[Sounding], line: Line, bar: int) -> Iterator[Direction]:
    for direction in part.bars[bar].directions:
        if not is_system_mark(direction) and _of_staff(direction, line.staff, part.staves):
            yield direction


def _of_staff(direction: Direction, staff: int, staves: int) -> bool:
    """Dynamics between the staves of one instrument hold for both."""
    shared = staves > 1 and any(m.name in ("dynamics", "wedge") for m in direction.marks)
    return shared or (direction.staff or 1) == staff


def _personal(mark: Mark, hands: frozenset[str], reader: Instrument | None) -> bool:
    """True for what was said to the old player alone: hands, names, instruments to take."""
    if mark.name in _LEFT_BEHIND:
        return True
    if mark.name != "words":
        return False
    if any(state in hands for state, _ in said_by(folded(mark.text))) or _names(mark.text):
        return True
    technique = find_technique(mark.text)
    families = technique.families if technique else ()
    return reader is not None and bool(families) and reader.family not in families


def _names(text: str) -> bool:
    """True where words name an instrument: "Clarinet", "to Piccolo"."""
    words = folded(text).removeprefix("to ")
    return len(words) > 2 and words not in _NO_NAMES and bool(by_name().get(plain(words)))


def _close(
    own: Mapping[int, list[Direction]], run: Sequence[int], cells: Mapping[int, Events]
) -> None:
    """Take away ends without beginning in a run, and end what is left open with its last note."""
    opened: dict[tuple[str, str], Mark] = {}
    for bar in run:
        own[bar][:] = [d for d in own[bar] if _paired(d, opened)]
    end = max((e.end for e in cells.get(run[-1], ()) if e.notes), default=0)
    for (name, number), mark in opened.items():
        attributes = (("type", "stop"), *((("number", number),) if mark.get("number") else ()))
        if name == "bracket":
            attributes = (*attributes, ("line-end", mark.get("line-end", "none")))
        own[run[-1]].append(Direction(end, (Mark("direction-type", name, attributes),), staff=1))


def _paired(direction: Direction, opened: dict[tuple[str, str], Mark]) -> bool:
    """Follow the spans of a direction; False where it only ends what has not begun."""
    keep = True
    for mark in direction.marks:
        if mark.name not in SPANNING:
            continue
        if begins(mark):
            opened[span_of(mark)] = mark
        elif ends(mark):
            keep = opened.pop(span_of(mark), None) is not None
    return keep
