"""Who reads what: the players behind the parts of a score, each with a name and a file.

Winds and brass who share a staff are told by their numbers ("Flutes 1. 2."), by a plural, or by
what stands on the staff ("a 2"). Strings read one part per section, or one per desk; keyboards,
drums and singers one each.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.naming import plain
from expander.catalogue.recognise import Recognised, recognise
from expander.model.instrument import Instrument
from expander.model.pitch import Written
from expander.model.score import Document, Part
from expander.parts.labels import most_named

BLOWN = frozenset({"woodwind", "brass"})
STRINGS = "strings"
_RANGE = re.compile(r"(\d+)\s*\.?\s*[-–—]\s*(\d+)")
_NUMBERS = re.compile(r"(\d+)\s*\.?\s*[/&+]\s*(\d+)")
_MOST_SHARING = 8


class Reader(Struct, frozen=True):
    """One who gets a part of their own.

    `part` is the index in the score; `staff` the one staff of it that they read, 0 for all.
    `numbers` are the numbers of all who share that staff, `place` is this reader's among them.
    `desk` is (number from 0, count) where a section reads desk by desk. `instrument` is None
    where the file does not tell.
    """

    name: str
    short: str
    part: int
    instrument: Instrument | None = None
    key: str = ""
    staff: int = 0
    numbers: tuple[int, ...] = ()
    place: int = 0
    desk: tuple[int, int] | None = None

    @property
    def shares(self) -> bool:
        """True where the staff in the score holds several players."""
        return len(self.numbers) > 1

    @property
    def beats(self) -> bool:
        """True for percussion of any kind."""
        return self.instrument is not None and self.instrument.family.endswith("percussion")


class Stand(Struct, frozen=True):
    """What lies on one music stand: its name, and the readers whose music it shows."""

    name: str
    readers: tuple[Reader, ...]


def readers_of(score: Document, *, desks: bool = False) -> tuple[Reader, ...]:
    """Everyone who needs a part, in score order, each with a name of their own."""
    found: list[Reader] = []
    for index, part in enumerate(score.parts):
        found += _of_part(index, part, desks=desks)
    return tuple(_named_apart(found))


def recognised(part: Part[Written]) -> Recognised | None:
    """The instrument of a part, by its name, else by its first playback sound."""
    sound = part.sounds[0] if part.sounds else None
    named = recognise(
        _one_line(part.name),
        part.short,
        sound.sound if sound else "",
        None,
        sound.program if sound else 0,
        has_words=_sung(part),
    )
    if sound is None:
        return named
    if named and (not sound.sound or named.instrument.sound == sound.sound):
        return named
    told = recognise(sound.name, "", sound.sound)
    if told and told.instrument.sound == sound.sound != "":
        return replace(told, numbers=named.numbers if named else _loose_numbers(part.name))
    return named or told


def _sung(part: Part[Written]) -> bool:
    """Whether the line as a whole has syllables under it."""
    events = [e for bar in part.bars for layer in bar.layers for e in layer if e.notes]
    return bool(events) and 2 * sum(bool(e.lyrics) for e in events) > len(events)


def _one_line(name: str) -> str:
    return " ".join(name.split())


def _loose_numbers(name: str) -> tuple[int, ...]:
    return tuple(int(n) for n in re.findall(r"\d+", name) if int(n) <= _MOST_SHARING)


def _of_part(index: int, part: Part[Written], *, desks: bool) -> list[Reader]:
    told = recognised(part)
    name = _one_line(part.name) or (told.instrument.name if told else f"Part {index + 1}")
    one = told.instrument if told else None
    key = told.key if told else ""
    whole = Reader(name, part.short or name, index, one, key)
    numbers = _numbers(part, told)
    if one is None or len(numbers) < 2 or one.family not in (*BLOWN, STRINGS):
        return _desks(whole, part) if desks else [whole]
    groups = _by_staff(numbers, part.staves if one.staves == 1 else 1)
    return [
        replace(
            whole,
            name=_player_name(one, key, numbers[place]),
            short=f"{one.short} {numbers[place]}",
            staff=staff,
            numbers=mine,
            place=mine.index(numbers[place]),
        )
        for staff, mine in groups
        for place in [numbers.index(n) for n in mine]
    ]


def _by_staff(numbers: tuple[int, ...], staves: int) -> list[tuple[int, tuple[int, ...]]]:
    """The numbers on each staff: two staves of four horns have two each."""
    if staves == 1 or len(numbers) % staves:
        return [(1, numbers)]
    each = len(numbers) // staves
    return [(s + 1, numbers[s * each : (s + 1) * each]) for s in range(staves)]


def _player_name(one: Instrument, key: str, number: int) -> str:
    own = key or one.key
    return f"{one.name} in {own} {number}" if own and own != "C" else f"{one.name} {number}"


def _numbers(part: Part[Written], told: Recognised | None) -> tuple[int, ...]:
    """The numbers of those who share the part's staff; one or none where nobody does."""
    if told is None:
        return ()
    name = _one_line(part.name)
    spread = _RANGE.search(name)
    if spread and 0 < int(spread[2]) - int(spread[1]) < _MOST_SHARING:
        return tuple(range(int(spread[1]), int(spread[2]) + 1))
    pair = _NUMBERS.search(name)
    if len(told.numbers) < 2 and pair:
        return int(pair[1]), int(pair[2])
    if told.numbers or told.instrument.family not in BLOWN:
        return tuple(dict.fromkeys(told.numbers))
    named = most_named(part)
    if named < 2 and not _plural(name, told.instrument):
        return ()
    return tuple(range(1, max(2, named, _most_at_once(part)) + 1))


