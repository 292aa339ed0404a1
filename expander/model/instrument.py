"""An instrument and a line-up of players, as values.

Conventions
    All ranges are written pitch, as in the player's part; `Instrument.sounding` converts.
    Families: woodwind, brass, pitched percussion, unpitched percussion, keyboard, plucked,
    strings, voice.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from expander.model.pitch import Sounding, Transposition, Written
from expander.model.score import Bracket, Clef


class Range(Struct, frozen=True):
    """A compass from `low` to `high`, both included, written pitch."""

    low: Written
    high: Written

    def holds(self, pitch: Written) -> bool:
        """True where the pitch lies inside."""
        return self.low.semitone <= pitch.semitone <= self.high.semitone


class ClefHabit(Struct, frozen=True):
    """A clef an instrument reads and the written pitches it is used for (None: no limit)."""

    clef: Clef
    low: Written | None = None
    high: Written | None = None


class Evidence(Struct, frozen=True):
    """Where a figure comes from: `basis` is published, common practice or memory.

    `figure` is professional, comfortable, student, widest, or "facts" for what has no compass.
    `sources` are written out, each with the page where there is one.
    """

    figure: str
    basis: str
    sources: tuple[str, ...]


class Instrument(Struct, frozen=True):
    """Facts about an instrument, true for every user.

    `name` is for the score ("Clarinet"), `key` its key where it transposes by name ("B♭"),
    `plural` and `short` its other forms. `order` is its place in orchestral score order. Ranges
    are None for unpitched instruments: `widest` the widest figure met, `professional` what
    a professional can be asked for, `comfortable` safe for a whole passage or average player.
    `student` is for school players where a source gives a figure of its own, else `comfortable`.
    `section` is the plural a rule calls them by ("trombones" holds the bass trombone), `kin` the
    wider family of like instruments ("flute family": piccolo to bass flute), "" where it is alone.
    `clefs` has one list per staff, the default clef first. `at_once` is how many notes one player
    can sound. `strings` are open strings, sounding. `mutes` names the mutes it takes, `techniques`
    the playing techniques. `sound` is an id of the MusicXML sound list, `program` General MIDI
    1-128 (0: channel 10 percussion). `drum_keys` maps a sound's name to its MIDI key (from 1).
    `drum_places` gives each of those sounds its staff place (a treble-clef pitch name) and head.
    `keyless` instruments are traditionally written without key signature when asked.
    `sources` and `basis` are those of the professional range; `evidence` has every figure's.
    """

    id: str
    name: str
    plural: str
    short: str
    family: str
    section: str
    order: int
    transposition: Transposition
    clefs: tuple[tuple[ClefHabit, ...], ...]
    sound: str
    program: int
    key: str = ""
    professional: Range | None = None
    comfortable: Range | None = None
    widest: Range | None = None
    breath: bool = False
    at_once: int = 1
    strings: tuple[Sounding, ...] = ()
    mutes: tuple[str, ...] = ()
    techniques: tuple[str, ...] = ()
    drum_keys: tuple[tuple[str, int], ...] = ()
    sources: tuple[str, ...] = ()
    basis: str = ""
    notes: str = ""
    aliases: tuple[str, ...] = ()
    student: Range | None = None
    kin: str = ""
    keyless: bool = False
    drum_places: tuple[tuple[str, str, str], ...] = ()
    evidence: tuple[Evidence, ...] = ()

    @property
    def pitched(self) -> bool:
        """False for instruments without definite pitch."""
        return self.professional is not None

    @property
    def concert_keeps(self) -> bool:
        """True where a score at concert pitch still shows it in another octave than it sounds."""
        way = self.transposition
        return way.octave != 0 and way.diatonic == way.chromatic == 0

    @property
    def staves(self) -> int:
        """How many staves it is written on."""
        return len(self.clefs)

    def sounding(self, compass: Range) -> tuple[Sounding, Sounding]:
        """A written compass as heard, low then high."""
        move = self.transposition.sounding
        return move(compass.low), move(compass.high)


class Player(Struct, frozen=True):
    """One player, or one string section reading one part.

    `name` is what rules call them, lower case ("clarinet 1", "violins 1"); `label` and `short`
    stand in the score. The first of `instruments` is the one they start on. `size` is how many
    people read the part: more than 1 can divide. An `optional` player who gets nothing to play is
    left out of the score. A `keyless` player's part has no key signature.
    """

    name: str
    label: str
    short: str
    instruments: tuple[Instrument, ...]
    size: int = 1
    optional: bool = False
    keyless: bool = False

    @property
    def instrument(self) -> Instrument:
        """The one they start on."""
        return self.instruments[0]


class Stave(Struct, frozen=True):
    """One line of the score: one player, or two to three like players who share a staff.

    `players` are indices into `Ensemble.players`. An `optional` stave is left out of the score
    where none of its players has anything to play.
    """

    label: str
    short: str
    players: tuple[int, ...]
    optional: bool = False


class Ensemble(Struct, frozen=True):
    """A line-up in score order.

    `groups` maps every name a rule may use, at every level, to player indices in score order:
    player, section ("flutes"), family ("woodwinds"), the ensemble's own groups ("upper strings")
    and "tutti". `doubling` maps the names that mean a player with another instrument in hand than
    the one they start on ("piccolo": flute 2 with the piccolo). `brackets` are over `staves`.
    `top_staves` are the indices of staves above which tempo and rehearsal marks stand.
    """

    id: str
    title: str
    players: tuple[Player, ...]
    staves: tuple[Stave, ...]
    groups: Mapping[str, tuple[int, ...]]
    brackets: tuple[Bracket, ...]
    top_staves: tuple[int, ...] = (0,)
    description: str = ""
    doubling: Mapping[str, tuple[Seat, ...]] = field(default_factory=dict)


_RHYTHM_SECTION = "rhythm section"
_BY_SYMBOLS = frozenset({"piano", "acoustic-guitar", "electric-guitar", "electric-bass", "organ"})


def symbol_readers(ensemble: Ensemble) -> set[int]:
    """Players who read chord symbols: the rhythm section, or else pianos, guitars and the like."""
    players = ensemble.players
    if _RHYTHM_SECTION in ensemble.groups:
        return {i for i in ensemble.groups[_RHYTHM_SECTION] if players[i].instrument.pitched}
    return {i for i, player in enumerate(players) if player.instrument.id in _BY_SYMBOLS}


class Seat(Struct, frozen=True):
    """A player with one of their instruments in hand. `player` indexes `Ensemble.players`."""

    player: int
    instrument: Instrument
