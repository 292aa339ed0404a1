"""Marks for the old player's hands, turned into what the new player does instead, or left out.

A tremolo of the bow is repeated notes or a held note to those who blow or sing, a plucked note a
short one; bowings, fingerings and the like go only to those they mean something to.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from msgspec.structs import replace

from expander.checks.figures import folded
from expander.checks.saying import said_by
from expander.model.finding import Finding, Severity
from expander.model.hands import is_personal, suits
from expander.model.metre import plain_value
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.score import Direction, Event, Mark, Note
from expander.model.spans import alternates
from expander.model.tables import table
from expander.revoice.lines import FullScore, Line
from expander.revoice.seats import Seated
from expander.rulefile.techniques import find_technique

TREMOLO = "tremolo"
REPEATED = "repeats the notes of the tremolo"
HELD = "holds the notes of the tremolo"
SHORT = "plays short what was plucked or struck"

FLAGS = {"eighth": 2, "16th": 4, "32nd": 8}
"""How often a value's own flags divide the quaver of one slash."""


def _tables() -> Mapping[str, Any]:
    return table(__file__, "hands.toml")


def suited(score: FullScore, lines: Sequence[Line], seats: Sequence[Seated]) -> list[Finding]:
    """Change the seats' cells to suit their hands; a finding for what is played otherwise."""
    found: list[Finding] = []
    for seat in seats:
        told: dict[tuple[str, str], list[int]] = {}
        for bar, cell in seat.cells.items():
            given = seat.given[bar]
            owner = lines[given.line].owner
            family = seat.chair.instrument.family
            if owner.family == family:
                continue
            hand = _Hand(family, _tick(score, bar), score.sketch.grid)
            seat.cells[bar] = hand.played(cell, score.colours[owner.part][bar].technique)
            here = score.sketch.parts[owner.part].bars[bar].directions
            said = [*hand.said, *_words(here, lines[given.line].staff, family)]
            for what in said if not given.doubling else ():
                told.setdefault((what, owner.name), []).append(bar)
        found += _findings(score, seat, told)
    return found


def _tick(score: FullScore, bar: int) -> float:
    """Seconds of a tick in a bar."""
    return (score.seconds[bar + 1] - score.seconds[bar]) / max(1, score.sketch.bars[bar].length)


def _words(directions: Sequence[Direction], staff: int, family: str) -> Iterator[str]:
    """Words for a way of playing that a family has not, other than its bow's and its mutes'."""
    for mark in (m for d in directions if (d.staff or 1) == staff for m in d.marks):
        technique = find_technique(mark.text) if mark.name == "words" else None
        if technique is None or said_by(folded(mark.text)):
            continue
        if technique.families and family not in technique.families:
            yield f"is not told '{' '.join(mark.text.split())}'"


