"""Roles: which line is the tune, which a counter-line, a pad, the bass or a figure.

A rule file's strands are named by the arranger, and their names usually say it. Where they do not,
and for scores without rules, the music decides by what a listener goes by: words, doubling, the
lowest line, chords, repetition. Such roles are a reading, not a fact.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from expander.model.rules import StrandRule
from expander.outline.values import Role

Sounded = tuple[int, int, tuple[int, ...]]
"""Start and end tick in the piece, and the heights struck (none for drums)."""


@dataclass(frozen=True, slots=True)
class Heard:
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


@cache
def _figures() -> dict[str, Any]:
    text = files("expander.outline").joinpath("roles.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def role_by_name(name: str) -> Role | None:
    """What a strand's name says, None where it says nothing known."""
    known = _figures()["names"]
    for word in re.findall(r"[^\W\d_]+", name.lower()):
        for role in Role:
            if word in known[role.value]:
                return role
    return None


def role_by_rule(rule: StrandRule) -> Role | None:
    """What a strand's own rule says: chords of symbols and the top of chords are a pad, a bar to
    go on with is a figure, the lowest notes are the bass."""
    if rule.chords or rule.notes == "highest":
        return Role.PAD
    if rule.repeat:
        return Role.FIGURE
    return Role.BASS if rule.notes == "lowest" else None


def roles_by_music(lines: Mapping[str, Heard]) -> dict[str, Role]:
    """The role of each line among the others; lines without notes have none."""
    sounding = {name: line for name, line in lines.items() if line.notes}
    tune = _tune(sounding)
    lows = _lowest_at(sounding)
    found: dict[str, Role] = {}
    for name, line in sounding.items():
        found[name] = _role(name, line, tune, lows, sounding)
    return found


def _role(
    name: str,
    line: Heard,
    tune: str,
    lows: Mapping[int, int],
    lines: Mapping[str, Heard],
) -> Role:
    if not line.pitched:
        return Role.FIGURE
    if name == tune or (tune and _doubles(line, lines[tune])):
        return Role.TUNE
    if _is_bass(line, lows):
        return Role.BASS
    if line.at_once >= _figures()["music"]["chordal"]:
        return Role.PAD
    if _is_figure(line):
        return Role.FIGURE
    others = [o for n, o in lines.items() if n not in (name, tune) and o.pitched]
    return Role.PAD if _moves_with(line, others) else Role.COUNTER


def _tune(lines: Mapping[str, Heard]) -> str:
    """The line with words; else the highest that is one note at a time and moves."""
    sung = [name for name, line in lines.items() if line.words]
    if sung:
        return max(sung, key=lambda name: lines[name].height)
    single = {
        name: line
        for name, line in lines.items()
        if line.pitched and line.at_once < _figures()["music"]["chordal"]
    }
    busiest = max((len(line.notes) for line in single.values()), default=0)
    moving = [name for name, line in single.items() if 3 * len(line.notes) >= busiest]
    return max(moving, key=lambda name: single[name].height, default="")


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
    share = figures["lowest"] * len(line.notes)
    return bottom >= share or (at_bottom >= share and _in_octaves(line, lows) >= share)


def _in_octaves(line: Heard, lows: Mapping[int, int]) -> int:
    """How many of its notes have the name of the lowest note."""
    return sum(1 for start, _, h in line.notes if h and (min(h) - lows[start]) % 12 == 0)


def _doubles(line: Heard, tune: Heard) -> bool:
    names = {(start, max(h) % 12) for start, _, h in tune.notes if h}
    same = sum(1 for start, _, h in line.notes if h and (start, max(h) % 12) in names)
    return same >= _figures()["music"]["doubles"] * len(line.notes)


def _is_figure(line: Heard) -> bool:
    figures = _figures()["music"]
    counts = Counter(line.bars)
    again = sum(count for count in counts.values() if count > 1)
    onsets = sum(len(at) for at, _ in line.bars)
    enough = onsets >= figures["figure_notes"] * len(line.bars)
    return enough and again >= figures["repeats"] * len(line.bars) and len(line.bars) > 1


def _moves_with(line: Heard, others: list[Heard]) -> bool:
    """True where it moves in one rhythm with at least two other lines."""
    need = _figures()["music"]["together"] * len(line.notes)
    mine = [(start, end) for start, end, _ in line.notes]
    fellows = 0
    for other in others:
        theirs = {(start, end) for start, end, _ in other.notes}
        fellows += sum(1 for note in mine if note in theirs) >= need
    return fellows > 1
