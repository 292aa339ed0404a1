"""Rules held against a line-up and a sketch: every name in them has to exist."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence

from msgspec import Struct

from expander.errors import ExpanderError, Spot
from expander.model.instrument import Seat
from expander.model.rules import Entry, Rules, SketchFacts, Spots, Technique
from expander.rulefile.in_sketch import form_mistakes, section_mistakes, strand_mistakes
from expander.rulefile.nearest import listed
from expander.rulefile.techniques import techniques

Resolve = Callable[[str], Sequence[Seat] | None]
"""From a name of the line-up to its seats, where it knows them.

Raises LookupError for a name the line-up does not have, with `suggestions` or `nearest` if any.
"""


def check_against(
    rules: Rules,
    sketch: SketchFacts,
    resolve: Resolve | None = None,
    *,
    voicings: Collection[str] = (),
    approaches: Collection[str] = (),
) -> list[ExpanderError]:
    """Every name in the rules that the sketch or the line-up does not have, in order of place.

    `resolve` knows the line-up; without it players are not checked. `voicings` and `approaches`
    are the names known; empty ones are not checked. Overlapping sections are mistakes too, and a
    technique that none of the players named can do.
    """
    found = [
        *form_mistakes(rules, sketch),
        *section_mistakes(rules, sketch),
        *strand_mistakes(rules, sketch, voicings, approaches),
        *(_players(rules, resolve) if resolve else ()),
    ]
    return sorted(found, key=_order)


def _order(mistake: ExpanderError) -> tuple[int, int]:
    return (mistake.at.line, mistake.at.column) if mistake.at else (0, 0)


class _Names(Struct, frozen=True):
    """Names of the line-up in one place of the rules."""

    key: str
    names: tuple[str, ...]
    spots: Spots
    at: Spot | None = None


def _players(rules: Rules, resolve: Resolve) -> Iterator[ExpanderError]:
    for entry in (entry for entries in rules.plan.values() for entry in entries):
        seats, mistakes = _seats(_Names("by", entry.by, entry.spots, entry.at), resolve)
        yield from mistakes or _colours(entry, seats)
    yield from _seats(_Names("keyless", rules.keyless, rules.spots), resolve)[1]


def _seats(named: _Names, resolve: Resolve) -> tuple[list[Seat], list[ExpanderError]]:
    """All seats named, and a mistake for each name that means nobody."""
    seats: list[Seat] = []
    mistakes: list[ExpanderError] = []
    for index, name in enumerate(named.names):
        try:
            seats += resolve(name) or ()
        except LookupError as error:
            at = named.spots.get(f"{named.key}.{index}", named.at)
            fault = f'{named.key}: "{name}" is no player, section, family or group of the line-up.'
            mistakes.append(ExpanderError(fault, at=at, hint=_instead(name, error)))
    return seats, mistakes


def _instead(name: str, error: LookupError) -> str:
    suggestions = getattr(error, "suggestions", ()) or getattr(error, "nearest", ())
    return _several(name) or _or_else(suggestions)


def _several(name: str) -> str:
    return f"A list of players goes in square brackets: [{name}]." if "," in name else ""


def _or_else(suggestions: Collection[str]) -> str:
    quoted = [f'"{name}"' for name in suggestions]
    return f"Did you mean {listed(quoted)}?" if quoted else ""


def _colours(entry: Entry, seats: Sequence[Seat]) -> Iterator[ExpanderError]:
    """A technique or mute that none of the players named can have."""
    families = {seat.instrument.family for seat in seats}
    for key, name in (("as", entry.technique), ("mute", entry.mute)):
        technique = techniques().get(name)
        if not technique or not families or _fits(technique, families):
            continue
        whose = listed(technique.families, last="and")
        fault = f'{key}: "{name}" is for {whose}, not for {listed(entry.by, last="and")}.'
        spot = entry.spots.get(key) or entry.spots.get("as", entry.at)  # as: may name a mute
        yield ExpanderError(fault, at=spot)


def _fits(technique: Technique, families: set[str]) -> bool:
    return not technique.families or not families.isdisjoint(technique.families)
