"""The rule file that gives a short score back: each line to the players who had it, and how.

Conventions
    A *spot* is where a line's note stands in the short score: stave from 1, layer from 1 on it,
    and its place in the chord from the top (0: all notes of the layer).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from msgspec import Struct

from expander.model.dynamics import LEVELS, level_after
from expander.model.instrument import Player
from expander.model.pitch import Drum, Written
from expander.model.plan import Events
from expander.model.rules import Entry, Passage, Rules, StrandRule
from expander.model.score import Direction, Document, Event, Note
from expander.revoice.doubling import Group
from expander.revoice.lines import HARMONICS, FullScore, Line, heights
from expander.revoice.lineup import LineUp, line_up_of
from expander.revoice.players import as_played
from expander.revoice.short import Reduced, as_sketch
from expander.rulefile import Heading, facts_of, first_rules

ALL = 0
MOST_OCTAVES = 4
SEVERAL = 2


class Files(NamedTuple):
    """What goes to disk: the rule file, and its line-up's ("" where a shipped one is named).

    `untold` counts lines of a bar that the rules cannot give back.
    """

    rules: str
    line_up: str
    untold: int


class Spot(NamedTuple):
    """A place in the short score: stave, layer, and place in the chord."""

    staff: int
    layer: int
    note: int


class Share(NamedTuple):
    """What one player has from a spot: by name, octaves up, and in which colour."""

    spot: Spot
    octave: int
    name: str
    technique: str
    mute: str
    dynamic: str = ""


class Run(Struct):
    """A share over neighbouring bars."""

    share: Share
    first: int
    last: int


def files_for(reduced: Reduced, rules_file: str, line_up_file: str, sketch_file: str) -> Files:
    """The rule file of a reduction and its line-up, by the names they will have."""
    line_up = line_up_of(reduced.full)
    shares, untold = _shares(reduced, line_up)
    short = as_sketch(reduced.score)
    chords = _chords(reduced.score)
    runs = [_plain(run, chords) for run in _runs(shares, _occupied(shares))]
    strands, entries = _told(runs, [bar.number for bar in short.bars], reduced.staves)
    pitch = "concert" if reduced.full.sketch.header.concert_pitch else "transposed"
    name = line_up_file if line_up.text else line_up.ensemble.id
    rules = Rules(
        ensemble=name, pitch=pitch, strands=strands, plan={"all": entries}, file=rules_file
    )
    header = reduced.score.header
    heading = Heading(
        sketch=sketch_file,
        title=header.movement_title or header.work_title,
        players=tuple(player.name for player in line_up.ensemble.players),
    )
    return Files(first_rules(rules, facts_of(short), heading), line_up.text, untold)


# -- who has what from where -----------------------------------------------------------------------


def _shares(reduced: Reduced, line_up: LineUp) -> tuple[list[tuple[int, Share]], int]:
    """What every player has from where, bar by bar; and how many lines have no such place."""
    found: list[tuple[int, Share]] = []
    untold = 0
    seen = _Seen(reduced.score)
    chordal = {n.number: bool(reduced.owners) or most_at_once(n) > 1 for n in reduced.full.lines}
    loudness = Loudness(reduced)
    for bar, groups in enumerate(reduced.groups):
        places = seen.bar(bar)
        here: list[tuple[int, Share]] = []
        for group in groups:
            cell = reduced.full.lines[group.lead].cells[bar]
            spots = _spots(cell, places, chordal=chordal[group.lead])
            for number in group.everybody if spots else ():
                shares = _of_line(reduced.full, line_up, group, number, spots)
                here += [(number, share) for share in shares]
            untold += 0 if spots else len(group.everybody)
        found += [(bar, loudness.told(bar, number, share)) for number, share in here]
    return found, untold


class _Place(NamedTuple):
    staff: int
    layer: int
    note: int
    size: int


class _Seen:
    """Where each note of the original stands in the short score."""

    def __init__(self, score: Document) -> None:
        self._score = score

    def bar(self, bar: int) -> Mapping[int, _Place]:
        """By the numbers of the notes of a bar."""
        return {
            number: _Place(place + 1, layer + 1, rank + 1, len(event.notes))
            for place, part in enumerate(self._score.parts)
            for layer, events in enumerate(part.bars[bar].layers)
            for event in events
            for rank, head in enumerate(_from_the_top(event))
            for number in head.origins
        }


def _from_the_top(event: Event[Written]) -> list[Note[Written]]:
    return sorted(event.notes, key=lambda n: 0 if isinstance(n.pitch, Drum) else -n.pitch.semitone)


def most_at_once(line: Line) -> int:
    """The most notes that a line has in a chord."""
    return max(len(e.notes) for cell in line.cells.values() for e in cell)


def _spots(cell: Events, places: Mapping[int, _Place], *, chordal: bool) -> tuple[Spot, ...]:
    """The places that hold a line, from its top note down; none where it moves among others.

    Of a `chordal` line that has a layer to itself, it is the whole layer.
    """
    rows: list[list[_Place]] = []
    for event in cell:
        here = [places[n.origin] for n in event.notes if n.origin in places]
        if len(here) < len(event.notes):
            return ()
        rows += [sorted(here, key=lambda p: p.note)] if here else []
    layers = {(p.staff, p.layer) for row in rows for p in row}
    if len(layers) != 1:
        return ()
    staff, layer = next(iter(layers))
    if chordal and all(len(row) == row[0].size for row in rows):
        return (Spot(staff, layer, ALL),)
    notes = {tuple(p.note for p in row) for row in rows}
    return tuple(Spot(staff, layer, n) for n in next(iter(notes))) if len(notes) == 1 else ()


def _of_line(
    full: FullScore, line_up: LineUp, group: Group, number: int, spots: Sequence[Spot]
) -> Iterator[Share]:
    line, lead = full.lines[number], full.lines[group.lead]
    octave = _octave(line.cells[group.bar], lead.cells[group.bar])
    players = line_up.players[line.owner.part]
    instrument, label = full.hands.get((line.owner.part, group.bar), ("", ""))
    if spots[0].note == ALL:
        spots = _each_note(spots[0], line, [line_up.ensemble.players[p] for p in players])
    if not _known(full, line.owner.part, line_up.ensemble.players[players[0]].instrument.id):
        instrument = ""
    for spot, readers in _readers(full, line, group.bar, spots, players, label):
        for player in readers:
            name = line_up.name(player, instrument)
            colour = _colour(full, line, group.bar)
            yield Share(spot, octave, name, *colour)


def _known(full: FullScore, part: int, instrument: str) -> bool:
    """True where a part is somewhere read as for that instrument."""
    return any(key[0] == part and hand[0] == instrument for key, hand in full.hands.items())


def _octave(mine: Events, theirs: Events) -> int:
    one, other = heights(mine), heights(theirs)
    return (min(one) - min(other)) // 12 if one and other else 0


def _colour(full: FullScore, line: Line, bar: int) -> tuple[str, str]:
    colour = full.colours[line.owner.part][bar]
    if line.owner.instrument is None:
        return "", ""
    played = as_played(colour, line.owner.instrument)
    touched = colour.technique == HARMONICS
    return HARMONICS if touched else played.technique, played.mute


def _readers(
    full: FullScore,
    line: Line,
    bar: int,
    spots: Sequence[Spot],
    players: Sequence[int],
    label: str,
) -> Iterator[tuple[Spot, Sequence[int]]]:
    """Who of a part's players has each place: by layer, by note of the chord, by what is said."""
    if len(players) < SEVERAL:
        yield from ((spot, players) for spot in spots)
        return
    if len(spots) > 1:
        for rank, spot in enumerate(spots):
            yield spot, players[min(rank, len(players) - 1) :][:1]
        return
    mine = [o.number for o in full.lines if o.owner.part == line.owner.part and bar in o.cells]
    if len(mine) > 1:
        rank = min(mine.index(line.number), len(players) - 1)
        yield spots[0], players[rank:][:1]
        return
    alone = {"1.": 0, "solo": 0, "2.": 1, "3.": 2}.get(label)
    yield spots[0], players if alone is None else players[alone:][:1]