class _Hand:
    """Plays cells as one family of instruments can; `said` is what was changed."""

    def __init__(self, family: str, tick: float, grid: int) -> None:
        self._family = family
        self._tick = tick
        self._grid = grid
        self.said: list[str] = []

    def played(self, cell: Events, technique: str) -> Events:
        if not any(e.marks for e in cell) and technique not in _tables()["short"]["techniques"]:
            return cell
        shorter = self._is_short(technique)
        found: list[Event[Sounding]] = []
        for event in cell:
            plain = self._without_strange(event)
            for one in self._without_tremolo(plain):
                found.append(self._shortened(one) if shorter else one)
        if len(found) == len(cell):
            return tuple(found)
        return tuple(replace(event, beams=()) if event.beams else event for event in found)

    def _say(self, what: str) -> None:
        if what not in self.said:
            self.said.append(what)

    def _without_strange(self, event: Event[Sounding]) -> Event[Sounding]:
        lost = [m for m in event.marks if is_personal(m.name) or not suits(m.name, self._family)]
        for mark in lost:
            self._say(f"has nothing for the mark '{mark.name.replace('-', ' ')}'")
        return (
            replace(event, marks=tuple(m for m in event.marks if m not in lost)) if lost else event
        )

    # -- tremolo -----------------------------------------------------------------------------------

    def _without_tremolo(self, event: Event[Sounding]) -> tuple[Event[Sounding], ...]:
        mark = next((m for m in event.marks if m.name == TREMOLO), None)
        between = mark is not None and alternates(mark)
        if mark is None or self._family in _tables()[TREMOLO]["two" if between else "one"]:
            return (event,)
        bare = replace(event, marks=tuple(m for m in event.marks if m is not mark))
        if between:
            bare = replace(bare, value=plain_value(bare.duration, self._grid), beams=())
        step = 0 if between else self._step(event, mark)
        self._say(REPEATED if step else HELD)
        return _repeated(bare, step, self._grid) if step else (bare,)

    def _step(self, event: Event[Sounding], mark: Mark) -> int:
        """Ticks of each repeated note; 0 where it is not to be repeated."""
        rules = _tables()[TREMOLO]
        slashes = int(mark.text) if mark.text.strip().isdigit() else rules["measured"] + 1
        tuplet = event.value is not None and event.value.actual != event.value.normal
        if not 0 < slashes <= rules["measured"] or event.grace is not None or tuplet:
            return 0
        flags = FLAGS.get(event.value.type, 1) if event.value else 1
        step, rest = divmod(self._grid, 2**slashes * flags)
        whole = not rest and step and event.duration % step == 0 and event.duration > step
        return step if whole and step * self._tick >= rules["fastest"] else 0

    # -- plucked -----------------------------------------------------------------------------------

    def _is_short(self, technique: str) -> bool:
        rules = _tables()["short"]
        short = technique in rules["techniques"] and self._family in rules["families"]
        if short:
            self._say(SHORT)
        return short

    def _shortened(self, event: Event[Sounding]) -> Event[Sounding]:
        named = any(m.group == "articulations" for m in event.marks)
        if not event.notes or named or event.duration > self._grid:
            return event
        mark = Mark("articulations", _tables()["short"]["mark"])
        return replace(event, marks=(*event.marks, mark))


def _repeated(event: Event[Sounding], step: int, grid: int) -> tuple[Event[Sounding], ...]:
    """A note written out: what it begins goes to the first, what it ends to the last."""
    count = event.duration // step
    own = tuple(_untied(n) for n in event.notes)
    notes = tuple(replace(n, accidental=None) for n in own)
    ends = tuple(m for m in event.marks if m.get("type") == "stop")
    first = tuple(m for m in event.marks if m not in ends)
    value = plain_value(step, grid)
    made = [Event(event.at + i * step, step, notes, value) for i in range(count)]
    made[0] = replace(made[0], notes=own, marks=first, lyrics=event.lyrics)
    made[-1] = replace(made[-1], marks=(*made[-1].marks, *ends))
    return tuple(made)


def _untied(note: Note[Sounding]) -> Note[Sounding]:
    marks = tuple(m for m in note.marks if m.name != "tied")
    return replace(note, tie_start=False, tie_stop=False, marks=marks)


# -- what there is to say --------------------------------------------------------------------------


def _findings(
    score: FullScore, seat: Seated, told: Mapping[tuple[str, str], Sequence[int]]
) -> Iterator[Finding]:
    one = seat.chair.instrument.name
    for (what, owner), bars in told.items():
        for _, run in groupby(enumerate(bars), key=lambda pair: pair[1] - pair[0]):
            here = [bar for _, bar in run]
            first, last = (score.sketch.bars[b].number for b in (here[0], here[-1]))
            where = f"bar {first}" if len(here) == 1 else f"bars {first} to {last}"
            text = f"{one}, who has the music of {owner} in {where}, {what}."
            yield Finding("played-otherwise", Severity.NOTE, text, owner, first, index=here[0])
