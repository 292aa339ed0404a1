"""Who plays which line in which bar: first every line by need, then those who are left double.

Bar by bar the cheapest matching of lines and players is taken; what one player has begun they go
on with. Prices are common practice, no source: they order the possibilities and mean nothing
else. Tune, bass and the outermost notes come first, then counter-lines, inner parts by the
pitches that nobody else has, figures, the lower notes of chords.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, field

from expander.model.plan import Events
from expander.revoice import chairs
from expander.revoice.chairs import (
    DESK,
    FORBIDDEN,
    MOVED,
    RANK,
    Chair,
    Moved,
    Reach,
    homes_of,
    kinship,
    misfit,
    ranks,
    suits,
)
from expander.revoice.lines import FullScore, Line, begins_tied, heights
from expander.revoice.matching import cheapest
from expander.revoice.moments import Moments, outer_shares
from expander.revoice.roles import BASS, COUNTER, DRUMS, FIGURE, INNER, TUNE, Voice

CARE = {TUNE: 2.5, BASS: 2.0, COUNTER: 1.2, INNER: 1.0, FIGURE: 0.8, DRUMS: 1.0}
"""How much it matters that a line suits its player."""

NEEDS = {TUNE: 1000.0, BASS: 900.0, COUNTER: 300.0, INNER: 220.0, FIGURE: 120.0, DRUMS: 200.0}
OUTERMOST = 700.0
"""More for a line that has the highest or the lowest note throughout a bar."""

OWN_PITCHES = 150.0
"""More for a line all of whose pitch classes are missing from tune and bass."""

SUNG = 400.0
DEEPER = 0.5
"""The lower notes of a player's chords are needed half as much, each again."""

OWN = -14.0
"""Less for the player whom a line suits best over the whole piece."""

HOME = -40.0
"""Less for the player who had it in the original."""

GOES_ON = -10.0
TIED = -900.0
LEFT = 6.0  # a line passes to another player
CUT = 5.0  # a player leaves one line for another without a rest
AROUND = 2
"""Bars before and after that count when a line's height is told."""

HANDY = 5.0
"""A further line for a keyboard or harp, which costs less than for a section to divide."""


class Given(Struct, frozen=True):
    """A line for a chair in a bar. `doubling` is true where another chair has it too."""

    line: int
    voice: Voice
    doubling: bool = False


class Cast(Struct):
    """The whole distribution: by (chair, bar), and what is left over in each bar."""

    given: dict[tuple[int, int], Given] = field(default_factory=dict)
    left: list[tuple[int, Voice]] = field(default_factory=list)


