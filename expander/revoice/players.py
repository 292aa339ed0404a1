"""The players' music as a sketch of one stave a line, with rules that give each its stave.

A player who changes colour (pizzicato, a mute) has a stave for each colour, so that the rules can
say it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Ensemble, Instrument
from expander.model.pitch import Sounding
from expander.model.plan import Events
from expander.model.rules import Entry, StrandRule, Technique
from expander.model.score import Change, LayerId, Part, PartBar, Sketch
from expander.notate.system import system_of
from expander.revoice.lines import HARMONICS, PLAIN, Colour, FullScore, Line
from expander.revoice.marking import Directions, directions_for
from expander.revoice.seats import Seated
from expander.rulefile.techniques import find_technique

MUTED = "sordino"
"""What a mute without a name is to strings; brass take the straight one."""

STRAIGHT = "straight"


class Stave(Struct, frozen=True):
    """One stave of the players' sketch: whose it is, and in which colour it is played."""

    name: str
    player: str
    colour: Colour
    cells: Mapping[int, Events]
    directions: Directions


class Parted(Struct, frozen=True):
    """The staves, and the colours (part, bar, colour) that the new player does not have."""

    staves: tuple[Stave, ...]
    lost_colours: tuple[tuple[int, int, Colour], ...]


def staves_for(
    score: FullScore, lines: Sequence[Line], seats: Sequence[Seated], ensemble: Ensemble
) -> Parted:
    """A stave for every chair and colour, in score order."""
    staves: list[Stave] = []
    lost: dict[tuple[int, int], Colour] = {}
    for seat in seats:
        player = ensemble.players[seat.chair.player]
        numbers = {bar: given.line for bar, given in seat.given.items() if bar in seat.cells}
        directions = directions_for(score, lines, numbers, seat.cells, seat.chair.instrument)
        shares: dict[Colour, dict[int, Events]] = {}
        parts = {bar: lines[number].owner.part for bar, number in numbers.items()}
        asked = {bar: score.colours[part][bar] for bar, part in parts.items()}
        played = {bar: as_played(c, seat.chair.instrument) for bar, c in asked.items()}
        played = in_time(played, parts, score.seconds)
        for bar, cell in seat.cells.items():
            colour = played[bar]
            if _misses(asked[bar], colour) and not seat.given[bar].doubling:
                lost[parts[bar], bar] = asked[bar]
            shares.setdefault(colour, {})[bar] = cell
        for colour, cells in shares.items():
            own = {bar: marks for bar, marks in directions.items() if bar in cells}
            name = _name(player.name, seat.chair.desk, colour)
            staves.append(Stave(name, player.name, colour, cells, own))
    gone = tuple((part, bar, colour) for (part, bar), colour in sorted(lost.items()))
    return Parted(tuple(staves), gone)


MUTE_TIME = 8.0
"""Seconds that are enough for any change of mute: one off, another with its stem on."""


def in_time(
    played: Mapping[int, Colour], parts: Mapping[int, int], seconds: Sequence[float]
) -> dict[int, Colour]:
    """The colours without mutes for which there is no time to put them on or take them off.

    Where a mute changes within the music of one part, it is as the composer wrote it.
    """
    done = dict(played)
    while hurried := _hurried_run(done, parts, seconds):
        done |= {bar: replace(done[bar], mute="") for bar in hurried}
    return done


def _hurried_run(
    played: Mapping[int, Colour], parts: Mapping[int, int], seconds: Sequence[float]
) -> list[int]:
    """The first bars under one mute that there is no time for before or after, if any."""
    runs = [
        list(run) for _, run in groupby(sorted(played), key=lambda b: (played[b].mute, parts[b]))
    ]
    for place, run in enumerate(runs):
        edges = [(runs[place - 1][-1], run[0])] if place else []
        edges += [(run[-1], runs[place + 1][0])] if place + 1 < len(runs) else []
        if played[run[0]].mute and any(_hurried(a, b, played, parts, seconds) for a, b in edges):
            return run
    return []


