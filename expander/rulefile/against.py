"""Rules held against a line-up and a sketch: every name in them has to exist."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator

from expander.errors import ExpanderError, Spot
from expander.model.instrument import Ensemble
from expander.model.rules import Entry, Rules, SketchFacts, Spots
from expander.rulefile.in_sketch import form_mistakes, section_mistakes, strand_mistakes
from expander.rulefile.nearest import listed, meant
from expander.rulefile.techniques import techniques

Resolve = Callable[[str], object]
"""Takes a name of the line-up; raises LookupError, with `suggestions` if any, for another."""


def check_against(
    rules: Rules,
    ensemble: Ensemble | None,
    sketch: SketchFacts,
    *,
    resolve: Resolve | None = None,
    voicings: Collection[str] = (),
    approaches: Collection[str] = (),
) -> list[ExpanderError]:
    """Every name in the rules that the line-up or the sketch does not have, in order of place.

    `resolve` says whether the line-up has a name; without it the groups of `ensemble` do. With
    neither, players are not checked. `voicings` and `approaches` are the names known; empty ones
    are not checked. Overlapping sections are mistakes too, and a technique that none of the
    players named can do.
    """
    found = [
        *form_mistakes(rules, sketch),
        *section_mistakes(rules, sketch),
        *strand_mistakes(rules, sketch, voicings, approaches),
        *_players(rules, ensemble, resolve or _lookup(ensemble)),
    ]
    return sorted(found, key=_order)


def _order(mistake: ExpanderError) -> tuple[int, int]:
    return (mistake.at.line, mistake.at.column) if mistake.at else (0, 0)


def _lookup(ensemble: Ensemble | None) -> Resolve:
    """Whether a name is a group of the line-up; every name is where there is no line-up."""

    def resolve(name: str) -> None:
        if ensemble and name.casefold() not in {group.casefold() for group in ensemble.groups}:
            raise LookupError(name)

    return resolve


def _players(rules: Rules, ensemble: Ensemble | None, resolve: Resolve) -> Iterator[ExpanderError]:
    groups = list(ensemble.groups) if ensemble else []
    for entry in (entry for entries in rules.plan.values() for entry in entries):
        mistakes = list(_names("by", entry.by, entry.spots, entry.at, resolve, groups))
        yield from mistakes
        if ensemble and not mistakes:
            yield from _colours(entry, ensemble)
    yield from _names("keyless", rules.keyless, rules.spots, None, resolve, groups)


def _names(
    key: str,
    names: Iterable[str],
    spots: Spots,
    at: Spot | None,
    resolve: Resolve,
    groups: Collection[str],
) -> Iterator[ExpanderError]:
    for index, name in enumerate(names):
        try:
            resolve(name)
        except LookupError as error:
            fault = f'{key}: "{name}" is no player, section, family or group of the line-up.'
            suggestions = list(getattr(error, "suggestions", ()))
            hint = _several(name) or _or_else(suggestions) or meant(name, groups)
            yield ExpanderError(fault, at=spots.get(f"{key}.{index}", at), hint=hint)


def _several(name: str) -> str:
    return f"A list of players goes in square brackets: [{name}]." if "," in name else ""


def _or_else(suggestions: Collection[str]) -> str:
    quoted = [f'"{name}"' for name in suggestions]
    return f"Did you mean {listed(quoted)}?" if quoted else ""


def _colours(entry: Entry, ensemble: Ensemble) -> Iterator[ExpanderError]:
    """A technique or mute that none of the players named can have."""
    families = _families(entry, ensemble)
    for key, name in (("as", entry.technique), ("mute", entry.mute)):
        technique = techniques().get(name)
        fits = technique is None or not technique.families or families & {*technique.families}
        if technique and families and not fits:
            whose = listed(technique.families, last="and")
            fault = f'{key}: "{name}" is for {whose}, not for {listed(entry.by, last="and")}.'
            yield ExpanderError(fault, at=entry.spots.get(key, entry.at))


def _families(entry: Entry, ensemble: Ensemble) -> set[str]:
    return {
        instrument.family
        for name in entry.by
        for player in ensemble.groups.get(name, ())
        for instrument in ensemble.players[player].instruments
    }
