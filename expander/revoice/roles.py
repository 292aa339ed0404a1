"""What each group of lines is for: tune, counter-line, pad, bass, rhythm figure, percussion.

Told by doublings, register, motion, loudness and words, bar by bar, with a liking for going on.
The weights are common practice, no source: they order the possibilities and mean nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.revoice.doubling import Group
from expander.revoice.lines import FullScore, Line, heights

TUNE, COUNTER, INNER, BASS = "tune", "counter", "inner", "bass"
FIGURE, DRUMS = "figure", "percussion"

SUNG = 9.0
SOLO = 4.0
HIGHEST = 3.0
PER_DOUBLING = 0.5
MOST_DOUBLINGS = 4
PER_MOVE = 0.5
MOST_MOVES = 4
LOUDER = 0.6
LOWEST = -2.5
BEATEN = -6.0
"""For drums with pitch, which keep time."""

CHANGE = 3.0
"""What it takes for the tune to pass to another line."""

CHANGE_AFTER_REST = 0.5
LEADING = 2
"""Moves from which an accompanying line is heard as a counter-line."""


class Voice(Struct, frozen=True):
    """A group with its role. `top` and `bottom`: it has the highest or lowest note most often."""

    group: Group
    role: str
    top: bool
    bottom: bool


def roles_of(
    score: FullScore, lines: Sequence[Line], groups: Sequence[Sequence[Group]]
) -> tuple[tuple[Voice, ...], ...]:
    """The role of every group, bar by bar."""
    tunes = _tunes(score, lines, groups)
    return tuple(
        tuple(_voice(lines, group, here, tune) for group in here)
        for here, tune in zip(groups, tunes, strict=True)
    )


def _voice(lines: Sequence[Line], group: Group, here: Sequence[Group], tune: int) -> Voice:
    line = lines[group.lead]
    if line.unpitched:
        return Voice(group, DRUMS, top=False, bottom=False)
    top, bottom = outermost(lines, here)
    role = _role(lines, group, is_tune=group.lead == tune, is_bottom=group.lead == bottom)
    return Voice(group, role, group.lead == top, group.lead == bottom)


def _role(lines: Sequence[Line], group: Group, *, is_tune: bool, is_bottom: bool) -> str:
    if is_tune:
        return TUNE
    if is_bottom:
        return BASS
    if _is_beaten(lines[group.lead]):
        return FIGURE
    pitches = heights(lines[group.lead].cells[group.bar])
    if moves(pitches) >= LEADING:
        return COUNTER
    return FIGURE if len(pitches) > LEADING and len(set(pitches)) == 1 else INNER


def moves(pitches: Sequence[int]) -> int:
    """How many pitch classes a line goes to after its first."""
    return max(0, len({p % 12 for p in pitches}) - 1)


def outermost(lines: Sequence[Line], here: Sequence[Group]) -> tuple[int, int]:
    """The leads that have the highest and the lowest notes of a bar; -1 where none is pitched."""
    pitched = [g for g in here if heights(lines[g.lead].cells[g.bar])]
    if not pitched:
        return -1, -1
    top = max(pitched, key=lambda g: (_mean(lines, g, max), -g.lead))
    bottom = min(pitched, key=lambda g: (_mean(lines, g, min), -g.lead))
    return top.lead, bottom.lead


def _mean(lines: Sequence[Line], group: Group, side: object) -> float:
    """Mean height of the group's highest (max) or lowest (min) line."""
    means = [sum(h) / len(h) for n in group.everybody if (h := heights(lines[n].cells[group.bar]))]
    return float(side(means))  # type: ignore[operator]


# -- the tune --------------------------------------------------------------------------------------


def _tunes(score: FullScore, lines: Sequence[Line], groups: Sequence[Sequence[Group]]) -> list[int]:
    """The lead that has the tune in each bar, -1 in silence: the likeliest way through."""
    came: list[Mapping[int, int]] = []
    totals: Mapping[int, float] = {-1: 0.0}
    members: Mapping[int, frozenset[int]] = {-1: frozenset()}
    for bar, here in enumerate(groups):
        salience = {g.lead: _salience(score, lines, g, here) for g in here} or {-1: 0.0}
        belongs = {g.lead: frozenset(g.everybody) for g in here} or {-1: frozenset()}
        steps: dict[int, int] = {}
        sums: dict[int, float] = {}
        for lead, value in salience.items():
            price = {old: _price(lines, bar, members[old], belongs[lead]) for old in totals}
            best = max(totals, key=lambda old: (totals[old] - price[old], -old))
            steps[lead], sums[lead] = best, totals[best] - price[best] + value
        came.append(steps)
        totals, members = sums, belongs
    return _traced(totals, came)


def _traced(totals: Mapping[int, float], came: Sequence[Mapping[int, int]]) -> list[int]:
    last = max(totals, key=lambda lead: (totals[lead], -lead))
    found: list[int] = []
    for steps in reversed(came):
        found.append(last)
        last = steps[last]
    return found[::-1]


def _price(lines: Sequence[Line], bar: int, old: frozenset[int], new: frozenset[int]) -> float:
    """What it costs the tune to pass from some lines to others at a barline."""
    if not old or not new or old & new:
        return 0.0
    rested = all(bar - 1 not in lines[n].cells for n in new)
    return CHANGE_AFTER_REST if rested else CHANGE


def _salience(
    score: FullScore, lines: Sequence[Line], group: Group, here: Sequence[Group]
) -> float:
    line = lines[group.lead]
    pitches = heights(line.cells[group.bar])
    if line.unpitched or not pitches:
        return -9.0
    top, bottom = outermost(lines, here)
    sung = any(lines[n].owner.sung for n in group.members)
    solo = any((lines[n].owner.part, group.bar) in score.solos for n in group.members)
    loud = max(score.levels[lines[n].owner.part][group.bar] for n in group.members)
    mean = sum(score.levels[lines[g.lead].owner.part][g.bar] for g in here) / len(here)
    return (
        SUNG * sung
        + SOLO * solo
        + HIGHEST * (group.lead == top)
        + LOWEST * (group.lead == bottom and len(here) > 1)
        + BEATEN * _is_beaten(line)
        + PER_DOUBLING * min(len(group.members) - 1, MOST_DOUBLINGS)
        + PER_MOVE * min(moves(pitches), MOST_MOVES)
        + LOUDER * (loud - mean)
        - 1.0 * line.depth
    )


def _is_beaten(line: Line) -> bool:
    return line.owner.family == "pitched percussion"
