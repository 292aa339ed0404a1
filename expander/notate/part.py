"""One stave of the line-up as a written part."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import chain, groupby

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Ensemble, Instrument, Player, Stave
from expander.model.pitch import Written
from expander.model.plan import Events, Line
from expander.model.rules import Technique
from expander.model.score import (
    Change,
    Clef,
    Direction,
    Harmony,
    LayerId,
    Mark,
    Part,
    PartBar,
    Sound,
)
from expander.notate import clefs, crossing
from expander.notate.attribution import Said, Speaker, with_voices
from expander.notate.colours import Colours, colours, words
from expander.notate.lanes import Lane, lanes_of
from expander.notate.legend import legend
from expander.notate.loudness import Loudness
from expander.notate.merging import merged
from expander.notate.numbers import renumbered
from expander.notate.places import in_clefs
from expander.notate.readings import Reader, Reading
from expander.notate.sharing import (
    Sharer,
    Sharing,
    first_tick,
    section_label,
    voice_labels,
    wind_label,
)
from expander.notate.spanners import Mender
from expander.notate.spelling import WrittenEvents, written_harmony
from expander.notate.system import System
from expander.notate.turns import Turning

VOICES_PER_STAFF = 4
SILENT: tuple[Events, ...] = ((),)
"""The one voice of a bar in which nobody plays."""


class Shop(Struct, frozen=True):
    """The tools that all parts are made with; they remember what they have made."""

    system: System
    reader: Reader
    loudness: Loudness
    turning: Turning
    mender: Mender
    sharer: Sharer
    techniques: Mapping[str, Technique]


class _Staff(Struct, frozen=True):
    """One staff of the part: its lanes, what each bar shows, and its marks."""

    number: int
    lanes: tuple[Lane, ...]
    shared: Mapping[int, Sharing]
    directions: Mapping[int, list[Direction]]


def make_part(
    number: int,
    stave: Stave,
    ensemble: Ensemble,
    lines: Sequence[Line],
    shop: Shop,
    *,
    on_top: bool,
    symbols: bool,
) -> Part[Written]:
    """The written part of a stave.

    `number` gives its id. `on_top` parts carry tempo, rehearsal marks and jumps; those with
    `symbols` or slashes the chord symbols.
    """
    name = f"P{number}"
    player = ensemble.players[stave.players[0]]
    lanes = [_mended(lane, shop) for lane in lanes_of(stave, lines, ensemble)]
    used = _instruments(player.instruments, lanes)
    sounds = _sounds(name, used, player.size)
    followed = _colours(lanes, player.instrument, shop, sounds, used)
    in_hand = _in_hand(player.instrument, followed)
    count = max(i.staves for i in used)
    voiced = [
        _speakers(lanes, [each.directions for each in followed]),
        _speakers(lanes, _told(lanes, stave, player, shop)),
    ]
    staves = [_staff(place, voiced, stave, ensemble, shop) for place in range(1, count + 1)]
    readings = shop.reader.readings(in_hand, _note_sounds(used, sounds))
    written = [_written(staff, readings, shop) for staff in staves]
    if crossing.anywhere(written):
        keys = [
            (r.spelling.shown, shop.reader.keys_inside(bar, r)) for bar, r in enumerate(readings)
        ]
        written = crossing.with_accidentals_across(written, keys)
    marks = _clef_changes(staves, crossing.as_drawn(written), readings)
    slashes = any(lane.slashes for lane in lanes)
    if slashes:
        written = [*in_clefs(written, marks)]
    layers = renumbered([tuple(chain(*rows)) for rows in zip(*written, strict=True)])
    system = shop.system
    changes = shop.reader.changes(readings, marks, count)
    directions = _directions(staves, system.directions if on_top else {})
    playback = system.sounds if number == 1 else {}
    bars = [
        PartBar(
            layers=music,
            changes=changes.get(bar, ()),
            directions=directions.get(bar, ()),
            harmonies=_harmonies(bar, readings[bar], shop, count) if symbols or slashes else (),
            barlines=system.barlines.get(bar, ()),
            carried=playback.get(bar, ()),
        )
        for bar, music in enumerate(layers)
    ]
    ids = _layer_ids(written)
    return Part(name, stave.label, stave.short, count, ids, tuple(bars), sounds)


def _mended(lane: Lane, shop: Shop) -> Lane:
    return replace(lane, bars=shop.mender.mended(lane.bars, lane.material))


def _instruments(own: tuple[Instrument, ...], lanes: Sequence[Lane]) -> tuple[Instrument, ...]:
    """The first instrument and those really played, in the player's order."""
    played = {p.instrument.id for lane in lanes for pieces in lane.pieces.values() for p in pieces}
    return tuple(i for place, i in enumerate(own) if place == 0 or i.id in played)