def _plural(name: str, one: Instrument) -> bool:
    words = plain(name).split()
    return plain(one.plural) != plain(one.name) and set(plain(one.plural).split()) <= set(words)


def _most_at_once(part: Part[Written]) -> int:
    """The most heads that any chord of the part has."""
    heads = (len(e.notes) for bar in part.bars for layer in bar.layers for e in layer)
    return min(_MOST_SHARING, max(heads, default=1))


# Desks -------------------------------------------------------------------------------------------


def _desks(reader: Reader, part: Part[Written]) -> list[Reader]:
    """A section's desks: by its size where the file tells it, else by how far it divides."""
    one = reader.instrument
    if one is None or one.family != STRINGS:
        return [reader]
    count = (section_size(part) + 1) // 2 or (_most_lines(part) + 1) // 2
    if count < 2:
        return [reader]
    return [
        replace(reader, name=f"{reader.name}, desk {d + 1}", desk=(d, count)) for d in range(count)
    ]


def section_size(part: Part[Written]) -> int:
    """How many people read the part, as MusicXML's `ensemble` tells; 0 where it does not."""
    for sound in part.sounds:
        for mark in sound.carried:
            if mark.name == "ensemble" and mark.text.strip().isdigit():
                return int(mark.text)
    return 0


def _most_lines(part: Part[Written]) -> int:
    return max(
        (sum(any(e.notes for e in layer) for layer in bar.layers) for bar in part.bars), default=1
    )


# Names -------------------------------------------------------------------------------------------


def _named_apart(readers: Sequence[Reader]) -> list[Reader]:
    """Readers of the same name get numbers after it."""
    counts = Counter(reader.name for reader in readers)
    seen: Counter[str] = Counter()
    named: list[Reader] = []
    for reader in readers:
        seen[reader.name] += 1
        if counts[reader.name] > 1:
            reader = replace(reader, name=f"{reader.name} {seen[reader.name]}")
        named.append(reader)
    return named


def file_stem(name: str, number: int, count: int) -> str:
    """A file name without ending: place in the score and name, letters and figures only."""
    words = plain(name.replace("♭", "b").replace("♯", "-sharp").replace("#", "-sharp"))
    kept = re.sub(r"[^a-z0-9]+", "-", words.encode("ascii", "ignore").decode()).strip("-")
    return f"{number:0{max(2, len(str(count)))}d}-{kept or 'part'}"