class Casting:
    """What is needed to tell a price."""

    def __init__(
        self,
        score: FullScore,
        lines: Sequence[Line],
        moments: Sequence[Moments],
        chairs: Sequence[Chair],
    ) -> None:
        self.score = score
        self.lines = lines
        self.moments = moments
        self.chairs = chairs
        self.all_sing = all(c.sings for c in chairs)
        self.ranks = ranks(score.owners)
        self.homes = homes_of(score.owners, chairs)
        self._kin: dict[tuple[int, int], float] = {}
        self._reach: dict[tuple[int, int], Reach | None] = {}
        self._own: Mapping[int, int] = {}

    def _settle(self, voices: Sequence[Sequence[Voice]]) -> dict[int, int]:
        """The chair that suits each line best over the whole piece, where there are chairs."""
        suits_ill: dict[int, list[float]] = {}
        needs: dict[int, float] = {}
        for here in voices:
            for voice in here:
                need = self.need(voice, here) / len(voice.group.members)
                for number in voice.group.members:
                    needs[number] = needs.get(number, 0.0) + need
                    row = suits_ill.setdefault(number, [0.0] * len(self.chairs))
                    for chair in self.chairs:
                        ill = self.suit(number, voice.group.bar, chair, _moved(voice))
                        row[chair.number] += CARE[voice.role] * ill
        numbers = sorted(suits_ill)
        prices = [[*suits_ill[n], *[needs[n]] * len(numbers)] for n in numbers]
        columns = cheapest(prices) if prices else []
        return {n: c for n, c in zip(numbers, columns, strict=True) if c < len(self.chairs)}

    def cast(self, voices: Sequence[Sequence[Voice]]) -> Cast:
        """Give out every bar in turn."""
        self._own = self._settle(voices)
        found = Cast()
        before: dict[int, Given] = {}
        for bar, here in enumerate(voices):
            before = self._bar(bar, here, before, found)
        return found

    def _bar(
        self, bar: int, here: Sequence[Voice], before: Mapping[int, Given], found: Cast
    ) -> dict[int, Given]:
        had = {given.line: chair for chair, given in before.items()}
        prices = [
            [self.price(voice, chair, before, had)[0] for chair in self.chairs] for voice in here
        ]
        needs = [self.need(voice, here) for voice in here]
        for row, need in zip(prices, needs, strict=True):
            row += [need] * len(here)
        now: dict[int, Given] = {}
        for voice, column in zip(here, cheapest(prices) if here else [], strict=True):
            if column >= len(self.chairs):
                found.left.append((bar, voice))
                continue
            line = self.price(voice, self.chairs[column], before, had)[1]
            now[column] = found.given[column, bar] = Given(line, voice)
        return now

    def need(self, voice: Voice, here: Sequence[Voice]) -> float:
        """What it costs to leave a voice out of a bar."""
        group = voice.group
        line = self.lines[group.lead]
        top, bottom = outer_shares(self.moments[group.bar], group.everybody)
        sung = SUNG * any(self.lines[n].owner.sung for n in group.members)
        own = OWN_PITCHES * self._own_pitches(voice, here)
        depth = min(self.lines[n].depth for n in group.members)
        need = (NEEDS[voice.role] + own + sung) * DEEPER**depth
        if line.owner.family == "pitched percussion":
            return need / 2 + 10
        return need + OUTERMOST * (top + bottom)

    def _own_pitches(self, voice: Voice, here: Sequence[Voice]) -> float:
        mine = self._classes(voice)
        others = [self._classes(v) for v in here if v.role in (TUNE, BASS) and v is not voice]
        return len(mine.difference(*others)) / len(mine) if mine else 0.0

    def _classes(self, voice: Voice) -> frozenset[int]:
        cell = self.lines[voice.group.lead].cells[voice.group.bar]
        return frozenset(h % 12 for h in heights(cell))

    # -- prices ------------------------------------------------------------------------------------

    def price(
        self, voice: Voice, chair: Chair, before: Mapping[int, Given], had: Mapping[int, int]
    ) -> tuple[float, int]:
        """The least price of a voice for a chair, and the line by which it plays it."""
        held = before.get(chair.number)
        options = [
            (
                CARE[voice.role] * self.suit(n, voice.group.bar, chair, _moved(voice))
                + OWN * (self._own.get(n) == chair.number)
                + HOME * self.at_home(n, chair)
                + self._going_on(n, voice, chair, held, had),
                n,
            )
            for n in voice.group.members
        ]
        return min(options)

    def at_home(self, number: int, chair: Chair) -> bool:
        """True where the player had the line in the original."""
        line = self.lines[number]
        return self.homes.get(chair.number) == line.owner.part and line.depth == chair.desk

    def suit(self, number: int, bar: int, chair: Chair, moved: Moved = (MOVED, MOVED)) -> float:
        """How ill a line suits a chair in a bar, apart from what came before."""
        line = self.lines[number]
        if not suits(line, chair, self.all_sing):
            return FORBIDDEN
        kin = self._kin.get((number, chair.number))
        if kin is None:
            rank = RANK * abs(self.ranks[line.owner.part] - chair.rank)
            chordal = chair.instrument.family in ("keyboard", "plucked")
            desk = chair.desk * (HANDY if chordal else DESK)
            kin = self._kin[number, chair.number] = kinship(line.owner, chair) + rank + desk
        reach = self.reach(number, bar)
        return kin + (misfit(reach, chair, moved) if reach else 0.0)

    def reach(self, number: int, bar: int) -> Reach | None:
        """How high a line lies around a bar; None for drums."""
        key = (number, bar)
        if key not in self._reach:
            cells = self.lines[number].cells
            near = [cells[b] for b in _neighbours(cells, bar)]
            found = [h for cell in near for h in heights(cell)]
            self._reach[key] = (
                Reach(min(found), max(found), sum(found) / len(found)) if found else None
            )
        return self._reach[key]

    def _going_on(
        self,
        number: int,
        voice: Voice,
        chair: Chair,
        held: Given | None,
        had: Mapping[int, int],
    ) -> float:
        """Less for the player who had the line before, more for one who had another."""
        if held and held.line == number:
            cell = self.lines[number].cells[voice.group.bar]
            return TIED if begins_tied(cell) else GOES_ON
        if held and held.line in voice.group.everybody:
            return GOES_ON / 2
        owner = had.get(number)
        left = LEFT if owner is not None and owner != chair.number else 0.0
        return left + (CUT if held else 0.0)


def _moved(voice: Voice) -> Moved:
    if voice.top:
        return chairs.ON_TOP
    return chairs.AT_BOTTOM if voice.bottom else chairs.BETWEEN


def _neighbours(cells: Mapping[int, Events], bar: int) -> list[int]:
    """The bar and those close by, as far as the line does not rest."""
    found = [bar]
    for step in (-1, 1):
        for distance in range(1, AROUND + 1):
            if bar + step * distance not in cells:
                break
            found.append(bar + step * distance)
    return found
