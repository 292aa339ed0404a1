"""Roles: which line is the tune, which a counter-line, a pad, the bass or a figure.

A rule file's strands are named by the arranger, and their names usually say it. Where they do not,
and for scores without rules, the music decides by what a listener goes by: words, doubling, the
lowest line, chords, repetition. Such roles are a reading, not a fact.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from typing import Any

from msgspec import Struct

from expander.model.rules import StrandRule
from expander.model.tables import table
from expander.outline.values import Role

TWO = 1.5
"""As many notes besides its own make a line one of several (chords are counted on average)."""

Sounded = tuple[int, int, tuple[int, ...]]
"""Start and end tick in the piece, and the heights struck (none for drums)."""


class Heard(Struct, frozen=True):
    """A line as a listener meets it: its notes in order, and whether it has words.

    `bars` has, for each bar with music, the ticks of its bar at which notes begin and how the
    line moves (semitones from note to note).
    """

    notes: tuple[Sounded, ...]
    words: bool = False
    bars: tuple[tuple[tuple[int, ...], tuple[int, ...]], ...] = ()

    @property
    def height(self) -> float:
        """The mean of its top notes."""
        tops = [max(h) for _, _, h in self.notes if h]
        return sum(tops) / len(tops) if tops else 0.0

    @property
    def at_once(self) -> float:
        """Notes at once on average."""
        return sum(len(h) for _, _, h in self.notes) / max(1, len(self.notes))

    @property
    def pitched(self) -> bool:
        """False where it is drums for the most part."""
        return 2 * sum(1 for _, _, h in self.notes if h) > len(self.notes)


def _figures() -> dict[str, Any]:
    return table(__file__, "roles.toml")


def role_by_name(name: str) -> Role | None:
    """What a strand's name says, None where it says nothing known or several things."""
    known = _figures()["names"]
    words = set(re.findall(r"[^\W\d_]+", name.lower()))
    said = [role for role in Role if words & set(known[role.value])]
    return said[0] if len(said) == 1 else None


def role_by_rule(rule: StrandRule) -> Role | None:
    """What a strand's own rule says, None where it says nothing.

    Chords of symbols and the top of chords are a pad, a bar to go on with is a figure, the lowest
    notes are the bass.
    """
    if rule.chords or rule.notes == "highest":
        return Role.PAD
    if rule.repeat:
        return Role.FIGURE
    return Role.BASS if rule.notes == "lowest" else None


def roles_by_music(lines: Mapping[str, Heard]) -> dict[str, Role]:
    """The role of each line among the others; lines without notes have none."""
    sounding = {name: line for name, line in lines.items() if line.notes}
    together = {name for name in sounding if _moves_with(name, sounding)}
    scene = _Scene(sounding, together, _tune(sounding, together), _lowest_at(sounding))
    return {name: _role(name, line, scene) for name, line in sounding.items()}


class _Scene(Struct, frozen=True):
    """All lines of a passage: those that move together as chords, the tune, the lowest notes."""

    lines: Mapping[str, Heard]
    together: set[str]
    tune: str
    lows: Mapping[int, int]

    @property
    def sung(self) -> list[str]:
        """The lines with words."""
        return [name for name, line in self.lines.items() if line.words]


def _role(name: str, line: Heard, scene: _Scene) -> Role:
    if not line.pitched:
        return Role.FIGURE
    if name == scene.tune or scene.sung == [name] or _doubles(line, scene.lines.get(scene.tune)):
        return Role.TUNE
    if _is_bass(line, scene.lows):
        return Role.BASS
    if line.at_once >= _figures()["music"]["chordal"] or name in scene.together:
        return Role.PAD
    return Role.FIGURE if _is_figure(line) else Role.COUNTER


def _tune(lines: Mapping[str, Heard], together: set[str]) -> str:
    """The highest line with words; else the highest single line that moves on its own."""
    busiest = max((len(line.notes) for line in lines.values() if line.pitched), default=0)
    present = {name: line for name, line in lines.items() if 4 * len(line.notes) >= busiest}
    sung = [name for name, line in present.items() if line.words]
    single = [
        name
        for name, line in present.items()
        if line.pitched and line.at_once < _figures()["music"]["chordal"]
    ]
    alone = [name for name in single if name not in together]
    return max(sung or alone or single, key=lambda name: lines[name].height, default="")


def _lowest_at(lines: Mapping[str, Heard]) -> dict[int, int]:
    """The lowest height struck at each tick."""
    found: dict[int, int] = {}
    for line in lines.values():
        for start, _, heights in line.notes:
            if heights:
                found[start] = min(min(heights), found.get(start, 999))
    return found


def _is_bass(line: Heard, lows: Mapping[int, int]) -> bool:
    figures = _figures()["music"]
    lowest = [min(h) for _, _, h in line.notes if h]
    at_bottom = sum(1 for start, _, h in line.notes if h and min(h) <= lows[start] + 12)
    bottom = sum(1 for start, _, h in line.notes if h and min(h) <= lows[start])
    mean = sum(lowest) / max(1, len(lowest))
    if line.at_once >= figures["chordal"] or mean >= figures["low_enough"]:
        return False
    share = float(figures["lowest"]) * len(line.notes)
    return bottom >= share or (at_bottom >= share and _in_octaves(line, lows) >= share)


def _in_octaves(line: Heard, lows: Mapping[int, int]) -> int:
    """How many of its notes have the name of the lowest note."""
    return sum(1 for start, _, h in line.notes if h and (min(h) - lows[start]) % 12 == 0)


def _doubles(line: Heard, tune: Heard | None) -> bool:
    if tune is None:
        return False
    names = {(start, max(h) % 12) for start, _, h in tune.notes if h}
    same = sum(1 for start, _, h in line.notes if h and (start, max(h) % 12) in names)
    return same >= float(_figures()["music"]["doubles"]) * len(line.notes)


def _is_figure(line: Heard) -> bool:
    figures = _figures()["music"]
    counts = Counter(line.bars)
    again: int = sum(count for count in counts.values() if count > 1)
    onsets = sum(len(at) for at, _ in line.bars)
    enough: bool = onsets >= figures["figure_notes"] * len(line.bars)
    return enough and len(line.bars) > 1 and again >= float(figures["repeats"]) * len(line.bars)


def _moves_with(name: str, lines: Mapping[str, Heard]) -> bool:
    """True where a line moves in one rhythm with two other notes: two lines, or one of chords."""
    line = lines[name]
    need = _figures()["music"]["together"] * len(line.notes)
    if line.words or not line.pitched:
        return False
    fellows = 0.0
    for other, fellow in lines.items():
        if other == name or not fellow.pitched or fellow.words or _doubles(line, fellow):
            continue
        theirs = {(start, end) for start, end, _ in fellow.notes}
        if sum(1 for start, end, _ in line.notes if (start, end) in theirs) >= need:
            fellows += fellow.at_once
    return fellows > TWO
