"""Who is meant by a name in a rule: players, each with the instrument they are to take."""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from expander.catalogue.naming import by_name, called, numbered, plain, without_ordinals
from expander.model.instrument import Ensemble, Instrument, Seat


class UnknownName(LookupError):
    """A name that means nobody in a line-up; `nearest` are valid names like it, best first."""

    def __init__(self, name: str, nearest: tuple[str, ...]) -> None:
        self.name = name
        self.nearest = nearest
        hint = f" Did you mean '{nearest[0]}'?" if nearest else ""
        super().__init__(f"there is no player or group '{name}' in this line-up.{hint}")


def seats(ensemble: Ensemble, name: str) -> tuple[Seat, ...]:
    """The players a name means, in score order, with what they have in hand.

    The name is a player, section, family, own group or instrument, singular or plural;
    instruments in any of the catalogue's languages ("Pauken"). Raises `UnknownName`.
    """
    for form in _forms(name):
        found = _filed(ensemble, form) or _by_instrument(ensemble, form)
        if found:
            return found
    near = get_close_matches(called(name), known_names(ensemble), 3)
    raise UnknownName(name, tuple(near))


def known_names(ensemble: Ensemble) -> tuple[str, ...]:
    """Every name of the line-up that a rule may use, in alphabetical order."""
    return tuple(sorted({*ensemble.groups, *ensemble.doubling}))


def _forms(name: str) -> Iterator[str]:
    filed = called(name)
    yield filed
    reordered = without_ordinals(filed)
    if reordered != filed:
        yield reordered


def _filed(ensemble: Ensemble, name: str) -> tuple[Seat, ...]:
    if name in ensemble.groups:
        players = ensemble.players
        return tuple(Seat(index, players[index].instrument) for index in ensemble.groups[name])
    return ensemble.doubling.get(name, ())


def _by_instrument(ensemble: Ensemble, name: str) -> tuple[Seat, ...]:
    stem, number = numbered(name)
    wanted = by_name().get(plain(stem), ())
    starting = _having(ensemble, wanted, slice(0, 1))
    if not number:
        return starting or _having(ensemble, wanted, slice(1, None))[:1]
    by_number = [
        seat for seat in starting if numbered(ensemble.players[seat.player].name)[1] == number
    ]
    if by_number:
        return tuple(by_number)
    everyone = starting + _having(ensemble, wanted, slice(1, None))
    return everyone[number - 1 : number]


def _having(ensemble: Ensemble, wanted: tuple[Instrument, ...], hands: slice) -> tuple[Seat, ...]:
    return tuple(
        Seat(index, one)
        for index, player in enumerate(ensemble.players)
        for one in player.instruments[hands]
        if one in wanted
    )
