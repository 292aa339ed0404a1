"""Staves of the sketch dealt out over players from the top down: the cheapest row of shares."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

from msgspec import Struct, field

from expander.model.instrument import Ensemble, Player
from expander.model.rules import StrandRule

DIVISIONS = 4
CHORDAL = 4
PLENTY = 99
CROWDED, SHARED = 1000.0, 3000.0
"""What a note at once without room costs, of one staff and of lines that share a player."""

HELD = 100.0
"""What a line without room costs where others hold it."""

LOST = 30.0
"""What a note at once without room costs in each bar in which nobody else has room for it."""

_ONE_LINE = frozenset({"double basses"})
"""One player has one line: tuned in fourths, few stops lie under the hand (common practice)."""


class Unit(Struct, frozen=True):
    """A staff of the sketch: its rule, how many notes at once, its middle, and what it is.

    `depths` has how many at once bar by bar, `depth` the most of them.
    """

    rule: StrandRule
    depth: int
    middle: float
    sung: bool
    pitched: bool
    depths: Mapping[int, int] = field(default_factory=dict)


Wanting = Mapping[str, Mapping[int, int]]
"""For units by their names: how many notes at once nobody has room for, by bar."""

Shares = list[tuple[list[Unit], list[int]]]
"""Units with the players who have them."""


def partition(
    units: Sequence[Unit],
    players: Sequence[int],
    ensemble: Ensemble,
    wanting: Wanting | None = None,
) -> Shares:
    """Deal units out over players, both from the top down: enough room first, then register.

    Each share is one unit with some neighbouring players, or one player with some neighbouring
    units; the cheapest row of shares is taken. Where others play too and have no room for what is
    `wanting`, room for that comes before room for the rest.
    """
    if not units or not players:
        return []
    ranked = from_high_to_low(players, ensemble)
    seated = [ensemble.players[i] for i in ranked]
    centres, rooms = [_centre(p) for p in seated], [_capacity(p) for p in seated]
    lines = [_lines(p) for p in seated]
    losses = _Losses(units, wanting or {})
    best: dict[tuple[int, int], tuple[float, list[_Share]]] = {(0, 0): (0.0, [])}
    for u, p in product(range(len(units)), range(len(ranked))):
        if (u, p) not in best:
            continue
        so_far, path = best[u, p]
        for share in _shares(u, p, len(units), len(ranked)):
            _, more_units, _, more_players = share
            group = units[u:more_units]
            seats = centres[p:more_players]
            room = sum(rooms[p:more_players]) if len(group) == 1 else lines[p]
            total = so_far + losses.cost(u, more_units, room) + _misfit(group, seats)
            if total < best.get((more_units, more_players), (float("inf"), []))[0]:
                best[more_units, more_players] = (total, [*path, share])
    _, path = best[len(units), len(ranked)]
    return [(list(units[a:b]), sorted(ranked[c:d])) for a, b, c, d in path]


_Share = tuple[int, int, int, int]
"""Units from and to, players from and to."""


def _shares(u: int, p: int, units: int, players: int) -> Iterator[_Share]:
    """Shares that may follow when `u` units and `p` players are dealt with."""
    for stop in range(p + 1, players + 1):
        yield u, u + 1, p, stop
    for stop in range(u + 2, units + 1):
        yield u, stop, p, p + 1


def still_wanting(before: Wanting | None, shares: Shares, ensemble: Ensemble) -> Wanting:
    """What nobody has room for when players have these shares too; `before` is None at first."""
    short: dict[str, dict[int, int]] = {}
    for units, players in shares:
        seated = [ensemble.players[i] for i in players]
        room = sum(map(_capacity, seated)) if len(units) == 1 else _lines(seated[0])
        short |= {unit.rule.name: _short_by_bar(units, room) for unit in units}
    if before is not None:
        short = {name: _least(bars, short.get(name, {})) for name, bars in before.items()}
    return {name: bars for name, bars in short.items() if bars}


def doubtful(shares: Shares, ensemble: Ensemble) -> set[str]:
    """The names of units with more notes at once than their players have lines of their own."""
    return {
        unit.rule.name
        for units, players in shares
        if _short_of(units, sum([_lines(ensemble.players[i]) for i in players]))
        for unit in units
    }


def _least(one: Mapping[int, int], other: Mapping[int, int]) -> dict[int, int]:
    return {bar: min(count, other[bar]) for bar, count in one.items() if bar in other}


def _short_by_bar(units: Sequence[Unit], room: int) -> dict[int, int]:
    """How many notes at once find no room, in bars where some do."""
    if _short_of(units, room) == 0:
        return {}
    bars = {bar for unit in units for bar in unit.depths}
    depths = {bar: sum([u.depths.get(bar, 0) for u in units]) for bar in sorted(bars)}
    return {bar: depth - room for bar, depth in depths.items() if depth > room}


class _Losses:
    """What it costs that notes of neighbouring units find no room; each stretch is counted once."""

    def __init__(self, units: Sequence[Unit], wanting: Wanting) -> None:
        self._units = units
        self._wanting = wanting
        self._known: dict[tuple[int, int, int], float] = {}

    def cost(self, first: int, stop: int, room: int) -> float:
        """For the units from `first` up to `stop`; most where whole lines share a player."""
        if (first, stop, room) not in self._known:
            self._count(first, stop if stop == first + 1 else len(self._units), room)
        return self._known[first, stop, room]

    def _count(self, first: int, last: int, room: int) -> None:
        """All stretches from `first`, each from the one before it."""
        depth, depths, wanted = 0, Counter[int](), Counter[int]()
        for stop in range(first + 1, last + 1):
            unit = self._units[stop - 1]
            depth += unit.depth
            depths.update(unit.depths)
            wanted |= Counter(self._wanting.get(unit.rule.name, {}))
            short = max(0, depth - room)
            each = CROWDED if stop == first + 1 else SHARED
            lost = sum(
                [max(0, min(n, depths[bar] - room)) for bar, n in wanted.items()] if short else ()
            )
            self._known[first, stop, room] = (
                HELD * short + LOST * lost if self._wanting else each * short
            )


def _short_of(group: Sequence[Unit], room: int) -> int:
    return max(0, sum([u.depth for u in group]) - room)


def _misfit(group: Sequence[Unit], centres: Sequence[float]) -> float:
    """How badly units suit neighbouring players: notes to share out, and their registers."""
    depth = sum([u.depth for u in group])
    middle = sum([u.middle for u in group]) / len(group)
    register = sum([abs(centre - middle) for centre in centres])
    return 20.0 * max(0, depth - len(centres)) + register


def _lines(player: Player) -> int:
    """How many lines of their own way a player holds; a stop lies under the hand by chance only."""
    return _capacity(player) if player.size > 1 or _capacity(player) == PLENTY else 1


def _capacity(player: Player) -> int:
    """How many notes at once a player or section is given from one staff."""
    if is_chordal(player) and player.instrument.family != "strings":
        return PLENTY
    if player.size > 1:
        return min(player.size, DIVISIONS)
    return 1 if player.instrument.section in _ONE_LINE else min(player.instrument.at_once, 2)


def from_high_to_low(players: Sequence[int], ensemble: Ensemble) -> list[int]:
    """Players by the middle of their comfortable range."""
    return sorted(players, key=lambda i: -_centre(ensemble.players[i]))


def _centre(player: Player) -> float:
    one = player.instrument
    if one.comfortable is None:
        return 0.0
    low, high = one.sounding(one.comfortable)
    return (float(low.semitone) + float(high.semitone)) / 2


def is_chordal(player: Player) -> bool:
    """True for keyboards, harps, guitars and the like."""
    return player.instrument.pitched and player.instrument.at_once >= CHORDAL
