"""Technique, mute and instrument: said at the first note, cancelled at the first note without.

A player who changes instrument is warned after the last note and told at the entry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct, field

from expander.model.instrument import Instrument
from expander.model.plan import Task
from expander.model.rules import Technique
from expander.model.score import Bar, Direction, Mark
from expander.notate.lanes import NEVER, Lane, Piece, first_note, last_end
from expander.notate.turns import Turning, Turns, Way, dropped_for

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
    """What a lane was last told: instrument, technique and mute, and where it last sounded."""

    instrument: Instrument
    technique: Technique | None = None
    mute: Technique | None = None
    ended: tuple[int, int] | None = None
    task: Task | None = None

    def told(self) -> tuple[str, str, str]:
        """The state as ids, for comparing."""
        colour = (each.id if each else "" for each in (self.technique, self.mute))
        return (self.instrument.id, *colour)  # type: ignore[return-value]

    def like(self, other: _Hand) -> None:
        """Take over what another lane of the same player was told."""
        self.instrument, self.technique, self.mute = other.instrument, other.technique, other.mute
        self.ended, self.task = other.ended, other.task


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
    for bar in sorted({bar for lane in lanes for bar in lane.pieces}):
        playing = []
        for lane, hand, said in zip(lanes, hands, found, strict=True):
            for piece in lane.pieces.get(bar, ()):
                at = first_note(piece.events)
                if at <= bars[bar].length:
                    own = turning.of(piece.task.strand)
                    _follow(said, hand, piece, (bar, at), bars, techniques, sound_ids, own)
                    playing.append(hand)
        if len(hands) > 1 and len({hand.told() for hand in playing}) == 1:
            for hand in hands:
                hand.like(playing[0])
    return found


def _follow(
    found: Colours,
    hand: _Hand,
    piece: Piece,
    entry: tuple[int, int],
    bars: Sequence[Bar],
    techniques: Mapping[str, Technique],
    sound_ids: Mapping[str, str],
    own: Turns,
) -> None:
    bar, at = entry
    hand.ended, ended = (bar, last_end(piece.events)), hand.ended
    if piece.task is hand.task and not own.places:
        return
    hand.task = piece.task
    if piece.instrument.id != hand.instrument.id:
        _change(found, piece.instrument, entry, ended, bars, sound_ids)
        found.instruments[bar] = piece.instrument
        hand.instrument, hand.technique, hand.mute = piece.instrument, None, None
    wanted = _way(piece, own.at(entry), techniques)
    spoken = own.said_by(entry)
    for old, new, told in zip((hand.technique, hand.mute), wanted, spoken, strict=True):
        if new is not old and not told:
            for text, sound in _said(old, new):
                found.say(bar, words(text, at, sound))
    # All that stands in this bar of the sketch is said in it, after the last note as well.
    hand.technique, hand.mute = _way(piece, own.at((bar, NEVER)), techniques)


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
    ended: tuple[int, int] | None,
    bars: Sequence[Bar],
    sound_ids: Mapping[str, str],
) -> None:
    name = instrument.name
    warned = _warning_place(ended, entry, bars)
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
    ended: tuple[int, int] | None, entry: tuple[int, int], bars: Sequence[Bar]
) -> tuple[int, int] | None:
    """The rest right after the last note, if there is one before the entry."""
    if ended is None:
        return (0, 0) if entry > (0, 0) else None
    bar, tick = ended
    if tick >= bars[bar].length:
        bar, tick = bar + 1, 0
    return (bar, tick) if (bar, tick) < entry else None
