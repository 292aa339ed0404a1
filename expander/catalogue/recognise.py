"""Which instrument a part of somebody else's score is for, told from what the file says of it.

Names are taken in English, German, Italian and French, in full or abbreviated, with key and
number before or after. What is not known is not guessed: the answer is then None.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from msgspec import Struct

from expander.catalogue.loader import CLEFS, instrument, instruments
from expander.catalogue.naming import by_name, plain, words
from expander.model.instrument import Instrument
from expander.model.pitch import Transposition
from expander.model.score import Clef

_PARENTHESES = re.compile(r"[(\[][^)\]]*[)\]]?")
_DOUBLING = re.compile(r"\s*(?:/|\bdoubling\b|\bdbl\b\.?)\s*", re.IGNORECASE)
_COUNT = re.compile(r"\s*[2-8]\s+[^\W\d]")
_SINGS_ALONE = ("keyboard", "plucked")
"""Families whose players may have words on their staff and still be playing."""


class Evidence(Struct, frozen=True):
    """What a file says of a part beside its name.

    `sound` is an id of the MusicXML sound list, `program` General MIDI 1-128 (0 none given),
    `transposition` None where the file has none, `words` whether syllables stand under it.
    """

    sound: str = ""
    transposition: Transposition | None = None
    program: int = 0
    words: bool = False
    clef: Clef | None = None


class Recognised(Struct, frozen=True):
    """An instrument, the players' numbers in the name (`Horns 1. 2.`: 1 and 2) and its key.

    `key` is the key as the name has it, which need not be the instrument's own: a horn in E is
    the horn with key `E`. The part's own transposition holds for such a part.
    """

    instrument: Instrument
    numbers: tuple[int, ...] = ()
    key: str = ""


class _Reading(Struct, frozen=True):
    """One way to read a name."""

    found: tuple[Instrument, ...]
    numbers: tuple[int, ...]
    key: str
    words: tuple[str, ...]

    def key_of(self, one: Instrument) -> str:
        """The key named, also where it is part of a name ("F Horn")."""
        own = [word for word in self.words if words()["keys"].get(word) == one.key != ""]
        return self.key or (one.key if own else "")


def recognise(
    name: str,
    short: str = "",
    sound: str = "",
    transposition: Transposition | None = None,
    program: int = 0,
    *,
    has_words: bool = False,
    clef: Clef | None = None,
) -> Recognised | None:
    """The instrument of a part, or None.

    `name` and `short` are the part's name and abbreviation. `has_words` is for parts with
    syllables under the line as a whole, not for a stray word: they are sung, whatever they are
    called, unless they are for a keyboard or plucked instrument; `clef` (the part's first) then
    tells the voice where its name does not. A transposition of no interval says that the part is
    at concert pitch; leave it None where the score as a whole is.
    """
    evidence = Evidence(sound, transposition, program, has_words, clef)
    named = _by_text(name, evidence) or _by_text(short, evidence)
    if has_words and not (named and named.instrument.family in _SINGS_ALONE):
        return _singer(named, name, short, evidence)
    return named or _by_sound(name, evidence)


# -------------------------------------------------------------------- by name


def _by_text(text: str, evidence: Evidence) -> Recognised | None:
    best: Recognised | None = None
    for reading in _readings(text):
        one = _chosen(reading, evidence)
        if one is None:
            continue
        answer = Recognised(one, reading.numbers, reading.key_of(one))
        if evidence.transposition in (None, one.transposition):
            return answer
        best = best or answer
    return best


def _readings(text: str) -> Iterator[_Reading]:
    for part in dict.fromkeys((*_DOUBLING.split(text)[:1], text)):
        yield from _readings_of(part, _keys_in_parentheses(part))


def _keys_in_parentheses(text: str) -> str:
    for found in _PARENTHESES.findall(text):
        key = words()["keys"].get(plain(found).removeprefix("in "))
        if key:
            return str(key)
    return ""


def _readings_of(text: str, key: str) -> Iterator[_Reading]:
    whole = by_name().get(plain(text), ())
    if whole:
        yield _Reading(whole, (), key, tuple(plain(text).split()))
    bare = _PARENTHESES.sub(" ", text)
    rest, numbers = _numbers(plain(bare).split())
    if len(numbers) == 1 and _is_count(bare, rest):
        numbers = tuple(range(1, numbers[0] + 1))
    rest = [word for word in rest if word not in words()["idle"]] or rest
    for stem, named_key in _stems(rest):
        found = by_name().get(" ".join(stem), ())
        if found:
            yield _Reading(found, numbers, named_key or key, tuple(stem))


def _numbers(given: list[str]) -> tuple[list[str], tuple[int, ...]]:
    """The words that are no numbers, and the numbers."""
    ordinals, roman = words()["ordinals"], words()["roman"]
    rest: list[str] = []
    numbers: list[int] = []
    for place, word in enumerate(given):
        if word.isdigit():
            numbers.append(int(word))
        elif word in ordinals and len(given) > 1:
            numbers.append(ordinals[word])
        elif word in roman and place > 0:
            numbers.append(roman[word])
        else:
            rest.append(word)
    return rest, tuple(numbers)


def _is_count(text: str, rest: list[str]) -> bool:
    """True of `2 Oboen`, not of `2. Oboe` or `Oboe 2`."""
    plurals = tuple(words()["plural endings"])
    return bool(_COUNT.match(text)) and bool(rest) and rest[0].endswith(plurals)


def _stems(rest: list[str]) -> Iterator[tuple[list[str], str]]:
    """The words as they are, then without the names of keys at their end or start."""
    yield rest, ""
    key = ""
    stem = rest
    while len(stem) > 1:
        size, key = _key_at_end(stem)
        if not size:
            break
        stem = stem[:-size]
        yield stem, key
    for size in (3, 2, 1):
        named = words()["keys"].get(" ".join(rest[:size]))
        if named and len(rest) > size:
            yield rest[size:], named


def _key_at_end(stem: list[str]) -> tuple[int, str]:
    for size in (3, 2, 1):
        key = words()["keys"].get(" ".join(stem[-size:]))
        if key and len(stem) > size:
            return size, key
    return 0, ""


# ---------------------------------------------------------- between several


def _chosen(reading: _Reading, evidence: Evidence) -> Instrument | None:
    found = reading.found
    if len({one.name for one in found}) > 1:
        return _agreeing(found, evidence)
    one = found[0]
    if one.family == "voice":
        return _voice_or_short(one, evidence)
    alike = tuple(other for other in instruments() if other.name == one.name)
    if reading.key:
        return _in_key(one, alike, reading.key)
    if len(alike) == 1 or reading.found == alike[:1]:
        return one
    return _agreeing(alike, evidence) or (one if len(found) == 1 else _usual(alike))


def _in_key(one: Instrument, alike: tuple[Instrument, ...], key: str) -> Instrument | None:
    """The size in that key; brass and drums of another key are the same players' affair."""
    relatives = tuple(other for other in instruments() if one.kin and other.kin == one.kin)
    for group in (alike, relatives if one.family == "woodwind" and not one.key else ()):
        for other in group:
            if other.key == key:
                return other
    if one.family == "woodwind" and not one.key and key != "C":
        return None
    return _usual(alike) or one


def _usual(alike: tuple[Instrument, ...]) -> Instrument | None:
    usual = [one for one in alike if one.key == "B♭"]
    return usual[0] if usual else None


def _agreeing(found: tuple[Instrument, ...], evidence: Evidence) -> Instrument | None:
    """The only one that what the file says agrees with, the sound before the rest."""
    tests = (
        [one for one in found if evidence.sound and one.sound == evidence.sound],
        [one for one in found if one.transposition == evidence.transposition],
        [one for one in found if evidence.program and one.program == evidence.program],
    )
    for agreeing in tests:
        if len(agreeing) == 1:
            return agreeing[0]
    return None


def _voice_or_short(voice: Instrument, evidence: Evidence) -> Instrument | None:
    sung = evidence.words or evidence.program in words()["voice programs"]
    if sung or evidence.sound.startswith("voice."):
        return voice
    others = tuple(instrument(other) for other in words()["short for"].get(voice.id, ()))
    concert = evidence.transposition in (None, Transposition())
    other = _agreeing(others, Evidence(evidence.sound, None, evidence.program)) or (
        None if concert else _agreeing(others, evidence)
    )
    if other or not concert or voice.id in words()["unclear"]:
        return other
    return voice


# ------------------------------------------------------- by words, by sound


def _singer(
    named: Recognised | None, name: str, short: str, evidence: Evidence
) -> Recognised | None:
    if named and named.instrument.family == "voice":
        return named
    voices = tuple(one for one in instruments() if one.family == "voice")
    for text in (plain(name), plain(short)):
        for voice in voices:
            if text == plain(voice.short):
                return Recognised(voice)
    sound = _instrument_of_sound(evidence.sound)
    if sound and sound.family == "voice":
        return Recognised(sound)
    return Recognised(instrument(_singer_of(evidence.clef)))


def _singer_of(clef: Clef | None) -> str:
    singers: dict[str, str] = words()["singers"]
    for name, voice in singers.items():
        if CLEFS[name] == clef:
            return voice
    return singers["treble"]


def _by_sound(name: str, evidence: Evidence) -> Recognised | None:
    if plain(name) and evidence.sound in words()["default sounds"]:
        return None
    found = _instrument_of_sound(evidence.sound)
    return Recognised(found) if found else None


def _instrument_of_sound(sound: str) -> Instrument | None:
    for one in instruments():
        if sound and one.sound == sound:
            return one
    known = words()["sounds"].get(sound)
    return instrument(known) if known else None
