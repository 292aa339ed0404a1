"""What every player of a score has from its short score, bar by bar, and in which colour."""

from __future__ import annotations

from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Player
from expander.model.plan import Events
from expander.revoice.lines import PLAIN, Colour, Line, begins_tied, split
from expander.revoice.lineup import LineUp
from expander.revoice.louder import Loudness, Share, Shown
from expander.revoice.manner import plain
from expander.revoice.short import Reduced
from expander.revoice.spots import ALL, Found, Spot, Spots


class Shares(Struct, frozen=True):
    """Every share with its bar, and how many lines of a bar have no spot that holds them."""

    found: tuple[tuple[int, Share], ...]
    untold: int


def shares_of(reduced: Reduced, line_up: LineUp, spots: Spots) -> Shares:
    """What every player has from where."""
    shown = Shown(reduced)
    loudness = Loudness(reduced.full, shown)
    sharer = _Sharer(reduced, line_up, spots, shown)
    found: list[tuple[int, Share]] = []
    untold = 0
    for bar in range(len(reduced.groups)):
        for line in (li for li in reduced.full.lines if bar in li.cells):
            here = [loudness.told(bar, line, share) for share in sharer.shares(line, bar)]
            found += [(bar, share) for share in here]
            untold += not here
    return Shares(tuple(found), untold)


class _Last(Struct, frozen=True):
    """Where a line stood last, and how rules say it is played."""

    bar: int
    spots: list[Spot]
    colour: Colour


class _Sharer:
    """Follows lines from bar to bar."""

    def __init__(self, reduced: Reduced, line_up: LineUp, spots: Spots, shown: Shown) -> None:
        self._full = reduced.full
        self._line_up = line_up
        self._spots = spots
        self._shown = shown
        self._whole = [self._is_whole(line, reduced) for line in reduced.full.lines]
        self._before: dict[tuple[int, int], Spot] = {}
        self._last: dict[int, _Last] = {}

    def _is_whole(self, line: Line, reduced: Reduced) -> bool:
        """True for lines that have a layer to themselves."""
        alone = bool(reduced.owners) and len(self._line_up.players[line.owner.part]) == 1
        return alone or most_at_once(line) > 1

    def shares(self, line: Line, bar: int) -> list[Share]:
        """What a line's player has from where in a bar; nothing where no spot holds it."""
        places = self._places(line, bar)
        name = self._name(line, bar)
        colour = self._colour(line, bar, [one.spot for one in places])
        return [Share(one.spot, one.octave, name, colour.technique, colour.mute) for one in places]

    def _colour(self, line: Line, bar: int, spots: list[Spot]) -> Colour:
        """How the rules say it is played: not at all where words of the same strand say it."""
        now = line.played.get(bar, PLAIN)
        last = self._last.get(line.number)
        goes_on = last is not None and (last.bar, last.spots) == (bar - 1, spots)
        alike = bar not in line.turned and (
            bar - 1 in line.turned or line.played.get(bar - 1, PLAIN) == now
        )
        if last and goes_on and (alike or begins_tied(line.cells[bar])):
            now = last.colour
        self._last[line.number] = _Last(bar, spots, now)
        return now

    def _places(self, line: Line, bar: int) -> list[Found]:
        """The spot of a line, or the spots of the notes of its chords from the top down."""
        cell = line.cells[bar]
        found = self._one(line, cell, bar, 0, whole=self._whole[line.number])
        if found and not (found.spot.note == ALL and self._too_many(line)):
            return [found]
        rows = split([replace(line, cells={bar: cell})], frozenset())
        several = [self._one(line, r.cells[bar], bar, r.depth + 1, whole=False) for r in rows]
        told = [one for one in several if one]
        return told if len(told) == len(several) else []

    def _one(self, line: Line, cell: Events, bar: int, depth: int, *, whole: bool) -> Found | None:
        before = self._before.get((line.number, depth))
        unlike = partial(self._unlike, line, bar)
        found = self._spots.of(bar, cell, before, unlike, whole=whole)
        if found:
            self._before[line.number, depth] = found.spot
        return found

    def _unlike(self, line: Line, bar: int, spot: Spot) -> float:
        """How many of a line's marks a spot has not, and, less weighty, how many others."""
        own = plain((line.told or {}).get(bar, ()))
        shown = plain(self._shown.of(spot, bar))
        return sum(m not in shown for m in own) + 0.01 * sum(m not in own for m in shown)

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
