"""A first plan by register, for a sketch without rules: every note goes to somebody.

Singers sing what has words. The accompaniment is dealt from the top down over the core of the
line-up (the strings where there are sections of them, else everybody); woodwind and horns double
it, the heavy brass joins where the sketch is loud (more players for louder: common practice).
A lead sheet, one line with chord symbols, has its chords played and held by others.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise
from statistics import median

from msgspec.structs import replace

from expander.model.dynamics import LEVELS, level_after
from expander.model.instrument import Ensemble, Player
from expander.model.pitch import Drum
from expander.model.plan import Events, Strand
from expander.model.rules import Entry, Passage, Rules, StrandRule
from expander.model.score import Sections, Sketch, staves_of
from expander.plan.form import sections
from expander.plan.lead_sheet import has_symbols, held_chords, kept_time, time_keepers
from expander.plan.partition import (
    PLENTY,
    Unit,
    Wanting,
    doubtful,
    from_high_to_low,
    is_chordal,
    partition,
    still_wanting,
)
from expander.plan.strands import take

EVERYWHERE = "all"
LOUD = LEVELS.index("f")
SMALL = 8
"""Line-ups of up to so many players have everybody in the core."""

SUNG = 0.3
"""Share of notes with words from which a staff counts as sung; letters over chords stay below."""

_LAYERS = ("upper", "lower", "third", "fourth")

DRUM_SET = "drum-set"

_HEAVY = frozenset({"trumpets", "trombones", "tubas", "cornets", "flugelhorns", "euphoniums"})


def default_rules(sketch: Sketch, ensemble: Ensemble, given: Rules | None = None) -> Rules:
    """Rules with a plan for every staff. Strands and form already `given` are kept and used."""
    given = given or Rules()
    form = sections(sketch, given.form)
    units = _units(sketch, given)
    singers = [i for i, p in enumerate(ensemble.players) if p.instrument.family == "voice"]
    sung, played = _sung_and_played(units, singers, ensemble)
    strands = {u.rule.name: u.rule for u in (*sung, *units)}
    entries: list[tuple[str, Entry]] = []
    for rule, entry in _by_singers(sung, singers, ensemble):
        strands.setdefault(rule.name, rule)
        entries.append((EVERYWHERE, entry))
    by_name, played = _by_name(played, sketch, ensemble)
    entries += [(EVERYWHERE, e) for e in by_name]
    if not given.strands and _is_lead_sheet(units, sketch):
        busy = {i for _, entry in entries for name in entry.by for i in ensemble.groups[name]}
        chords, played = _around_the_tune(played, busy, strands, sketch, ensemble)
        strands |= {rule.name: rule for rule, _ in chords}
        entries += [(EVERYWHERE, entry) for _, entry in chords]
    drums = [u for u in played if not u.pitched]
    for rule, entry in _by_drums(drums, sketch, ensemble):
        strands.setdefault(rule.name, rule)
        entries.append((EVERYWHERE, entry))
    pitched = _from_the_top([u for u in played if u.pitched])
    dealt: list[tuple[str, Entry]] = []
    tight: set[str] = set()
    wanting: Wanting | None = None
    for choir, where in _choirs(sketch, ensemble, form):
        shares = partition(pitched, choir, ensemble, wanting)
        wanting = still_wanting(wanting, shares, ensemble)
        for group, players in shares:
            rule = _together(group)
            strands.setdefault(rule.name, rule)
            entry = Entry(rule.name, _names(players, ensemble), fit="octave")
            dealt += [(section, entry) for section in where]
        tight |= doubtful(shares, ensemble)
    by_hands = _by_keyboard(pitched, tight, sketch, ensemble)
    entries += [*((EVERYWHERE, e) for e in by_hands), *dealt]
    plan: dict[str, tuple[Entry, ...]] = {}
    for section, entry in entries:
        plan[section] = (*plan.get(section, ()), entry)
    used = {e.play for _, e in entries}
    named = {name: rule for name, rule in strands.items() if name in used or name in given.strands}
    passages = given.form or {name: Passage(mark=name) for name, bars in form.items() if bars}
    return replace(given, form=passages, strands=named, plan=plan)


# -- what the sketch holds -----------------------------------------------------------------------


def _units(sketch: Sketch, given: Rules) -> list[Unit]:
    rules = list(given.strands.values()) or _staff_rules(sketch)
    taken = [(rule, take(sketch, rule)) for rule in rules if rule.staff and not rule.repeat]
    return [_unit(rule, strand) for rule, strand in taken if strand.bars]


def _staff_rules(sketch: Sketch) -> list[StrandRule]:
    """A strand for each staff, named after its part."""
    names: list[str] = []
    for address in staves_of(sketch):
        part = sketch.parts[address.part]
        base = _plain(part.name) or f"staff {address.number}"
        if part.staves > 1:
            base += f" {('upper', 'lower')[address.staff - 1]}" if part.staves == 2 else (
                f" {address.staff}"
            )  # fmt: skip
        names.append(base)
    return [StrandRule(_unique(names, index), staff=index + 1) for index in range(len(names))]


def _plain(name: str) -> str:
    words = "".join(c if c.isalnum() else " " for c in name.lower()).split()
    return " ".join(words)


def _unique(names: Sequence[str], index: int) -> str:
    name = names[index]
    if names.count(name) == 1:
        return name
    return f"{name} {names[: index + 1].count(name)}"


def _unit(rule: StrandRule, strand: Strand) -> Unit:
    layers = [layer for bar in strand.bars.values() for layer in bar]
    events = [e for layer in layers for e in layer if e.notes]
    heights = [
        float(n.pitch.semitone) for e in events for n in e.notes if not isinstance(n.pitch, Drum)
    ]
    with_words = sum(1 for e in events if e.lyrics)
    depths = {bar: _at_once(layers) for bar, layers in strand.bars.items()}
    return Unit(
        rule,
        depth=max(depths.values(), default=1),
        middle=median(heights) if heights else 60.0,
        sung=bool(events) and with_words >= SUNG * len(events),
        pitched=bool(heights),
        depths=depths,
    )


def _at_once(layers: Sequence[Events]) -> int:
    """The most notes that sound together in a bar; a grace takes no time from another."""
    if len(layers) == 1:
        return max([len(e.notes) for e in layers[0]], default=0)
    sounding = [[e for e in layer if e.notes] for layer in layers]
    events = [e for layer in sounding for e in layer]
    if sum(map(bool, sounding)) <= 1 and all(
        before.at < before.end <= event.at for before, event in pairwise(events)
    ):
        return max((len(e.notes) for e in events), default=0)
    return max(
        sum([len(e.notes) for e in events if e.at <= one.at < e.end])
        if one.duration
        else len(one.notes)
        for one in events
    )


def _sung_and_played(
    units: Sequence[Unit], singers: Sequence[int], ensemble: Ensemble
) -> tuple[list[Unit], list[Unit]]:
    """What the singers there are can take, and what the others play.

    A choir alone sings everything; fewer singers have the staves that are sung for longest. Where
    a staff has more notes than there are singers, they sing its highest line and the whole staff
    is played as well.
    """
    if len(singers) == len(ensemble.players):
        return list(units), []
    longest = sorted((u for u in units if u.sung), key=lambda u: -len(u.depths))[: len(singers)]
    sung = [u for u in units if u in longest]
    room = {id(u): len(singers) // len(sung) for u in sung}
    full = [u for u in sung if u.depth > room[id(u)]]
    played = [u for u in units if u not in sung or u in full]
    return [_top_of(u) if u in full else u for u in sung], played


def _top_of(unit: Unit) -> Unit:
    rule = replace(unit.rule, name=f"{unit.rule.name} melody", notes="highest")
    return replace(unit, rule=rule, depth=1)


def _from_the_top(units: Sequence[Unit]) -> list[Unit]:
    return sorted(units, key=lambda u: (-u.middle, u.rule.staff))


def _by_name(
    units: Sequence[Unit], sketch: Sketch, ensemble: Ensemble
) -> tuple[list[Entry], list[Unit]]:
    """Staves that bear the name of a player of the line-up go to that player.

    Only where all do: a sketch that is no score for such players goes by register.
    """
    staves = staves_of(sketch)
    players = {_stem(p.name): p.name for p in ensemble.players if _melodic(p)}
    found = {
        id(u): players.get(_stem(_plain(sketch.parts[staves[u.rule.staff - 1].part].name)))
        for u in units
    }
    if not units or not all(found.values()):
        return [], list(units)
    return [Entry(u.rule.name, (str(found[id(u)]),), fit="octave") for u in units], []


_NUMBERS = {"i": "1", "ii": "2", "iii": "3", "iv": "4"}
_SAME = {"violoncello": "cello", "contrabass": "double bass", "contrabasse": "double bass"}


def _stem(name: str) -> str:
    """A player's name without plural endings and with plain numbers: "violins 1", "Violin I"."""
    words = [_NUMBERS.get(word, word) for word in name.lower().split()]
    singular = [word[:-1] if word.endswith("s") and len(word) > 4 else word for word in words]
    joined = " ".join("bass" if word in ("basse", "bas") else word for word in singular)
    return _SAME.get(joined, joined)


