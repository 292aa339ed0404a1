"""Ways of playing that the short score itself asks for, such as "pizz." and "con sord.", followed.

The words travel with their strand. What they set holds for the strand, so a player who comes in
later is told, and one who goes on with another strand is told that it is over.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping

from msgspec import Struct

from expander.model.instrument import Instrument
from expander.model.plan import Strand
from expander.model.rules import Technique
from expander.model.score import Mark

Way = tuple[Technique | None, Technique | None]
"""A technique and a mute."""

ORDINARY: Way = (None, None)
_ENDS = " .,:;()"
_UNDONE = frozenset({"arco", "ord.", "senza sord.", "open"})
"""What ends a way of playing of one pair of hands; "tutti" and the like are said to a section."""

_BOWS = re.compile(
    r"^\W*(pizz|arco|con\s+sord|senza\s+sord|sul\s|col\s+legno|div\b|unis\b|spicc|sord\b)",
    re.IGNORECASE,
)
_KEYS = re.compile(
    r"^\W*(m\.?\s?[dsg]\b|[rl]\.?\s?h\b|una\s+corda|tre\s+corde|due\s+corde|"
    r"((con|col|senza|mit|ohne|with|without|no|use)\s+)?ped(al|ale|als)?\b)",
    re.IGNORECASE,
)
"""Words for the hands and feet of certain players, silly in another part (common practice)."""

_SPLIT = re.compile(r"^\W*(div|divisi|unis|unisoni?)\b\W*((a|in|à)\s+\d+)?\W*$", re.IGNORECASE)
"""How a stave is shared, which is said anew where the lines are dealt out (common practice)."""

_BY_HAND: tuple[tuple[re.Pattern[str], tuple[str, ...]], ...] = (
    (_BOWS, ("strings", "keyboard")),
    (_KEYS, ("keyboard",)),
    (_SPLIT, ()),
)
"""The words, and the families that keep them."""

Place = tuple[int, int]


def dropped_for(text: str, instrument: Instrument) -> bool:
    """Whether words of the sketch mean nothing to the player of an instrument."""
    return any(
        instrument.family not in families and bool(words.match(text))
        for words, families in _BY_HAND
    )


class Turns(Struct, frozen=True):
    """What a strand's own words ask for over time. Places are (bar, tick).

    `said` tells for each place whether the words are about the technique, the mute, or both.
    """

    places: tuple[Place, ...] = ()
    ways: tuple[Way, ...] = ()
    said: tuple[tuple[bool, bool], ...] = ()

    def count(self, place: Place) -> int:
        """How many turns there are up to a place."""
        return bisect_right(self.places, place) if self.places else 0

    def at(self, place: Place) -> Way:
        """What holds from a place on."""
        index = self.count(place)
        return self.ways[index - 1] if index else ORDINARY

    def said_by(self, place: Place) -> tuple[bool, bool]:
        """Whether technique or mute are spoken of in the bar, up to this place in it."""
        first = bisect_left(self.places, (place[0], 0))
        here = self.said[first : bisect_right(self.places, place)]
        return any([technique for technique, _ in here]), any([mute for _, mute in here])


class Turning:
    """Reads strands once each."""

    def __init__(self, techniques: Mapping[str, Technique]) -> None:
        self._words = _vocabulary(techniques)
        self._known: dict[int, tuple[Strand, Turns]] = {}

    def of(self, strand: Strand) -> Turns:
        """The turns of a strand."""
        known = self._known.get(id(strand))
        if known is None:
            known = self._known[id(strand)] = (strand, self._read(strand))
        return known[1]

    def spoken(self, mark: Mark) -> tuple[bool, bool]:
        """Whether a mark's words set or end a technique, and whether a mute."""
        if mark.name != "words" or (text := _bare(mark.text)) not in self._words:
            return False, False
        is_mute = self._words[text][0]
        return not is_mute, is_mute

    def _read(self, strand: Strand) -> Turns:
        ways: dict[Place, Way] = {}
        said: dict[Place, tuple[bool, bool]] = {}
        way = ORDINARY
        for place, mark in _marks(strand):
            spoken = self.spoken(mark)
            if any(spoken):
                new = self._words[_bare(mark.text)][1]
                way = ways[place] = (new, way[1]) if spoken[0] else (way[0], new)
                before = said.get(place, (False, False))
                said[place] = (before[0] or spoken[0], before[1] or spoken[1])
        return Turns(tuple(ways), tuple(ways.values()), tuple(said.values()))


def _marks(strand: Strand) -> Iterator[tuple[Place, Mark]]:
    for bar, directions in sorted(strand.directions.items()):
        for direction in sorted(directions, key=lambda d: d.at):
            for mark in direction.marks:
                yield (bar, direction.at), mark


def _vocabulary(techniques: Mapping[str, Technique]) -> dict[str, tuple[bool, Technique | None]]:
    """Each word with the technique or mute it sets; words that end one set none."""
    found: dict[str, tuple[bool, Technique | None]] = {}
    undone = [each for each in techniques.values() if each.off in _UNDONE]
    for each in undone:
        for text in (each.on, each.id, *each.aliases):
            found.setdefault(_bare(text), (each.is_mute, each))
    for each in techniques.values():
        if each.on in _UNDONE:
            found.update({_bare(text): (each.is_mute, None) for text in (each.on, *each.aliases)})
    for each in undone:
        found[_bare(each.off)] = (each.is_mute, None)
    found.pop("", None)
    return found


def _bare(text: str) -> str:
    return " ".join(text.casefold().split()).strip(_ENDS)
