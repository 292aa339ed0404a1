"""The names of a line-up's groups at every level, and the brackets over its staves.

Where one name could mean several things the nearer one wins: a player, then the line-up's own
group, then a section, an instrument, a family, and last the groups every line-up has.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import groupby

from msgspec import Struct, field

from expander.catalogue.labels import spoken
from expander.catalogue.naming import called, numbered, singular, words
from expander.model.instrument import Instrument, Player, Seat, Stave
from expander.model.score import Bracket

Indices = tuple[int, ...]


class Groups(Struct):
    """Names under construction: for whole players, and for players with another instrument."""

    players: tuple[Player, ...]
    whole: dict[str, Indices] = field(default_factory=dict)
    doubling: dict[str, tuple[Seat, ...]] = field(default_factory=dict)

    def find(self, name: str) -> tuple[Seat, ...]:
        """The seats a name means so far; none where it is unknown."""
        if name in self.whole:
            return tuple(Seat(i, self.players[i].instrument) for i in self.whole[name])
        return self.doubling.get(name, ())

    def add(self, name: str, seats: Iterable[Seat]) -> None:
        """Gives a name to seats, in place of what it meant before."""
        found = tuple(sorted(dict.fromkeys(seats), key=lambda seat: seat.player))
        self.whole.pop(name, None)
        self.doubling.pop(name, None)
        if all(seat.instrument == self.players[seat.player].instrument for seat in found):
            self.whole[name] = tuple(dict.fromkeys(seat.player for seat in found))
        else:
            self.doubling[name] = found


def grouped(players: tuple[Player, ...]) -> Groups:
    """All names that follow from who the players are."""
    groups = Groups(players)
    groups.whole["tutti"] = tuple(range(len(players)))
    for names_for in (_kin, _families, _instruments, _sections):
        groups.whole.update(_layer(players, names_for))
    _drop_lone(groups)
    _common(groups)
    _name_players(groups)
    _name_doubles(groups)
    return groups


def _layer(
    players: tuple[Player, ...], names_for: Callable[[Instrument], tuple[str, ...]]
) -> dict[str, Indices]:
    found: dict[str, Indices] = {}
    for index, player in enumerate(players):
        for name in dict.fromkeys(names_for(player.instrument)):
            found[name] = (*found.get(name, ()), index)
    return found


def _drop_lone(groups: Groups) -> None:
    lone: Mapping[str, list[str]] = words()["not alone"]
    for name, sections in lone.items():
        there = {groups.players[index].instrument.section for index in groups.whole.get(name, ())}
        if there and there <= set(sections):
            del groups.whole[name]


def _kin(one: Instrument) -> tuple[str, ...]:
    return (one.kin,) if one.kin else ()


def _families(one: Instrument) -> tuple[str, ...]:
    return tuple(words()["families"][one.family])


def _instruments(one: Instrument) -> tuple[str, ...]:
    return (spoken(one), spoken(one, plural=True))


def _sections(one: Instrument) -> tuple[str, ...]:
    return (one.section, singular(one.section))


def _common(groups: Groups) -> None:
    common: Mapping[str, list[str]] = words()["common"]
    for name, sections in common.items():
        there = [section for section in sections if section in groups.whole]
        if there:
            groups.add(name, (seat for section in there for seat in groups.find(section)))


def _name_players(groups: Groups) -> None:
    for index, player in enumerate(groups.players):
        groups.whole[player.name] = (index,)
    for index, player in enumerate(groups.players):
        stem, number = numbered(player.name)
        for forms in (_instruments(player.instrument), _sections(player.instrument)):
            for form in forms if number and stem in forms else ():
                groups.whole.setdefault(f"{form} {number}", (index,))


def _name_doubles(groups: Groups) -> None:
    seats = [
        Seat(index, one)
        for index, player in enumerate(groups.players)
        for one in player.instruments[1:]
    ]
    for seat in seats:
        for name in _instruments(seat.instrument)[:1]:
            _double(groups, name, (seat,))
    for names_for in (_plurals, _in_key):
        gathered: dict[str, list[Seat]] = {}
        for seat in seats:
            for name in names_for(seat.instrument):
                gathered.setdefault(name, []).append(seat)
        for name, found in gathered.items():
            _double(groups, name, tuple(found))
    _number_doubles(groups, seats)


def _plurals(one: Instrument) -> tuple[str, ...]:
    return tuple(dict.fromkeys((spoken(one, plural=True), one.section)))


def _in_key(one: Instrument) -> tuple[str, ...]:
    return tuple(called(f"{name} in {one.key}") for name in _instruments(one)) if one.key else ()


def _number_doubles(groups: Groups, seats: list[Seat]) -> None:
    """`flute 3`: who takes a flute after those who start on one, in score order."""
    numbers: dict[str, int] = {}
    for seat in seats:
        section = seat.instrument.section
        if section == groups.players[seat.player].instrument.section:
            continue
        number = numbers.get(section, len(groups.whole.get(section, ()))) + 1
        numbers[section] = number
        _double(groups, f"{singular(section)} {number}", (seat,))


def _double(groups: Groups, name: str, seats: tuple[Seat, ...]) -> None:
    if name not in groups.whole:
        groups.doubling.setdefault(name, seats)


# ------------------------------------------------------------------ brackets


def family_brackets(staves: tuple[Stave, ...], players: tuple[Player, ...]) -> tuple[Bracket, ...]:
    """A bracket over each family of two staves or more; barlines stop between sung staves."""
    return tuple(
        Bracket(first, last, "bracket", family != "voice")
        for family, first, last in _runs(staves, players, _bracket_family)
    )


def like_brackets(
    staves: tuple[Stave, ...], players: tuple[Player, ...], outer: tuple[Bracket, ...]
) -> tuple[Bracket, ...]:
    """The thinner bracket over neighbouring staves of like instruments within a bracket."""
    spans = {(bracket.first, bracket.last) for bracket in outer}
    return tuple(
        Bracket(first, last, "square", True)
        for _, first, last in _runs(staves, players, lambda one: one.kin)
        if (first, last) not in spans and any(a <= first and last <= b for a, b in spans)
    )


def _bracket_family(one: Instrument) -> str:
    return str(words()["bracketed"].get(one.family, ""))


def _runs(
    staves: tuple[Stave, ...], players: tuple[Player, ...], key: Callable[[Instrument], str]
) -> list[tuple[str, int, int]]:
    kinds = [key(players[stave.players[0]].instrument) for stave in staves]
    found: list[tuple[str, int, int]] = []
    for kind, run in groupby(range(len(kinds)), lambda i: kinds[i]):
        indices = list(run)
        if kind and len(indices) > 1:
            found.append((kind, indices[0], indices[-1]))
    return found


def top_staves(staves: tuple[Stave, ...], players: tuple[Player, ...]) -> tuple[int, ...]:
    """The top staff, and the first violins of an orchestra where other families stand above."""
    strings = [run for run in _runs(staves, players, _bracket_family) if run[0] == "strings"]
    orchestral = [first for _, first, last in strings if first > 0 and last - first >= 3]
    return (0, *orchestral)