# -- lead sheets ---------------------------------------------------------------------------------


def _is_lead_sheet(units: Sequence[Unit], sketch: Sketch) -> bool:
    return len(units) == 1 and units[0].pitched and units[0].depth <= 2 and has_symbols(sketch)


def _around_the_tune(
    played: list[Unit],
    busy: Collection[int],
    taken: Collection[str],
    sketch: Sketch,
    ensemble: Ensemble,
) -> tuple[list[tuple[StrandRule, Entry]], list[Unit]]:
    """Time and held chords; a tune that nobody has yet is the highest player's. What is left."""
    readers = time_keepers(ensemble)
    found = kept_time(_names(readers, ensemble), taken)
    core, _ = _choirs(sketch, ensemble, {})[0]
    free = from_high_to_low([i for i in core if i not in readers and i not in busy], ensemble)
    leaders = free[: len(played)]
    tunes = [(u.rule, Entry(u.rule.name, _names(leaders, ensemble), fit="octave")) for u in played]
    holders = _quiet([i for i in free if i not in leaders], ensemble)
    found += held_chords(holders, _names(holders, ensemble), taken)
    return (found + tunes, []) if leaders else (found, played)


def _quiet(players: Sequence[int], ensemble: Ensemble) -> list[int]:
    """The players without the heavy brass, where others are left to make a chord."""
    light = [i for i in players if ensemble.players[i].instrument.section not in _HEAVY]
    return light if len(light) > 2 else list(players)


