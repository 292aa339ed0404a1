"""Ways of playing of a line: said by its own words where they stand, by the rules elsewhere.

Words hold for the strand they stand with. Where a line goes on in another, rules have to say it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from msgspec.structs import replace

from expander.model.dynamics import level_after
from expander.model.instrument import Instrument
from expander.model.plan import Strand
from expander.model.score import Direction, Mark
from expander.notate.turns import ORDINARY, Turning, Way, dropped_for
from expander.revoice.harmonics import is_harmonic
from expander.revoice.lines import HARMONICS, PLAIN, Colour, FullScore, Line
from expander.revoice.marking import carried
from expander.revoice.players import as_played

Directions = Mapping[int, tuple[Direction, ...]]

NEVER = 1 << 30

_WHO = frozenset({"split", "label"})
"""States said anew by whoever writes the stave."""


def with_turns(full: FullScore, line: Line, said: Directions, turning: Turning) -> Line:
    """A line with the marks that go with it, of all that is `said` to it, and how it is played."""
    one = line.owner.instrument
    turns = turning.of(Strand("", {}, said))
    told = {bar: _levels(marks) for bar, marks in said.items() if bar not in line.cells}
    played: dict[int, Colour] = {}
    turned: set[int] = set()
    before = ORDINARY
    for bar in sorted(line.cells):
        first = next(e.at for e in line.cells[bar] if e.notes)
        way = turns.at((bar, first))
        here = [replace(d, marks=tuple(_read(d, one))) for d in said.get(bar, ())]
        spoken = [d.at for d in here if any(any(turning.spoken(m)) for m in d.marks)]
        early = bool(spoken) and min(spoken) <= first
        words = () if early else _words(before, way, first, one, later=bool(spoken))
        told[bar] = (*words, *carried(here, _WHO))
        colour = _colour(full, line, bar, way)
        if spoken or words:
            turned.add(bar)
        elif colour != PLAIN:
            played[bar] = colour
        before = turns.at((bar, NEVER))
    return replace(
        line,
        told={bar: marks for bar, marks in told.items() if marks},
        played=played,
        turned=frozenset(turned),
    )


def _levels(marks: Iterable[Direction]) -> tuple[Direction, ...]:
    """The levels set while a line rests: they hold when it comes in."""
    return tuple(d for d in carried(marks, _WHO) if level_after(d))


def _colour(full: FullScore, line: Line, bar: int, way: Way) -> Colour:
    """How a bar is played at its first note, as rules name it."""
    if line.owner.instrument is None:
        return PLAIN
    names = [str(getattr(each, "id", "")) for each in way]
    layers = full.sketch.parts[line.owner.part].bars[bar].layers
    touched = any(is_harmonic(event) for layer in layers for event in layer)
    asked = Colour("" if names[0] == HARMONICS else names[0], names[1])
    colour = as_played(asked, line.owner.instrument)
    return Colour(HARMONICS, colour.mute) if touched else colour


def _read(direction: Direction, one: Instrument | None) -> Iterator[Mark]:
    """The marks that whoever writes a stave for the instrument will leave on it."""
    for mark in direction.marks:
        if one is None or mark.name != "words" or not dropped_for(mark.text, one):
            yield mark


def _words(
    before: Way, way: Way, first: int, one: Instrument | None, *, later: bool
) -> tuple[Direction, ...]:
    """Words at the first note of a bar for what was said in a rest before it.

    Where words come `later` in the bar, also for what holds until then.
    """
    said = [
        new.on if new else old.off if old else ""
        for old, new in zip(before, way, strict=True)
        if old is not new or (later and new)
    ]
    marks = (Mark("direction-type", "words", (), text) for text in said if text)
    found = (Direction(first, (mark,), staff=1, placement="above") for mark in marks)
    return tuple(direction for direction in found if any(_read(direction, one)))
