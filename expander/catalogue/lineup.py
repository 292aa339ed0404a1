"""From a validated ensemble file to an `Ensemble`, with every mistake in it found at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from itertools import pairwise

from expander.catalogue.entries import BracketEntry, LineUpEntry, PlayerEntry, StaveEntry
from expander.catalogue.grouping import (
    Groups,
    family_brackets,
    grouped,
    like_brackets,
    top_staves,
)
from expander.catalogue.labels import label_of, shared_label, shared_short, short_of, spoken
from expander.catalogue.loader import instrument_ids
from expander.catalogue.naming import by_name, called, instrument_named, plain
from expander.catalogue.yamlfile import PathInFile, Places
from expander.errors import BadRules, ExpanderError
from expander.model.instrument import Ensemble, Instrument, Player, Seat, Stave
from expander.model.score import Bracket


def built(id: str, file: LineUpEntry, where: Places) -> Ensemble:  # noqa: A002
    """The line-up a file describes. Raises `BadRules` with all its mistakes."""
    work = _Workshop(where)
    players = work.players(file)
    # Staves, groups and brackets are looked through even where a player was faulty, so that
    # all mistakes of the file come out together.
    groups = grouped(players)
    staves = work.staves(file, players)
    work.own_groups(file, groups)
    brackets = work.brackets(file, groups, staves)
    top = work.top(file, groups, staves)
    if work.mistakes:
        raise BadRules(sorted(work.mistakes, key=_by_place))
    return Ensemble(
        id=id,
        title=file.title,
        players=players,
        staves=staves,
        groups=groups.whole,
        brackets=brackets,
        top_staves=top,
        description=" ".join(file.description.split()),
        doubling=groups.doubling,
    )


def _by_place(mistake: ExpanderError) -> tuple[int, int]:
    return (mistake.at.line, mistake.at.column) if mistake.at else (0, 0)


class _Workshop:
    """Reads the parts of a file in turn and collects what is wrong with them."""

    def __init__(self, where: Places) -> None:
        self.where = where
        self.mistakes: list[ExpanderError] = []
        self.faulty: set[str] = set()  # players that are named, but could not be made

    def wrong(self, path: PathInFile, fault: str, hint: str = "") -> None:
        self.mistakes.append(ExpanderError(fault, at=self.where.spot(path), hint=hint))

    # -------------------------------------------------------------- players

    def players(self, file: LineUpEntry) -> tuple[Player, ...]:
        found: dict[str, Player] = {}
        for index, line in enumerate(file.players):
            entry = PlayerEntry(plays=line) if isinstance(line, str) else line
            player = self._player(entry, ("players", index))
            if player is None:
                self.faulty.add(called(entry.name or str(entry.plays)))
            elif player.name in found:
                hint = f"Number them: '{player.name} 1', '{player.name} 2'."
                self.wrong(
                    ("players", index, "name"), f"there are two players '{player.name}'.", hint
                )
            else:
                found[player.name] = player
        return tuple(found.values())

    def _player(self, entry: PlayerEntry, path: PathInFile) -> Player | None:
        named = [entry.plays] if isinstance(entry.plays, str) else entry.plays
        if not named:
            self.wrong((*path, "plays"), "a player without an instrument.")
            return None
        instruments = [self._instrument(text, (*path, "plays", i)) for i, text in enumerate(named)]
        known = tuple(one for one in instruments if one)
        if len(known) < len(named):
            return None
        first = known[0]
        name = called(entry.name) or spoken(first, plural=entry.size > 1)
        return Player(
            name=name,
            label=entry.label or label_of(name, first),
            short=entry.short or short_of(name, first),
            instruments=known,
            size=entry.size,
            optional=entry.optional,
            keyless=entry.keyless,
        )

    def _instrument(self, text: str, path: PathInFile) -> Instrument | None:
        found = instrument_named(text)
        if found is None:
            near = get_close_matches(text.lower(), instrument_ids(), 1)
            near = near or get_close_matches(plain(text), by_name(), 1)
            hint = f"Did you mean '{near[0]}'?" if near else "See 'expander list instruments'."
            self.wrong(path, f"there is no instrument '{text}' in the catalogue.", hint)
        return found

    # --------------------------------------------------------------- staves

    def staves(self, file: LineUpEntry, players: tuple[Player, ...]) -> tuple[Stave, ...]:
        index_of = {player.name: index for index, player in enumerate(players)}
        shared: dict[int, Stave] = {}
        taken: set[str] = set()
        for row, line in enumerate(file.staves):
            entry = StaveEntry(players=line) if isinstance(line, list) else line
            indices = self._sharing(entry, row, index_of, taken)
            if indices and self._alike([players[i] for i in indices], row, indices):
                shared[indices[0]] = _stave(entry, indices, players)
        covered = {i for stave in shared.values() for i in stave.players}
        return tuple(
            shared.get(i) or _own_stave(i, player)
            for i, player in enumerate(players)
            if i in shared or i not in covered
        )

    def _sharing(
        self, entry: StaveEntry, row: int, index_of: dict[str, int], taken: set[str]
    ) -> tuple[int, ...]:
        found: list[int] = []
        for place, text in enumerate(entry.players):
            name, path = called(text), ("staves", row, "players", place)
            if name in taken:
                self.wrong(path, f"'{text}' stands on two staves.")
            elif name in index_of:
                found.append(index_of[name])
            elif name not in self.faulty:
                self._unknown(path, text, index_of, "player")
            taken.add(name)
        return tuple(found) if len(found) == len(entry.players) else ()

    def _alike(self, players: list[Player], row: int, indices: tuple[int, ...]) -> bool:
        first = players[0]
        names = ", ".join(f"'{player.name}'" for player in players)
        faults = (
            (
                any(player.instrument != first.instrument for player in players),
                f"{names} cannot share a staff: they start on different instruments.",
            ),
            (
                any(b != a + 1 for a, b in pairwise(indices)),
                f"{names} cannot share a staff: they are not neighbours in the list of players.",
            ),
            (
                len(players) > 1 and first.instrument.staves > 1,
                f"{names} cannot share a staff: the instrument needs more than one.",
            ),
        )
        for broken, fault in faults:
            if broken:
                self.wrong(("staves", row), fault)
                return False
        return True

    # ------------------------------------------------------ groups, brackets

    def own_groups(self, file: LineUpEntry, groups: Groups) -> None:
        players = {player.name for player in groups.players}
        for text, members in file.groups.items():
            name, path = called(text), ("groups", text)
            if name in players:
                self.wrong(path, f"the group '{text}' is called like a player.")
                continue
            if not members:
                self.wrong(path, f"the group '{text}' has nobody in it.")
                continue
            found = [
                seat
                for place, member in enumerate(members)
                for seat in self._seats(groups, member, (*path, place))
            ]
            groups.add(name, found)

    def _seats(self, groups: Groups, text: str, path: PathInFile) -> tuple[Seat, ...]:
        found = groups.find(called(text))
        if not found and called(text) not in self.faulty:
            known = (*groups.whole, *groups.doubling)
            self._unknown(path, text, known, "player or group")
        return found

    def _unknown(self, path: PathInFile, text: str, known: Iterable[str], kind: str) -> None:
        near = get_close_matches(called(text), list(known), 1)
        hint = f"Did you mean '{near[0]}'?" if near else ""
        self.wrong(path, f"there is no {kind} '{text}' in this line-up.", hint)

    def brackets(
        self, file: LineUpEntry, groups: Groups, staves: tuple[Stave, ...]
    ) -> tuple[Bracket, ...]:
        players = groups.players
        if file.brackets is None:
            outer = family_brackets(staves, players)
        else:
            outer = self._given(file.brackets, "brackets", "bracket", groups, staves)
        if file.inner_brackets is None:
            inner = like_brackets(staves, players, outer)
        else:
            inner = self._given(file.inner_brackets, "inner brackets", "square", groups, staves)
        self._nested(outer + inner)
        return tuple(sorted(outer + inner, key=lambda one: (one.first, -one.last, one.symbol)))

    def _given(
        self,
        lines: Sequence[BracketEntry | str],
        key: str,
        symbol: str,
        groups: Groups,
        staves: tuple[Stave, ...],
    ) -> tuple[Bracket, ...]:
        found: list[Bracket] = []
        for row, line in enumerate(lines):
            entry = BracketEntry(over=line) if isinstance(line, str) else line
            names = [entry.over] if isinstance(entry.over, str) else entry.over
            span = self._span(names, (key, row), groups, staves)
            if span:
                found.append(Bracket(span[0], span[-1], symbol, entry.barlines))
        return tuple(found)

    def _span(
        self, names: list[str], path: PathInFile, groups: Groups, staves: tuple[Stave, ...]
    ) -> list[int]:
        seats = [seat for name in names for seat in self._seats(groups, name, path)]
        players = {seat.player for seat in seats}
        span = [i for i, stave in enumerate(staves) if players & set(stave.players)]
        if span and span != list(range(span[0], span[-1] + 1)):
            shown = ", ".join(f"'{name}'" for name in names)
            self.wrong(path, f"{shown} cannot stand under one bracket: their staves are apart.")
            return []
        return span

    def _nested(self, brackets: tuple[Bracket, ...]) -> None:
        for a in brackets:
            for b in brackets:
                if a.first < b.first <= a.last < b.last:
                    fault = "two brackets cross; one must lie inside the other or beside it."
                    self.wrong(("brackets",), fault)

    def top(self, file: LineUpEntry, groups: Groups, staves: tuple[Stave, ...]) -> tuple[int, ...]:
        if file.tempo_above is None:
            return top_staves(staves, groups.players)
        found = [
            self._span([name], ("tempo above", row), groups, staves)[:1]
            for row, name in enumerate(file.tempo_above)
        ]
        return tuple(sorted({index for one in found for index in one}))


def _stave(entry: StaveEntry, indices: tuple[int, ...], players: tuple[Player, ...]) -> Stave:
    sharing = tuple(players[i] for i in indices)
    if len(sharing) == 1:
        label, short = sharing[0].label, sharing[0].short
    else:
        label, short = shared_label(sharing), shared_short(sharing)
    optional = all(player.optional for player in sharing)
    return Stave(entry.label or label, entry.short or short, indices, optional)


def _own_stave(index: int, player: Player) -> Stave:
    return Stave(player.label, player.short, (index,), player.optional)
