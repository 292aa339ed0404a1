"""What every player of a score has from its short score, bar by bar, and in which colour."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.dynamics import LEVELS, level_after
from expander.model.instrument import Player
from expander.model.plan import Events
from expander.model.score import Direction
from expander.revoice.lines import HARMONICS, FullScore, Line, split
from expander.revoice.lineup import LineUp
from expander.revoice.players import as_played
from expander.revoice.short import Reduced
from expander.revoice.spots import ALL, Found, Spot, Spots


class Share(Struct, frozen=True):
    """What one player has from a spot: by name, octaves up, and in which colour."""

    spot: Spot
    octave: int
    name: str
    technique: str
    mute: str
    dynamic: str = ""


class Shares(Struct, frozen=True):
    """Every share with its bar, and how many lines of a bar have no spot that holds them."""

    found: tuple[tuple[int, Share], ...]
    untold: int


def shares_of(reduced: Reduced, line_up: LineUp, spots: Spots) -> Shares:
    """What every player has from where."""
    loudness = Loudness(reduced)
    sharer = _Sharer(reduced, line_up, spots)
    found: list[tuple[int, Share]] = []
    untold = 0
    for bar in range(len(reduced.groups)):
        for line in (li for li in reduced.full.lines if bar in li.cells):
            here = [loudness.told(bar, line.number, s) for s in sharer.shares(line, bar)]
            found += [(bar, share) for share in here]
            untold += not here
    return Shares(tuple(found), untold)


class _Sharer:
    """Follows lines from bar to bar."""

    def __init__(self, reduced: Reduced, line_up: LineUp, spots: Spots) -> None:
        self._full = reduced.full
        self._line_up = line_up
        self._spots = spots
        self._whole = [self._is_whole(line, reduced) for line in reduced.full.lines]
        self._before: dict[tuple[int, int], Spot] = {}

    def _is_whole(self, line: Line, reduced: Reduced) -> bool:
        """True for lines that have a layer to themselves."""
        alone = bool(reduced.owners) and len(self._line_up.players[line.owner.part]) == 1
        return alone or most_at_once(line) > 1

    def shares(self, line: Line, bar: int) -> list[Share]:
        """What a line's player has from where in a bar; nothing where no spot holds it."""
        places = self._places(line, bar)
        name = self._name(line, bar)
        colour = _colour(self._full, line, bar)
        return [Share(one.spot, one.octave, name, *colour) for one in places]

    def _places(self, line: Line, bar: int) -> list[Found]:
        """The spot of a line, or the spots of the notes of its chords from the top down."""
        cell = line.cells[bar]
        found = self._one(cell, line.number, bar, 0, whole=self._whole[line.number])
        if found and not (found.spot.note == ALL and self._too_many(line)):
            return [found]
        rows = split([replace(line, cells={bar: cell})], frozenset())
        several = [
            self._one(row.cells[bar], line.number, bar, row.depth + 1, whole=False) for row in rows
        ]
        told = [one for one in several if one]
        return told if len(told) == len(several) else []

    def _one(self, cell: Events, number: int, bar: int, depth: int, *, whole: bool) -> Found | None:
        found = self._spots.of(bar, cell, self._before.get((number, depth)), whole=whole)
        if found:
            self._before[number, depth] = found.spot
        return found

    def _too_many(self, line: Line) -> bool:
        """True where the chords are more than the player can have at once."""
        player = self._player(line)
        notes = most_at_once(line)
        return player.size == 1 and notes > player.instrument.at_once and not line.unpitched

    def _player(self, line: Line) -> Player:
        return self._line_up.ensemble.players[self._place(line)]

    def _place(self, line: Line) -> int:
        players = self._line_up.players[line.owner.part]
        return players[min(line.player, len(players) - 1)]

    def _name(self, line: Line, bar: int) -> str:
        part = line.owner.part
        instrument, _ = self._full.hands.get((part, bar), ("", ""))
        own = self._player(line).instrument.id
        known = any(k[0] == part and hand[0] == own for k, hand in self._full.hands.items())
        return self._line_up.name(self._place(line), instrument if known else "")


def most_at_once(line: Line) -> int:
    """The most notes that a line has in a chord."""
    return max(len(e.notes) for cell in line.cells.values() for e in cell)


def _colour(full: FullScore, line: Line, bar: int) -> tuple[str, str]:
    colour = full.colours[line.owner.part][bar]
    if line.owner.instrument is None:
        return "", ""
    played = as_played(colour, line.owner.instrument)
    touched = colour.technique == HARMONICS
    return HARMONICS if touched else played.technique, played.mute


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
        return replace(share, dynamic=level) if needed else share


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