def _hurried(
    before: int,
    after: int,
    played: Mapping[int, Colour],
    parts: Mapping[int, int],
    seconds: Sequence[float],
) -> bool:
    if parts[before] == parts[after] or played[before].mute == played[after].mute:
        return False
    return seconds[after] - seconds[before + 1] < MUTE_TIME


def _misses(asked: Colour, played: Colour) -> bool:
    """True where something of a colour is not carried over."""
    named = bool(asked.technique) and not played.technique
    return named or (bool(asked.mute) and not played.mute)


def _name(player: str, desk: int, colour: Colour) -> str:
    words = [player, f"({desk + 1})" if desk else "", colour.technique, colour.mute]
    return " ".join(w for w in words if w)


def as_played(asked: Colour, instrument: Instrument) -> Colour:
    """The colour on another instrument: technique and mute where it has them, by rules' names."""
    if asked == PLAIN:
        return PLAIN
    carried = asked.technique if asked.technique != HARMONICS else ""
    technique = find_technique(carried) if carried else None
    mute = _mute(asked.mute, instrument) if asked.mute else None
    return Colour(
        technique.id if technique and _has(technique, instrument) else "",
        mute.id if mute and _has(mute, instrument) else "",
    )


def _mute(name: str, instrument: Instrument) -> Technique | None:
    found = find_technique(name)
    if found and found.is_mute and _has(found, instrument):
        return found
    return find_technique(STRAIGHT if instrument.family == "brass" else MUTED)


def _has(technique: Technique, instrument: Instrument) -> bool:
    if technique.is_mute and not instrument.mutes:
        return False
    return not technique.families or instrument.family in technique.families


def with_staves(base: Sketch, staves: Sequence[Stave]) -> Sketch:
    """A sketch with the players' staves below those of `base`, which carries the system."""
    added = tuple(_part(base, index, stave) for index, stave in enumerate(staves))
    return replace(base, parts=(*base.parts, *added), brackets=())


def bare_system(sketch: Sketch) -> Sketch:
    """A sketch of one silent stave that carries keys, barlines, tempo, marks and chord symbols."""
    system = system_of(sketch)
    keys: dict[int, list[Change]] = {}
    for one in system.keys:
        keys.setdefault(one.bar, []).append(Change(one.at, one.key))
    bars = tuple(
        PartBar(
            layers=((),),
            changes=tuple(keys.get(i, ())),
            directions=system.directions.get(i, ()),
            harmonies=system.harmonies.get(i, ()),
            barlines=system.barlines.get(i, ()),
            carried=system.sounds.get(i, ()),
        )
        for i in range(len(sketch.bars))
    )
    part: Part[Sounding] = Part("S0", "System", "", 1, (LayerId(1, "1"),), bars)
    drums = tuple(s for p in sketch.parts for s in p.sounds)
    return replace(sketch, parts=(replace(part, sounds=drums),), brackets=())


def _part(base: Sketch, index: int, stave: Stave) -> Part[Sounding]:
    bars = tuple(
        PartBar(
            layers=(stave.cells.get(i, ()),),
            directions=stave.directions.get(i, ()),
        )
        for i in range(len(base.bars))
    )
    return Part(f"R{index + 1}", stave.name, "", 1, (LayerId(1, "1"),), bars)


def rules_for(
    staves: Sequence[Stave], above: int
) -> tuple[dict[str, StrandRule], tuple[Entry, ...]]:
    """A strand for each stave and an entry that gives it to its player.

    `above` is how many staves of the sketch stand above the players'.
    """
    strands = {
        stave.name: StrandRule(stave.name, staff=above + 1 + i) for i, stave in enumerate(staves)
    }
    entries = tuple(
        Entry(
            stave.name,
            (stave.player,),
            technique=stave.colour.technique,
            mute=stave.colour.mute,
            fit="keep",
        )
        for stave in staves
    )
    return strands, entries