# -- who plays -----------------------------------------------------------------------------------


def _by_singers(
    sung: Sequence[Unit], singers: Sequence[int], ensemble: Ensemble
) -> list[tuple[StrandRule, Entry]]:
    shares = partition(_from_the_top(sung), singers, ensemble)
    found = [(_together(group), _names(players, ensemble)) for group, players in shares]
    return [(rule, Entry(rule.name, names, fit="octave")) for rule, names in found]


def _by_drums(
    drums: Sequence[Unit], sketch: Sketch, ensemble: Ensemble
) -> list[tuple[StrandRule, Entry]]:
    """The drum set takes the drums, else players of unpitched percussion, a layer each."""
    players = [index for index, p in enumerate(ensemble.players) if not p.instrument.pitched]
    sets = [i for i in players if ensemble.players[i].instrument.id == DRUM_SET]
    names = [ensemble.players[i].name for i in sets[:1] or players]
    return [
        (rule, Entry(rule.name, (name,)))
        for unit in drums
        for rule, name in zip(_drum_lines(unit.rule, sketch, len(names)), names, strict=False)
    ]


def _drum_lines(rule: StrandRule, sketch: Sketch, players: int) -> list[StrandRule]:
    """A staff of drums by its layers, the hands above the feet, where several can share it."""
    layers = len(staves_of(sketch)[rule.staff - 1].layers)
    if min(layers, players) < 2 or rule.layer or rule.more_staves or rule.notes != "all":
        return [rule]
    return [
        replace(rule, name=f"{rule.name} {name}", layer=layer)
        for layer, name in enumerate(_LAYERS[:layers], start=1)
    ]