def _each_note(spot: Spot, line: Line, players: Sequence[Player]) -> Sequence[Spot]:
    """A whole layer note by note from the top, where its chords are more than a player's own."""
    notes = most_at_once(line)
    player = players[0]
    most = notes if player.size > 1 else player.instrument.at_once
    if len(players) < SEVERAL and (notes <= most or line.unpitched):
        return (spot,)
    return [spot._replace(note=n + 1) for n in range(max(notes, len(players)))]


# -- how loud --------------------------------------------------------------------------------------


class Loudness:
    """Which dynamics the entries have to say, because the stave does not say them to the player."""

    def __init__(self, reduced: Reduced) -> None:
        self._full = reduced.full
        self._score = reduced.score
        self._as_it_stands = bool(reduced.owners)
        self._known: dict[str, tuple[str, Spot | None]] = {}

    def told(self, bar: int, number: int, share: Share) -> Share:
        """The share with a dynamic, where the player would be told none, or another's."""
        line = self._full.lines[number]
        if self._as_it_stands:
            return share
        own = _levels(self._full.sketch.parts[line.owner.part].bars[bar].directions, line.staff)
        shown = _levels(self._score.parts[share.spot.staff - 1].bars[bar].directions, 1)
        first = next((e.at for e in line.cells[bar] if e.notes), 0)
        level = _level_at(own, first, self._full.said[line.owner.part][bar])
        known, spot = self._known.get(share.name, ("", None))
        goes_on = spot == share.spot and known == level
        needed = own != shown or (not own and (known != level or goes_on))
        after = _level_at(own, 1 << 30, level)
        self._known[share.name] = (after, share.spot if needed else None)
        return share._replace(dynamic=level) if needed else share


