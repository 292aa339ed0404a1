"""The order in which bars are played: repeats, endings, and jumps back and to the coda.

Repeats and endings are MusicXML's (W3C MusicXML 4.0, `repeat`, `ending`); jumps are its `sound`
attributes, or the usual words where a file has words alone. After a jump back repeats are not made
again and the last ending is taken (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from msgspec import Struct, field

from expander.model.score import Barline, Direction, P, PartBar, Score

TWICE = 2
MOST = 100_000
"""Bars after which the order is cut; no real piece has so many."""

_WORDS = {
    "dacapo": re.compile(r"\W*(d\.?\s?c\b|da\s+capo)", re.IGNORECASE),
    "dalsegno": re.compile(r"\W*(d\.?\s?s\b|dal\s+segno)", re.IGNORECASE),
    "tocoda": re.compile(r"\W*(to|al)\s+coda", re.IGNORECASE),
    "coda": re.compile(r"\W*coda", re.IGNORECASE),
    "fine": re.compile(r"\W*fine\b", re.IGNORECASE),
}


class _Signs(Struct):
    """What a bar has: a repeat's beginning; how often what it ends is played; its endings; jumps.

    `group` numbers the endings that belong together, from 1; 0 outside them. `opens` and `closes`
    are the ends of an ending's bracket. `names` are the jumps and their goals, by the names of
    MusicXML's `sound` attributes.
    """

    forward: bool = False
    times: int = 0
    endings: frozenset[int] = frozenset()
    group: int = 0
    opens: bool = False
    closes: bool = False
    names: set[str] = field(default_factory=set)


def playing_order(score: Score[P]) -> tuple[int, ...]:
    """The indices of the bars in the order in which they are played."""
    signs = [_signs([part.bars[i] for part in score.parts]) for i in range(len(score.bars))]
    _spread_endings(signs)
    _tell_codas_apart(signs)
    return tuple(_played(signs))


def _played(signs: Sequence[_Signs]) -> Iterator[int]:
    total = {g: max([TWICE, *_numbers(signs, g)]) for g in {s.group for s in signs}}
    here, start, turn, group, jumped = 0, 0, 1, 0, False
    for _ in range(MOST):
        if here >= len(signs):
            return
        bar = signs[here]
        if (bar.forward and start != here) or (group and bar.group != group):
            start, turn = here, 1
        group = bar.group
        if bar.endings and (total[group] if jumped else turn) not in bar.endings:
            here += 1
            continue
        yield here
        if jumped and "fine" in bar.names:
            return
        again = 0 if jumped else total[group] if group else bar.times
        if bar.times and turn < again:
            here, turn, group = start, turn + 1, 0
        elif not jumped and (goal := _back(signs, bar)) is not None:
            here, jumped, group = goal, True, 0
        elif jumped and "tocoda" in bar.names and (goal := _coda(signs, here)):
            here, group = goal, 0
        else:
            here += 1
            if bar.times:
                start, turn, group = here, 1, 0


def _numbers(signs: Sequence[_Signs], group: int) -> list[int]:
    return [n for bar in signs if bar.group == group and group for n in bar.endings]


def _back(signs: Sequence[_Signs], bar: _Signs) -> int | None:
    """Where a jump back leads."""
    if "dalsegno" in bar.names:
        return next((i for i, other in enumerate(signs) if "segno" in other.names), 0)
    return 0 if "dacapo" in bar.names else None


def _coda(signs: Sequence[_Signs], here: int) -> int:
    return next((i for i in range(here + 1, len(signs)) if "coda" in signs[i].names), 0)


# -- what stands in a bar --------------------------------------------------------------------------


def _signs(bars: Sequence[PartBar[P]]) -> _Signs:
    found = _Signs()
    for bar in bars:
        for barline in bar.barlines:
            _take_barline(found, barline)
        for direction in bar.directions:
            found.names |= set(_jumps(direction))
    return found


def _take_barline(found: _Signs, barline: Barline) -> None:
    found.names |= {mark.name for mark in barline.marks} & {"segno", "coda"}
    repeat, ending = barline.repeat, barline.ending
    if repeat is not None and repeat.get("direction") == "forward":
        found.forward = True
    elif repeat is not None:
        times = repeat.get("times")
        found.times = int(times) if times.isdecimal() else TWICE
    if ending is not None and ending.get("type") == "start":
        found.opens = True
        found.endings = frozenset(int(n) for n in re.findall(r"\d+", ending.get("number")))
    elif ending is not None:
        found.closes = True


def _jumps(direction: Direction) -> Iterator[str]:
    """What a direction says of jumps: by its sound, or else by its signs and words."""
    told = direction.sound.attributes if direction.sound is not None else ()
    named = [name for name, _ in told if name in _WORDS or name == "segno"]
    if named:
        yield from named
        return
    yield from (m.name for m in direction.marks if m.name in ("segno", "coda"))
    words = direction.first("words")
    if words is not None:
        yield from (name for name, pattern in _WORDS.items() if pattern.match(words.text))


def _spread_endings(signs: Sequence[_Signs]) -> None:
    """Give each bar under a bracket its endings; brackets side by side are one group."""
    group, last = 0, -TWICE
    for first, bar in enumerate(signs):
        if not bar.opens:
            continue
        group += last + 1 != first
        for last in range(first, _end_of_bracket(signs, first)):
            signs[last].endings, signs[last].group = bar.endings, group


def _end_of_bracket(signs: Sequence[_Signs], first: int) -> int:
    """The bar after a bracket; one that nothing closes holds for a bar."""
    for index in range(first, len(signs)):
        if index > first and signs[index].opens:
            return first + 1
        if signs[index].closes or signs[index].times:
            return index + 1
    return first + 1


def _tell_codas_apart(signs: Sequence[_Signs]) -> None:
    """Of several coda signs alone, all but the last say from where to jump."""
    bars = [bar for bar in signs if "coda" in bar.names]
    if any("tocoda" in bar.names for bar in signs):
        return
    for bar in bars[:-1]:
        bar.names ^= {"coda", "tocoda"}