def _by_keyboard(
    units: Sequence[Unit], tight: Collection[str], sketch: Sketch, ensemble: Ensemble
) -> list[Entry]:
    """In a small band the keyboard holds everything together.

    It has the staves written for two hands and those that are `tight` for others, or every staff
    where none are for two hands. With a drum set, in bands of any size, it has those for two hands.
    """
    keyboards = _keyboards(ensemble)[:1]
    small = len(ensemble.players) <= SMALL
    if not keyboards or not (small or _has_drum_set(ensemble)):
        return []
    staves = staves_of(sketch)
    for_hands = [u for u in units if sketch.parts[staves[u.rule.staff - 1].part].staves > 1]
    names = _names(keyboards, ensemble)
    return [
        Entry(unit.rule.name, names, fit="octave")
        for unit in units
        if unit in for_hands or (small and (not for_hands or unit.rule.name in tight))
    ]


def _choirs(
    sketch: Sketch, ensemble: Ensemble, form: Sections
) -> list[tuple[list[int], list[str]]]:
    """Groups of players who each play the whole accompaniment, with the sections they play in."""
    playing = [i for i, p in enumerate(ensemble.players) if _melodic(p)]
    core = [i for i in playing if ensemble.players[i].instrument.family == "strings"]
    chordal = [i for i, p in enumerate(ensemble.players) if is_chordal(p)]
    if len(core) < 4 or len(playing) <= SMALL:
        return [(playing or chordal, [EVERYWHERE])]
    others = [i for i in playing if i not in core]
    heavy = [i for i in others if ensemble.players[i].instrument.section in _HEAVY]
    light = [i for i in others if i not in heavy]
    loud = [name for name, bars in form.items() if _is_loud(sketch, bars)]
    found = [(core, [EVERYWHERE]), (light, [EVERYWHERE]), (heavy, loud)]
    return [(players, where) for players, where in found if players and where]


def _melodic(player: Player) -> bool:
    one = player.instrument
    return one.pitched and one.family in ("woodwind", "brass", "strings")


def _has_drum_set(ensemble: Ensemble) -> bool:
    return any(p.instrument.id == DRUM_SET for p in ensemble.players)


def _keyboards(ensemble: Ensemble) -> list[int]:
    return [i for i, p in enumerate(ensemble.players) if p.instrument.family == "keyboard"]


def _is_loud(sketch: Sketch, bars: range) -> bool:
    return any(
        level in LEVELS and LEVELS.index(level) >= LOUD and level != "n"
        for part in sketch.parts
        for index in bars
        for direction in part.bars[index].directions
        if (level := level_after(direction))
    )


def _together(group: Sequence[Unit]) -> StrandRule:
    """One strand for several staves that share players."""
    if len(group) == 1:
        return group[0].rule
    staves = sorted(n for u in group for n in (u.rule.staff, *u.rule.more_staves))
    name = " and ".join(u.rule.name for u in sorted(group, key=lambda u: u.rule.staff))
    return StrandRule(name, staff=staves[0], more_staves=tuple(staves[1:]))


def _names(players: Sequence[int], ensemble: Ensemble) -> tuple[str, ...]:
    """Names for players: groups where a whole group is meant, else one by one."""
    left = list(players)
    found: list[str] = []
    by_size = sorted(ensemble.groups.items(), key=lambda item: (-len(item[1]), item[0]))
    for name, members in by_size:
        if len(members) > 1 and set(members) <= set(left):
            found.append(name)
            left = [i for i in left if i not in members]
    found += [ensemble.players[i].name for i in left]
    order = {name: min(ensemble.groups.get(name, (PLENTY,))) for name in found}
    return tuple(sorted(found, key=lambda name: order[name]))
