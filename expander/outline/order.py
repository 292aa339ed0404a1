"""The order in which bars are played: repeats and endings carried out."""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct

from expander.model.score import Barline, P, Score

_MOST = 20
"""Longest playing order, in times the length of the piece, before repeats are given up."""


class _Turn(Struct, frozen=True):
    """What a bar says about repeats: opening, closing with how many times, its ending's numbers."""

    opens: bool
    times: int
    ending: frozenset[int]


def playing_order(score: Score[P]) -> list[int]:
    """Bar indices as they are played, with repeats and endings; jumps (D.C., D.S.) are not."""
    turns = _turns(score)
    order: list[int] = []
    here, start, turn = 0, 0, 1
    closed: set[int] = set()
    while here < len(turns) and len(order) <= _MOST * len(turns):
        bar = turns[here]
        if bar.opens and here != start:
            start, turn = here, 1
        if bar.ending and turn not in bar.ending:
            here += 1
            continue
        order.append(here)
        if bar.times > turn and here not in closed:
            here, turn = start, turn + 1
            continue
        if bar.times:
            closed.add(here)
            if not _has_next_ending(turns, here):
                start, turn = here + 1, 1
        here += 1
    return order


def has_jumps(score: Score[P]) -> bool:
    """True where the score says D.C., D.S. or to the coda."""
    kinds = {"dacapo", "dalsegno", "tocoda"}
    return any(
        key in kinds
        for part in score.parts
        for bar in part.bars
        for one in bar.directions
        if one.sound
        for key, _ in one.sound.attributes
    )


def _has_next_ending(turns: Sequence[_Turn], here: int) -> bool:
    return bool(turns[here].ending) and here + 1 < len(turns) and bool(turns[here + 1].ending)


def _turns(score: Score[P]) -> list[_Turn]:
    found: list[_Turn] = []
    ending: frozenset[int] = frozenset()
    for index in range(len(score.bars)):
        lines = _barlines(score, index)
        for line in lines:
            if line.ending and line.ending.get("type") == "start":
                ending = frozenset(int(n) for n in re.findall(r"\d+", line.ending.get("number")))
        opens = any(b.repeat and b.repeat.get("direction") == "forward" for b in lines)
        found.append(_Turn(opens, _times(lines, ending), ending))
        if any(b.ending and b.ending.get("type") in ("stop", "discontinue") for b in lines):
            ending = frozenset()
    return found


def _barlines(score: Score[P], index: int) -> Sequence[Barline]:
    """The barlines of the first part that says anything about repeats there."""
    for part in score.parts:
        lines = part.bars[index].barlines
        if any(line.repeat or line.ending for line in lines):
            return lines
    return ()


def _times(lines: Sequence[Barline], ending: frozenset[int]) -> int:
    """How often the passage that closes here is played; 0 where none closes."""
    for line in lines:
        if line.repeat and line.repeat.get("direction") == "backward":
            said = line.repeat.get("times")
            return int(said) if said.isdigit() else max(2, *(n + 1 for n in ending or {1}))
    return 0