def _sounds(part: str, used: Sequence[Instrument], size: int) -> tuple[Sound, ...]:
    """The playback sounds of a part: one for each instrument, or for each drum.

    A section of so many players says its size.
    """
    section = (Mark("score-instrument", "ensemble", (), str(size)),) if size > 1 else ()
    found: list[Sound] = []
    for instrument in used:
        if instrument.drum_keys and not instrument.pitched:
            found += [
                Sound(f"{part}-I{len(found) + 1 + i}", drum.capitalize(), instrument.sound, key=key)
                for i, (drum, key) in enumerate(instrument.drum_keys)
            ]
        else:
            found.append(
                Sound(f"{part}-I{len(found) + 1}", instrument.name, instrument.sound,
                      instrument.program, carried=section)
            )  # fmt: skip
    return tuple(found)


def _note_sounds(
    used: Sequence[Instrument], sounds: Sequence[Sound]
) -> Mapping[str, tuple[tuple[str, str], ...]]:
    """For each instrument, what its notes name: nothing where the part has one sound only."""
    if len(sounds) == 1:
        return {}
    waiting = list(sounds)
    found: dict[str, tuple[tuple[str, str], ...]] = {}
    for instrument in used:
        names = [name for name, _ in instrument.drum_keys] if not instrument.pitched else []
        taken = [waiting.pop(0) for _ in names or [""]]
        labels = names or [""]
        found[instrument.id] = tuple((n, s.id) for n, s in zip(labels, taken, strict=True))
    return found


def _colours(
    lanes: Sequence[Lane],
    first: Instrument,
    shop: Shop,
    sounds: Sequence[Sound],
    used: Sequence[Instrument],
) -> list[Colours]:
    ids = {i.id: pairs[0][1] for i in used for pairs in [_note_sounds(used, sounds).get(i.id, ())]
           if pairs}  # fmt: skip
    return [
        each
        for _, mine in groupby(lanes, key=lambda lane: lane.player)
        for each in colours([*mine], first, shop.system.bars, shop.techniques, ids, shop.turning)
    ]


def _in_hand(first: Instrument, followed: Sequence[Colours]) -> dict[int, Instrument]:
    """The instrument in hand from each bar at which it changes."""
    found = {0: first}
    for each in followed:
        found.update(each.instruments)
    return dict(sorted(found.items()))


"""Directions by bar."""


def _staff(
    place: int,
    voiced: Sequence[Sequence[Speaker]],
    stave: Stave,
    ensemble: Ensemble,
    shop: Shop,
) -> _Staff:
    """Bring the lanes of one staff together, with the directions of each."""
    mine = [[one for one in row if one.lane.staff == place] for row in voiced]
    lanes = [one.lane for one in mine[0]]
    section = len(stave.players) == 1
    alone = section and ensemble.players[stave.players[0]].size == 1
    shared = shop.sharer.share([lane.bars for lane in lanes], section=section, alone=alone)
    directions = _labels(shared, lanes, stave, ensemble)
    for bar, names in legend(lanes).items():
        directions.setdefault(bar, []).extend(names)
    first = VOICES_PER_STAFF * (place - 1) + 1
    for table in (table for row in mine for table in with_voices(row, shared, first)):
        for bar, marks in table.items():
            directions.setdefault(bar, []).extend(marks)
    return _Staff(place, tuple(lanes), shared, directions)


def _told(
    lanes: Sequence[Lane], stave: Stave, player: Player, shop: Shop
) -> list[dict[int, list[Direction]]]:
    """What each lane is told; those of one player's hands together."""
    if len(stave.players) == 1 and player.size == 1:
        return shop.loudness.of_hands(lanes)
    return [shop.loudness.directions(lane) for lane in lanes]


def _speakers(lanes: Sequence[Lane], said: Sequence[Said]) -> list[Speaker]:
    """Lanes with what each says, and what it has still to say where others say the same."""
    return [
        Speaker(lane, own, everything)
        for lane, own, everything in zip(lanes, merged(said), said, strict=True)
    ]


def _labels(
    shared: Mapping[int, Sharing], lanes: Sequence[Lane], stave: Stave, ensemble: Ensemble
) -> dict[int, list[Direction]]:
    """Who plays, at each change: "1.", "a 2" and the like; "div." and "unis." for sections."""
    several = len(stave.players) > 1
    section = not several and ensemble.players[stave.players[0]].size > 1
    if not several and not section:
        return {}
    numbers = [_number(ensemble.players[p].name, i) for i, p in enumerate(stave.players)]
    found: dict[int, list[Direction]] = {}
    said: tuple[str, ...] = ("",) if several else ("unis.",)
    shown, everybody = "", " ".join(f"{number}." for number in numbers)
    for bar, sharing in shared.items():
        if not sharing.playing:
            continue
        if several:
            in_force = "" if shown == everybody else shown
            labels = _said_of(_owned(sharing, lanes), numbers, in_force)
        else:
            labels = (section_label(sharing),)
        if any(labels) and labels != said:
            found[bar] = list(_placed(labels, first_tick(sharing)))
            shown = " / ".join(labels)
        said = labels
    return found


