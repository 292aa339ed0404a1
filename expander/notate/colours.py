"""Technique, mute and instrument: said at the first note, cancelled at the first note without.

A player who changes instrument is warned after the last note and told at the entry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, field

from expander.model.instrument import Instrument
from expander.model.plan import Events, Task
from expander.model.rules import Technique
from expander.model.score import Bar, Direction, Mark
from expander.notate.lanes import NEVER, Lane, Piece, last_end
from expander.notate.turns import Turning, Way, dropped_for

_LOOKS_ALIKE = frozenset({"ord.", "nat.", ""})


class Colours(Struct):
    """What a lane says about its colour, and which instrument is in hand from which bar."""

    directions: dict[int, list[Direction]] = field(default_factory=dict)
    instruments: dict[int, Instrument] = field(default_factory=dict)

    def say(self, bar: int, direction: Direction) -> None:
        """Add a direction."""
        self.directions.setdefault(bar, []).append(direction)


def words(text: str, at: int, sound: Mark | None = None) -> Direction:
    """Text above the staff."""
    mark = Mark("direction-type", "words", (), text)
    return Direction(at, (mark,), placement="above", sound=sound)


class _Hand(Struct):
    """What a lane was last told: instrument, technique and mute, by which task and its turns.

    `heard` is what it last played: the bar and the events.
    """

    instrument: Instrument
    technique: Technique | None = None
    mute: Technique | None = None
    heard: tuple[int, Events] | None = None
    task: Task | None = None
    turn: int = 0

    def told(self) -> tuple[str, str, str]:
        """The state as ids, for comparing."""
        technique, mute = self.technique, self.mute
        return self.instrument.id, technique.id if technique else "", mute.id if mute else ""

    def like(self, other: _Hand) -> None:
        """Take over what another lane of the same player was told."""
        self.instrument, self.technique, self.mute = other.instrument, other.technique, other.mute
        self.heard, self.task, self.turn = other.heard, other.task, other.turn


START = (0, 0)


def colours(
    lanes: Sequence[Lane],
    first: Instrument,
    bars: Sequence[Bar],
    techniques: Mapping[str, Technique],
    sound_ids: Mapping[str, str],
    turning: Turning,
) -> list[Colours]:
    """Follow the lanes of one player through techniques, mutes and instruments.

    `first` is the instrument in hand at the start; `sound_ids` maps instrument ids to the ids of
    the part's playback sounds, for MusicXML's instrument-change. What one lane is told holds for
    the player's others too, unless they play at once in different colours.
    """
    found = [Colours() for _ in lanes]
    hands = [_Hand(first) for _ in lanes]
    follower = _Follower(bars, techniques, sound_ids, turning)
    for bar in sorted({bar for lane in lanes for bar in lane.pieces}):
        playing = []
        for lane, hand, said in zip(lanes, hands, found, strict=True):
            for piece in lane.pieces.get(bar, ()):
                if piece.first <= bars[bar].length:
                    follower.follow(said, hand, piece, bar)
                    playing.append(hand)
        if len(hands) > 1 and _agree(playing):
            for hand in hands:
                hand.like(playing[0])
    return found


def _agree(hands: Sequence[_Hand]) -> bool:
    return len(hands) == 1 or len({hand.told() for hand in hands}) == 1


class _Follower(Struct, frozen=True):
    """What is needed to follow a lane; see `colours`."""

    bars: Sequence[Bar]
    techniques: Mapping[str, Technique]
    sound_ids: Mapping[str, str]
    turning: Turning

    def follow(self, found: Colours, hand: _Hand, piece: Piece, bar: int) -> None:
        """Say what is new with a piece."""
        hand.heard, heard = (bar, piece.events), hand.heard
        own = self.turning.of(piece.task.strand)
        turn = own.count((bar, NEVER))
        if piece.task is hand.task and turn == hand.turn:
            return
        hand.task, hand.turn = piece.task, turn
        entry = (bar, piece.first)
        if piece.instrument.id != hand.instrument.id:
            place = entry if heard else START  # who has not played yet begins with it
            _change(found, piece.instrument, place, heard, self.bars, self.sound_ids)
            found.instruments[place[0]] = piece.instrument
            hand.instrument, hand.technique, hand.mute = piece.instrument, None, None
        wanted = _way(piece, own.at(entry), self.techniques)
        spoken = own.said_by(entry)
        for old, new, told in zip((hand.technique, hand.mute), wanted, spoken, strict=True):
            if new is not old and not told:
                for text, sound in _said(old, new):
                    found.say(bar, words(text, piece.first, sound))
        # All that stands in this bar of the sketch is said in it, after the last note as well.
        hand.technique, hand.mute = _way(piece, own.at((bar, NEVER)), self.techniques)


def _way(piece: Piece, own: Way, techniques: Mapping[str, Technique]) -> Way:
    """How a piece is played: as its entry of the plan says, else as the sketch itself says."""
    entry, instrument = piece.task.entry, piece.instrument
    given = (techniques.get(entry.technique), techniques.get(entry.mute))
    heard = [each if each and not dropped_for(each.on, instrument) else None for each in own]
    technique, mute = (_suited(a or b, instrument) for a, b in zip(given, heard, strict=True))
    return technique, mute


def _suited(technique: Technique | None, instrument: Instrument) -> Technique | None:
    return technique if technique and _suits(technique, instrument) else None


def _suits(technique: Technique, instrument: Instrument) -> bool:
    return not technique.families or instrument.family in technique.families


def _said(old: Technique | None, new: Technique | None) -> list[tuple[str, Mark | None]]:
    """The words of a change: the cancellation where it is needed, then the new colour."""
    said: list[tuple[str, Mark | None]] = []
    if old and (new is None or old.off not in _LOOKS_ALIKE) and old.off:
        said.append((old.off, _sound(old.sound_off, "off" if old.mute else "")))
    if new and new.on:
        said = [words for words in said if words[0] != new.on]
        said.append((new.on, _sound(new.sound, new.mute)))
    return said


def _sound(attributes: tuple[tuple[str, str], ...], mute: str) -> Mark | None:
    inner = f"<play><mute>{mute}</mute></play>" if mute else ""
    return Mark("direction", "sound", attributes, "", inner) if attributes or inner else None


def _change(
    found: Colours,
    instrument: Instrument,
    entry: tuple[int, int],
    heard: tuple[int, Events] | None,
    bars: Sequence[Bar],
    sound_ids: Mapping[str, str],
) -> None:
    name = instrument.name
    warned = _warning_place(heard, entry, bars)
    if warned:
        found.say(warned[0], words(f"to {name}", warned[1]))
    inner = f"<instrument-sound>{instrument.sound}</instrument-sound>" if instrument.sound else ""
    inner = (
        f'<instrument-change id="{sound_ids[instrument.id]}">{inner}</instrument-change>'
        if instrument.id in sound_ids
        else ""
    )
    found.say(entry[0], words(name, entry[1], Mark("direction", "sound", (), "", inner)))


def _warning_place(
    heard: tuple[int, Events] | None, entry: tuple[int, int], bars: Sequence[Bar]
) -> tuple[int, int] | None:
    """The rest right after the last note, if there is one before the entry."""
    if heard is None:
        return None
    bar, tick = heard[0], last_end(heard[1])
    if tick >= bars[bar].length:
        bar, tick = bar + 1, 0
    return (bar, tick) if (bar, tick) < entry else None
