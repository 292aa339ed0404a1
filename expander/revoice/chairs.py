"""The new players, and how well a line suits each of them.

Conventions
    Heights are sounding semitones. Prices are common practice, no source: they order the
    possibilities and mean nothing else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from expander.model.dynamics import LEVELS
from expander.model.instrument import Ensemble, Instrument, Player
from expander.model.tables import table
from expander.revoice.lines import Line, Owner

CHORDAL = 4
"""From how many notes at once an instrument plays whole chords by itself."""

UNKNOWN = "piano"
"""What reads the part of an instrument that was not recognised."""

HANDS = 6
"""Lines a keyboard or harp takes at most, so that they lie under two hands."""

DIVIDING = 4
"""Readers of a part from which a section can divide in two."""

SHIFTS = (0, -1, 1, -2, 2)
"""Octaves tried, the likelier first."""

OUT = 30.0  # per semitone beyond the professional range
STRAINED = 2.0  # per semitone beyond the comfortable register
MOVED = 7.0  # per octave
Moved = tuple[float, float]
"""What an octave up and an octave down cost a line."""

ON_TOP: Moved = (6.0, 16.0)
AT_BOTTOM: Moved = (16.0, 6.0)
BETWEEN: Moved = (14.0, 10.0)
"""A top line moved down would be hidden, a bass moved up likewise; inner lines would cross."""

AWAY = 0.25  # per semitone from the middle of the comfortable register
STRANGER = 18.0  # another kind of player, not in the list of colleagues
FAMILY = 4.0  # a colleague of the same family comes before one of another
RANK = 6.0  # the second player for the first player's line, and the reverse
DESK = 40.0  # a section divides, a player takes a second line
FORBIDDEN = 100_000.0


class Chair(Struct, frozen=True):
    """A place for one line: a player, or one of the lines a player can take at a time.

    `desk` is 0 for the first. `rank` is the place among players of the same instrument, from 0.0
    for the first to 1.0 for the last.
    """

    number: int
    player: int
    desk: int
    instrument: Instrument
    low: int
    high: int
    soft_low: int
    soft_high: int
    rank: float

    @property
    def middle(self) -> float:
        """The middle of the comfortable register."""
        return (self.soft_low + self.soft_high) / 2

    @property
    def pitched(self) -> bool:
        """False for drums without pitch."""
        return self.instrument.pitched

    @property
    def sings(self) -> bool:
        """True for singers."""
        return self.instrument.family == "voice"


def chairs_of(ensemble: Ensemble) -> tuple[Chair, ...]:
    """Every place for a line, first desks before the others of the same player."""
    found: list[Chair] = []
    for index, player in enumerate(ensemble.players):
        for desk in range(_desks(player)):
            found.append(_chair(len(found), index, desk, player.instrument, ensemble))
    return tuple(found)


def _desks(player: Player) -> int:
    one = player.instrument
    if not one.pitched or one.family == "pitched percussion":
        return 1
    if one.at_once >= CHORDAL and one.family != "strings":
        return min(one.at_once, HANDS)
    return 2 if player.size >= DIVIDING and one.family in ("strings", "voice") else 1


def _chair(number: int, player: int, desk: int, one: Instrument, ensemble: Ensemble) -> Chair:
    low, high, soft_low, soft_high = 0, 127, 0, 127
    if one.professional and one.comfortable:
        low, high = (int(p.semitone) for p in one.sounding(one.professional))
        soft_low, soft_high = (int(p.semitone) for p in one.sounding(one.comfortable))
    alike = [i for i, p in enumerate(ensemble.players) if p.instrument.id == one.id]
    rank = alike.index(player) / max(1, len(alike) - 1)
    return Chair(number, player, desk, one, low, high, soft_low, soft_high, rank)


# -- how well they suit ----------------------------------------------------------------------------


def _tables() -> Mapping[str, Mapping[str, object]]:
    return table(__file__, "colleagues.toml")


def joins_at(instrument: Instrument) -> int:
    """The level from which a player without a line of their own doubles another's."""
    joins = _tables()["joins"]
    name = joins.get(instrument.id, joins.get(instrument.section, "mf"))
    return -1 if name == "n" else LEVELS.index(str(name))


def kinship(owner: Owner, chair: Chair) -> float:
    """What it costs that a line passes from its owner to another kind of player."""
    old, new = owner.instrument, chair.instrument
    if old is None:
        return STRANGER / 2
    if old.id == new.id or old.section == new.section != "saxophones":
        return 0.0
    if old.family == new.family == "voice":
        return 2.0
    row = _tables()["instead"].get(old.section, ())
    names = list(row) if isinstance(row, list) else []
    for place, name in enumerate(names):
        if name in (new.id, new.section):
            return min(STRANGER, 2.0 + 2.0 * place + FAMILY * (old.family != new.family))
    return STRANGER


class Reach(Struct, frozen=True):
    """How high a line lies around a bar: lowest, highest and mean height."""

    low: int
    high: int
    mean: float


def misfit(reach: Reach, chair: Chair, moved: Moved = (MOVED, MOVED)) -> float:
    """What it costs a player to play there, in the best octave; `moved` per octave up and down."""
    up, down = moved
    return min(
        _misfit(reach, chair, 12 * octave) + (up * octave if octave > 0 else -down * octave)
        for octave in SHIFTS
    )


def _misfit(reach: Reach, chair: Chair, move: int) -> float:
    low, high = reach.low + move, reach.high + move
    out = max(0, chair.low - low) + max(0, high - chair.high)
    strained = max(0, chair.soft_low - low) + max(0, high - chair.soft_high)
    return OUT * out + STRAINED * strained + AWAY * abs(reach.mean + move - chair.middle)


def suits(line: Line, chair: Chair, all_sing: bool) -> bool:
    """False where a line is nothing for a player: pitch for drums, wordless lines for a singer."""
    if line.unpitched or not chair.pitched:
        return line.unpitched and not chair.pitched
    if chair.instrument.family == "pitched percussion":
        old = line.owner.instrument
        drums = {"timpani"} & {chair.instrument.id, old.id if old else ""}
        same = old is not None and old.family == "pitched percussion"
        return same and (not drums or (old is not None and old.id == chair.instrument.id))
    return not chair.sings or all_sing or line.owner.sung


def ranks(owners: Sequence[Owner]) -> dict[int, float]:
    """Each owner's place among those with the same instrument, 0.0 first to 1.0 last."""
    found: dict[int, float] = {}
    for owner in owners:
        alike = [o.part for o in owners if _id(o) == _id(owner)]
        found[owner.part] = alike.index(owner.part) / max(1, len(alike) - 1)
    return found


def homes_of(owners: Sequence[Owner], chairs: Sequence[Chair]) -> dict[int, int]:
    """Chairs whose player had a part in the original, with that part.

    Where as many players of an instrument are there as had parts, each has their own again.
    """
    parts: dict[str, list[int]] = {}
    for owner in owners:
        parts.setdefault(_id(owner), []).append(owner.part)
    players: dict[str, list[int]] = {}
    for chair in chairs:
        row = players.setdefault(chair.instrument.id, [])
        if chair.player not in row:
            row.append(chair.player)
    homes = {
        player: part
        for name, row in players.items()
        if len(parts.get(name, ())) == len(row)
        for player, part in zip(row, parts[name], strict=True)
    }
    return {c.number: homes[c.player] for c in chairs if c.player in homes}


def _id(owner: Owner) -> str:
    return owner.instrument.id if owner.instrument else UNKNOWN