def _owned(sharing: Sharing, lanes: Sequence[Lane]) -> Sharing:
    """With the places of owners for those of lanes."""
    return replace(
        sharing,
        playing=tuple([lanes[i].owner for i in sharing.playing]),
        owners=tuple([tuple([lanes[i].owner for i in own]) for own in sharing.owners]),
    )


def _said_of(sharing: Sharing, numbers: Sequence[str], in_force: str) -> tuple[str, ...]:
    """The label of a stave of winds, or one for each voice; `in_force` is what it has to end."""
    return voice_labels(sharing, numbers) or (wind_label(sharing, numbers, in_force),)


def _placed(labels: Sequence[str], tick: int) -> Iterator[Direction]:
    """A label above the stave; of several, one for each voice, the last below."""
    for place, label in enumerate(labels):
        below = place > 0 and place == len(labels) - 1
        yield replace(words(label, tick), placement="below" if below else "above")


def _number(name: str, place: int) -> str:
    found = re.search(r"(\d+)\s*$", name)
    return found.group(1) if found else str(place + 1)


def _written(
    staff: _Staff, readings: Sequence[Reading], shop: Shop
) -> list[tuple[WrittenEvents, ...]]:
    """The engraved voices of each bar, every bar with as many layers as the fullest one."""
    most = max([len(s.voices) for s in staff.shared.values()], default=1)
    rows: list[tuple[WrittenEvents, ...]] = []
    for bar, reading in enumerate(readings):
        sharing = staff.shared.get(bar)
        voices = sharing.voices if sharing else SILENT
        engraved = reading.manner.staff(voices, shop.reader.keys_inside(bar, reading))
        if sharing and sharing.hidden:
            engraved = tuple(() if i in sharing.hidden else e for i, e in enumerate(engraved))
        if len(engraved) < most:
            engraved = (*engraved, *((),) * (most - len(engraved)))
        rows.append(engraved)
    return rows


def _layer_ids(written: Sequence[Sequence[tuple[WrittenEvents, ...]]]) -> tuple[LayerId, ...]:
    """Voices counted through the part, each staff beginning after a multiple of four."""
    found: list[LayerId] = []
    first = 1
    for staff, rows in enumerate(written):
        count = len(rows[0]) if rows else 1
        found += [LayerId(staff + 1, str(first + voice)) for voice in range(count)]
        first += VOICES_PER_STAFF * -(-count // VOICES_PER_STAFF)
    return tuple(found)


def _clef_changes(
    staves: Sequence[_Staff],
    written: Sequence[Sequence[tuple[WrittenEvents, ...]]],
    readings: Sequence[Reading],
) -> dict[int, list[Change]]:
    """The clefs by bar: chosen for each stretch with one instrument in hand."""
    found: dict[int, list[Change]] = {}
    for staff, rows in zip(staves, written, strict=True):
        before: Clef | None = None
        for start, stop in _stretches(readings):
            clef_habits = readings[start].instrument.clefs
            habits = clef_habits[min(staff.number, len(clef_habits)) - 1]
            chosen = clefs.chosen(rows[start:stop], habits)
            for bar, clef in enumerate(chosen, start):
                if clef != before:
                    found.setdefault(bar, []).append(Change(0, clef, staff.number))
                before = clef
    return found


def _stretches(readings: Sequence[Reading]) -> list[tuple[int, int]]:
    edges = [0]
    for bar in range(1, len(readings)):
        if readings[bar].instrument is not readings[bar - 1].instrument:
            edges.append(bar)
    return list(zip(edges, [*edges[1:], len(readings)], strict=True)) if readings else []


def _directions(
    staves: Sequence[_Staff], system: Mapping[int, Sequence[Direction]]
) -> dict[int, tuple[Direction, ...]]:
    """The marks of the system and of each staff by bar, in order of time."""
    found = {bar: list(marks) for bar, marks in system.items()}
    for staff in staves:
        number = staff.number if len(staves) > 1 else 0
        for bar, marks in staff.directions.items():
            found.setdefault(bar, []).extend([replace(d, staff=number) for d in marks])
    return {bar: tuple(sorted(marks, key=lambda d: d.at)) for bar, marks in found.items()}


def _harmonies(bar: int, reading: Reading, shop: Shop, staves: int) -> tuple[Harmony[Written], ...]:
    """The chord symbols of a bar, over the first of several staves."""
    symbols = [
        written_harmony(symbol, reading.spelling.interval)
        for symbol in shop.system.harmonies.get(bar, ())
    ]
    return tuple([replace(s, staff=1) for s in symbols] if staves > 1 else symbols)
