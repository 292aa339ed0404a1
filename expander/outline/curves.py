"""How the piece goes: how many play, how high and low, how loud, bar by bar; and what that tells.

The level of a bar is the mean of the dynamics in force over what sounds, weighted by its length.
Fullness is the mean of three shares of the most that the piece has: players, notes at once, level.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from expander.checks.music import Chord, Music
from expander.outline.heard import heights
from expander.outline.values import Curves, Remark, Row

LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
"""Dynamics on the scale of the curve; softer and louder ones count as its ends."""

_BEYOND = {"pppp": 0, "ppppp": 0, "pppppp": 0, "n": 0, "ffff": 7, "fffff": 7, "ffffff": 7}
_NEAR = 0.97
"""Bars this close to the most belong to the climax."""

_REST = 0.45
"""Bars below this share of the most are a resting place."""


def curves_of(music: Music, rows: Sequence[Row]) -> Curves:
    """The curves of a score whose rows are known."""
    bars = [_Bar() for _ in music.score.bars]
    for stand in music.stands:
        for chord in stand.chords:
            bars[chord.bar].add(chord)
    for bar, shape in zip(bars, music.score.bars, strict=True):
        bar.length = max(1, shape.length)
    return Curves(
        players=tuple(sum(r.cells[i] is not None for r in rows) for i in range(len(bars))),
        at_once=tuple(round(b.sounding / b.length, 3) for b in bars),
        low=tuple(b.low for b in bars),
        middle=tuple(b.middle for b in bars),
        high=tuple(b.high for b in bars),
        softest=tuple(min(b.levels, default=None) for b in bars),
        level=tuple(b.level for b in bars),
        loudest=tuple(max(b.levels, default=None) for b in bars),
    )


class _Bar:
    """What sounds in a bar, added up."""

    def __init__(self) -> None:
        self.length = 1
        self.sounding = 0
        self.low: int | None = None
        self.high: int | None = None
        self.levels: list[float] = []
        self._heights = self._pitched = 0
        self._level = self._levelled = 0.0

    def add(self, chord: Chord) -> None:
        """Count a chord in."""
        ticks = chord.end - chord.start
        sounding = heights(chord)
        self.sounding += ticks * (len(sounding) + len(chord.drums))
        for height in sounding:
            self.low = height if self.low is None else min(self.low, height)
            self.high = height if self.high is None else max(self.high, height)
            self._heights += height * ticks
            self._pitched += ticks
        level = level_number(chord.hand.dynamic)
        if level is not None:
            self.levels.append(level)
            self._level += level * ticks
            self._levelled += ticks

    @property
    def middle(self) -> float | None:
        """The mean height of what sounds."""
        return round(self._heights / self._pitched, 3) if self._pitched else None

    @property
    def level(self) -> float | None:
        """The mean dynamic of what sounds."""
        return round(self._level / self._levelled, 3) if self._levelled else None


def level_number(dynamic: str) -> float | None:
    """A dynamic on the scale of the curve; None for none and for accents."""
    if dynamic in LEVELS:
        return float(LEVELS.index(dynamic))
    beyond = _BEYOND.get(dynamic)
    return None if beyond is None else float(beyond)


def fullness(curves: Curves) -> list[float]:
    """How full each bar is, from 0 to 1."""
    players = _shares([float(n) for n in curves.players])
    thick = _shares(list(curves.at_once))
    loud = _shares([0.0 if v is None else v + 1 for v in curves.level])
    return [round((a + b + c) / 3, 4) for a, b, c in zip(players, thick, loud, strict=True)]


def _shares(values: list[float]) -> list[float]:
    most = max(values, default=0.0) or 1.0
    return [value / most for value in values]


def remarks_of(curves: Curves, rows: int) -> tuple[Remark, ...]:
    """The climax, the highest note, the resting places, silence."""
    full = fullness(curves)
    if not any(curves.at_once):
        return ()
    found = [_fullest(curves, full, rows), *_highest(curves), *_thinnest(curves, full, rows)]
    return tuple(found)


def _fullest(curves: Curves, full: Sequence[float], rows: int) -> Remark:
    top = max(full)
    first, last = _longest(full, lambda value: value >= _NEAR * top)
    most = max(curves.players[first : last + 1])
    notes = max(curves.at_once[first : last + 1])
    loudest = max((v for v in curves.level[first : last + 1] if v is not None), default=None)
    loud = f", {LEVELS[round(loudest)]} on average" if loudest is not None else ""
    text = f"{most} of {rows} play, {notes:.0f} notes at once{loud}"
    return Remark("Fullest", first, last, text)


def _highest(curves: Curves) -> list[Remark]:
    tops = [(height, -bar) for bar, height in enumerate(curves.high) if height is not None]
    if not tops:
        return []
    height, bar = max(tops)
    return [Remark("Highest", -bar, -bar, note_name(height))]


def _thinnest(curves: Curves, full: Sequence[float], rows: int) -> list[Remark]:
    """Stretches of two bars or more that are much emptier than the climax, the emptiest first."""
    limit = _REST * max(full)
    runs = [run for run in _runs(full, lambda value: value < limit) if run[1] > run[0]]
    runs.sort(key=lambda run: (sum(full[run[0] : run[1] + 1]) / (run[1] - run[0] + 1), run))
    return [_at_rest(curves, first, last, rows) for first, last in sorted(runs[:3])]


def _at_rest(curves: Curves, first: int, last: int, rows: int) -> Remark:
    most = max(curves.players[first : last + 1])
    verb = "plays" if most == 1 else "play"
    return Remark("At rest", first, last, f"at most {most} of {rows} {verb}")


def _runs(values: Sequence[float], chosen: Callable[[float], bool]) -> list[tuple[int, int]]:
    """First and last index of each stretch of chosen values."""
    runs: list[tuple[int, int]] = []
    for yes, group in groupby(enumerate(values), key=lambda pair: chosen(pair[1])):
        indices = [index for index, _ in group]
        if yes:
            runs.append((indices[0], indices[-1]))
    return runs


def _longest(values: Sequence[float], chosen: Callable[[float], bool]) -> tuple[int, int]:
    return max(_runs(values, chosen), key=lambda run: (run[1] - run[0], -run[0]))


def note_name(height: int) -> str:
    """A sounding height as a name: 60 is "C4"."""
    names = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")
    return f"{names[height % 12]}{height // 12 - 1}"