Levels = list[tuple[int, str]]


def _levels(directions: Sequence[Direction], staff: int) -> Levels:
    """Levels and hairpins of a stave's bar with their ticks."""
    return [
        (d.at, level_after(d) or mark.get("type"))
        for d in sorted(directions, key=lambda d: d.at)
        if (d.staff or 1) == staff
        for mark in d.marks
        if mark.name in ("dynamics", "wedge")
    ]


def _level_at(levels: Levels, tick: int, before: str) -> str:
    said = [name for at, name in levels if at <= tick and name in LEVELS]
    return said[-1] if said else before


# -- over how many bars ----------------------------------------------------------------------------


def _occupied(shares: Sequence[tuple[int, Share]]) -> Mapping[Spot, frozenset[int]]:
    """The bars in which there is something at each spot."""
    found: dict[Spot, set[int]] = {}
    for bar, share in shares:
        found.setdefault(share.spot, set()).add(bar)
    layers: dict[tuple[int, int], set[int]] = {}
    for spot, bars in found.items():
        layers.setdefault(spot[:2], set()).update(bars)
    return {
        spot: frozenset(
            layers[spot[:2]]
            if spot.note == ALL
            else found[spot] | found.get(spot._replace(note=ALL), set())
        )
        for spot in found
    }


def _runs(
    shares: Sequence[tuple[int, Share]], occupied: Mapping[Spot, frozenset[int]]
) -> list[Run]:
    """Each share over as many bars as it goes on; bars between in which nothing is there count."""
    bars: dict[Share, list[int]] = {}
    for bar, share in shares:
        row = bars.setdefault(share, [])
        if not row or row[-1] != bar:
            row.append(bar)
    found: list[Run] = []
    for share, row in bars.items():
        taken = occupied[share.spot]
        run = Run(share, row[0], row[0])
        for bar in row[1:]:
            if any(b in taken for b in range(run.last + 1, bar)):
                found.append(run)
                run = Run(share, bar, bar)
            run.last = bar
        found.append(run)
    return found


def _chords(score: Document) -> Mapping[tuple[int, int], frozenset[int]]:
    """The bars in which a layer, by stave and number, has chords."""
    found: dict[tuple[int, int], set[int]] = {}
    for place, part in enumerate(score.parts):
        for bar, content in enumerate(part.bars):
            for layer, events in enumerate(content.layers):
                if any(len(e.notes) > 1 for e in events):
                    found.setdefault((place + 1, layer + 1), set()).add(bar)
    return {layer: frozenset(bars) for layer, bars in found.items()}


def _plain(run: Run, chords: Mapping[tuple[int, int], frozenset[int]]) -> Run:
    """Where there are no chords, the first note of each is the whole layer."""
    spot = run.share.spot
    bars = chords.get((spot.staff, spot.layer), frozenset())
    if spot.note != 1 or not bars.isdisjoint(range(run.first, run.last + 1)):
        return run
    return Run(run.share._replace(spot=spot._replace(note=ALL)), run.first, run.last)


# -- in the words of a rule file -------------------------------------------------------------------


def _told(
    runs: Sequence[Run], labels: Sequence[str], staves: Sequence[str]
) -> tuple[dict[str, StrandRule], tuple[Entry, ...]]:
    """The strands, and who plays each: those who play it alike together."""
    together: dict[tuple[Spot, int, int], list[Share]] = {}
    for run in runs:
        together.setdefault((run.share.spot, run.first, run.last), []).append(run.share)
    strands: dict[str, StrandRule] = {}
    entries: list[Entry] = []
    for (spot, first, last), shares in sorted(together.items(), key=lambda item: item[0]):
        rule = _strand(spot, first, last, labels, staves)
        strands[rule.name] = rule
        entries += _entries(rule.name, shares)
    return strands, tuple(entries)


def _strand(
    spot: Spot, first: int, last: int, labels: Sequence[str], staves: Sequence[str]
) -> StrandRule:
    whole = first == 0 and last == len(labels) - 1
    bars = None if whole else Passage(first=labels[first], last=labels[last])
    words = [
        staves[spot.staff - 1].lower(),
        str(spot.layer) + "abcdefghijkl"[spot.note - 1 : spot.note],
    ]
    words += (
        [] if whole else [labels[first] if first == last else f"{labels[first]}-{labels[last]}"]
    )
    return StrandRule(
        " ".join(words),
        staff=spot.staff,
        layer=spot.layer,
        notes=str(spot.note) if spot.note else "all",
        bars=bars,
    )


def _entries(strand: str, shares: Sequence[Share]) -> Iterator[Entry]:
    alike: dict[Share, list[str]] = {}
    for share in shares:
        alike.setdefault(share._replace(name=""), []).append(share.name)
    for share, names in alike.items():
        yield Entry(
            strand,
            tuple(dict.fromkeys(names)),
            octave=share.octave,
            dynamic=share.dynamic,
            technique=share.technique,
            mute=share.mute,
            fit="keep",
        )
