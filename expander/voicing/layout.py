"""What is asked of a voicing's shape, and where tones lie.

All pitches are sounding; keys are MIDI key numbers (middle C = 60).
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from expander.model.pitch import Sounding
from expander.voicing.harmony import ChordTones, Tone

Layout = tuple[Sounding, ...]


class Ask(Struct, frozen=True):
    """What is wanted: `voices` notes of `chord` under `lead` (None: any top note).

    `low` and `high` bound the window for free top notes and for the lowest note of a rootless
    chord; `drops`, `forms` and `lowest` are the voicing's own data.
    """

    chord: ChordTones
    voices: int
    lead: Sounding | None = None
    low: int = 48
    high: int = 79
    drops: tuple[int, ...] = ()
    forms: tuple[tuple[str, ...], ...] = ()
    lowest: tuple[int, int] | None = None
    rootless: bool = False


def key_of(pitch: Sounding) -> int:
    """The MIDI key of a pitch; quarter tones count as the key below."""
    return int(pitch.semitone)


def below(tone: Tone, key: int) -> Sounding:
    """The tone at its highest place under a key."""
    return tone.at(key - 1 - (key - 1 - tone.pitch_class) % 12)


def above(tone: Tone, key: int) -> Sounding:
    """The tone at its lowest place over a key."""
    return tone.at(key + 1 + (tone.pitch_class - key - 1) % 12)


def leads(ask: Ask) -> Iterator[Sounding]:
    """The lead, or every chord tone of the window from the top down."""
    if ask.lead is not None:
        yield ask.lead
        return
    for key in range(ask.high, ask.low - 1, -1):
        tone = ask.chord.find(key % 12)
        if tone and tone.named:
            yield tone.at(key)


def options(chord: ChordTones, slot: str) -> tuple[Tone, ...]:
    """What may fill a slot: the symbol's own tones, stand-ins, then available tensions."""
    present = {t.degree for t in chord.sounding}
    swaps = tuple(t for degree, t in chord.instead if t.slot == slot and degree in present)
    extra = tuple(t for t in chord.available if t.slot == slot)
    return tuple(dict.fromkeys((*chord.slot(slot), *swaps, *extra)))


def chord_scale(chord: ChordTones) -> tuple[Tone, ...]:
    """The symbol's tones and the first available tension of each number, by pitch class."""
    spare: dict[int, Tone] = {}
    for tone in chord.available:
        spare.setdefault(tone.number, tone)
    tones = {t.pitch_class: t for t in (*spare.values(), *chord.sounding)}
    return tuple(tones[c] for c in sorted(tones))
