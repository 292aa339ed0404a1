"""What stands left of a staff: `Clarinet in B♭ 1`, `Cl. 1`, `Horns in F 1. 2.`, `Violin II`."""

from __future__ import annotations

from expander.catalogue.naming import called, names_of, numbered, plain
from expander.model.instrument import Instrument, Player

_ROMAN = ("", "I", "II", "III", "IV", "V", "VI", "VII", "VIII")


def label_of(name: str, one: Instrument) -> str:
    """The label of a player called `name` who starts on `one`, with the instrument's key."""
    stem, number = numbered(name)
    if plain(stem) not in names_of(one):
        return name[:1].upper() + name[1:]
    return _joined(_with_key(one.name, one), _numeral(number, one))


def short_of(name: str, one: Instrument) -> str:
    """The abbreviation of the same."""
    stem, number = numbered(name)
    if number or plain(stem) in names_of(one):
        return _joined(one.short, _numeral(number, one))
    return one.short


def shared_label(players: tuple[Player, ...]) -> str:
    """The label of a staff shared by like players: the plural and their numbers."""
    one = players[0].instrument
    return _joined(_with_key(one.plural, one), _numbers(players))


def shared_short(players: tuple[Player, ...]) -> str:
    """The abbreviation of the same."""
    return _joined(players[0].instrument.short, _numbers(players))


def spoken(one: Instrument, *, plural: bool = False) -> str:
    """An instrument's name as rules use it: lower case, no key."""
    return called(one.plural if plural else one.name)


def _with_key(name: str, one: Instrument) -> str:
    return f"{name} in {one.key}" if one.key else name


def _numeral(number: int, one: Instrument) -> str:
    if not number:
        return ""
    roman = one.family == "strings" and number < len(_ROMAN)
    return _ROMAN[number] if roman else str(number)


def _numbers(players: tuple[Player, ...]) -> str:
    numbers = [numbered(player.name)[1] for player in players]
    return " ".join(f"{number}." for number in numbers if number)


def _joined(name: str, number: str) -> str:
    return f"{name} {number}" if number else name
