"""Written pitch and key: the instrument's transposition, spelled the usual way."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache, lru_cache

from msgspec import Struct
from msgspec.structs import replace

from expander.model.instrument import Instrument
from expander.model.pitch import SEMITONES, Drum, Interval, Sounding, Transposition, Written
from expander.model.score import Event, Harmony, Key, Mark

WrittenEvents = tuple[Event[Written], ...]

MOST_ACCIDENTALS = 6
_DIMINISHED_SECOND = Interval(1, 0)


class Spelling(Struct, frozen=True):
    """How a player reads: sounding to written `interval`, and the written key in `fifths`.

    `shown` is the key signature on the staff: `fifths`, or 0 for a part without signature.
    """

    interval: Interval
    fifths: int
    shown: int
    keyless: bool = False


def in_score(instrument: Instrument, *, concert: bool) -> Transposition:
    """What the staff's `<transpose>` says: at concert pitch only whole octaves remain.

    Octave-transposing instruments keep their octave in a score at concert pitch (common
    practice); others are shown as they sound.
    """
    own = instrument.transposition
    if concert and own.diatonic:
        return Transposition()
    return own


def for_part(move: Transposition) -> Mark:
    """MusicXML's `<for-part>`: how a part made from a score at concert pitch is transposed."""
    octave = f"<octave-change>{move.octave}</octave-change>" if move.octave else ""
    steps = f"<diatonic>{move.diatonic}</diatonic><chromatic>{move.chromatic}</chromatic>"
    return Mark("attributes", "for-part", inner=f"<part-transpose>{steps}{octave}</part-transpose>")


@lru_cache(maxsize=1024)
def spelling(transposition: Transposition, concert_fifths: int, *, keyless: bool) -> Spelling:
    """The written key and interval under a concert key.

    Where the transposed key would need more than six accidentals and its enharmonic twin needs
    fewer, the twin is taken and the notes are respelled with it.
    """
    interval = -transposition.interval
    fifths = concert_fifths + interval.fifths
    if interval.diatonic % 7 and abs(fifths) > MOST_ACCIDENTALS:
        turn = 1 if fifths > 0 else -1
        interval += _DIMINISHED_SECOND if turn > 0 else -_DIMINISHED_SECOND
        fifths -= 12 * turn
    return Spelling(interval, fifths, 0 if keyless else fifths, keyless)


def written_key(key: Key, spelled: Spelling) -> Key:
    """A concert key as the player reads it; signatures of other kinds only where untransposed."""
    if key.own and spelled.interval.fifths == 0 and not spelled.keyless:
        return key
    return Key(spelled.shown, "" if spelled.keyless else key.mode)


class _Written(dict[Sounding | Drum, Written | Drum]):
    """Pitches as they are written an interval away, each worked out once; strokes stay."""

    def __init__(self, interval: Interval) -> None:
        self._interval = interval

    def __missing__(self, pitch: Sounding | Drum) -> Written | Drum:
        found = pitch if isinstance(pitch, Drum) else written_pitch(pitch, self._interval)
        self[pitch] = found
        return found


_written = cache(_Written)


def written_pitch(pitch: Sounding, interval: Interval) -> Written:
    """A sounding pitch as written, without double accidentals that the sketch did not have."""
    moved: Sounding = pitch.moved(interval)
    if abs(float(moved.alter)) > max(1.0, abs(float(pitch.alter))):
        moved = _simpler(moved)
    return Written(moved.step, moved.alter, moved.octave)


def _simpler(pitch: Sounding) -> Sounding:
    """The enharmonic neighbour with the smallest alteration, on the letter it leans to."""
    turn = 1 if pitch.alter > 0 else -1
    octave, step = divmod(pitch.diatonic + turn, 7)
    natural = 12 * (octave + 1) + SEMITONES[step]
    return Sounding(step, pitch.semitone - natural, octave)


def written_voice(events: Sequence[Event[Sounding]], interval: Interval) -> WrittenEvents:
    """The events of a voice at written pitch."""
    known = _written(interval)
    written: list[Event[Written]] = []
    for event in events:
        notes = [replace(note, pitch=known[note.pitch]) for note in event.notes]
        written.append(replace(event, notes=tuple(notes)) if notes else event)  # type: ignore[arg-type]
    return tuple(written)


def written_event(event: Event[Sounding], interval: Interval) -> Event[Written]:
    """One event at written pitch."""
    return written_voice((event,), interval)[0]


def written_harmony(harmony: Harmony[Sounding], interval: Interval) -> Harmony[Written]:
    """A chord symbol in the player's key."""
    root = _moved_name(harmony.root, interval)
    bass = _moved_name(harmony.bass, interval)
    return replace(harmony, root=root, bass=bass)  # type: ignore[arg-type]


def _moved_name(name: tuple[int, int] | None, interval: Interval) -> tuple[int, int] | None:
    if name is None:
        return None
    pitch = written_pitch(Sounding(name[0], name[1], 4), interval)
    return pitch.step, int(pitch.alter)
