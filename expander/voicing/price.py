"""What a voicing costs: chord tones that are missing, and sounds to keep out.

Keys are MIDI key numbers, sounding, from the top voice down. The prices are in `prices.toml`;
the sum is a whole number, lower is better, so that choices are exact and repeatable.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from msgspec import Struct

from expander.model.tables import table
from expander.voicing.harmony import SLOTS, ChordTones, Tone
from expander.voicing.limits import FREE, Limits

STRAIN = 3
"""Semitones at the top of a comfortable compass that tire when they last."""


class Terms(Struct, frozen=True):
    """The conditions a voicing is judged under.

    `limits` are the low interval limits, `low` and `high` the players' compass in sounding
    keys; `reach` those of each voice by itself, from the top down, where known. `long` is true
    under a lead longer than a quarter; `rich` where usual tensions are welcome; `scale` where
    added tensions cost nothing; `seconds` where seconds are wanted.
    """

    limits: Limits = FREE
    low: int = 0
    high: int = 127
    reach: tuple[tuple[int, int], ...] = ()
    long: bool = False
    rich: bool = False
    scale: bool = False
    seconds: bool = False


def prices() -> Mapping[str, Mapping[str, int]]:
    """All prices by group."""
    return table(__file__, "prices.toml")


def price(keys: Sequence[int], chord: ChordTones, terms: Terms) -> int:
    """The whole price of a voicing of a chord."""
    return content_price([k % 12 for k in keys], chord, terms) + sound_price(keys, chord, terms)


def content_price(classes: Sequence[int], chord: ChordTones, terms: Terms) -> int:
    """Missing, unasked and doubled tones; `classes` are pitch classes, the lead's first."""
    present = frozenset(classes)
    missing = sum(_slot_price(chord, slot, present) for slot in SLOTS)
    return missing + _added(chord, classes, terms) + _doubled(chord, classes)


def _slot_price(chord: ChordTones, slot: str, present: frozenset[int]) -> int:
    table = prices()["content"]
    mine = chord.slot(slot)
    tensions = [t for t in mine if t.is_tension]
    lost = table["tension"] * sum(t.pitch_class not in present for t in tensions)
    own = chord.own(slot)
    if own is None or own.pitch_class in present or tensions:
        return lost
    if any(k == own.degree and t.pitch_class in present for k, t in chord.instead):
        return lost
    altered = slot == "fifth" and own.shift
    return lost + table["altered" if altered else slot]


def _added(chord: ChordTones, classes: Sequence[int], terms: Terms) -> int:
    table = prices()["content"]
    named = {t.pitch_class for t in chord.tones}
    avoid = {t.pitch_class for t in chord.avoid} | {t.pitch_class for t in chord.omitted}
    total = 0
    for pitch_class in dict.fromkeys(classes[1:]):
        if pitch_class in avoid:
            total += table["avoid"]
        elif pitch_class not in named:
            total += _unasked(chord.find(pitch_class), terms, chord.usual)
    return total


def _unasked(tone: Tone | None, terms: Terms, usual: Iterable[str]) -> int:
    table = prices()["content"]
    if tone and terms.rich and tone.degree in usual:
        return table["usual"]
    return 0 if terms.scale and tone else table["unasked"]


def _doubled(chord: ChordTones, classes: Sequence[int]) -> int:
    table = prices()["doubled"]
    total = 0
    for pitch_class in dict.fromkeys(classes):
        extra = classes.count(pitch_class) - 1
        tone = chord.find(pitch_class) if extra else None
        kind = "tension" if tone is None or tone.is_tension else tone.slot
        total += extra * table[kind]
    return total


def sound_price(keys: Sequence[int], chord: ChordTones, terms: Terms) -> int:
    """Rubs, minor ninths, clusters, low intervals, wide gaps, notes out of compass."""
    table = prices()["sound"]
    return sum(table[fault] * count for fault, count in sound_faults(keys, chord, terms).items())


def sound_faults(keys: Sequence[int], chord: ChordTones, terms: Terms) -> dict[str, int]:
    """What is doubtful in a voicing's sound and how often, by the names in `prices.toml`.

    `keys` from the top voice down. Faults that do not occur are left out.
    """
    gaps = [high - low for high, low in pairwise(keys)]
    found = {
        **_second_under_lead(gaps, terms),
        **_inner_seconds(gaps, terms),
        "minor_ninth": _minor_ninths(keys, chord),
        "too_low": len(terms.limits.too_low(keys, chord.root.pitch_class)),
        "wide": sum(gap > 12 for gap in gaps[:-1]),
        "outside": _outside(keys, terms),
        "strained": sum(k > high - STRAIN for k, (_, high) in zip(keys, terms.reach, strict=False)),
    }
    return {fault: count for fault, count in found.items() if count}


def _outside(keys: Sequence[int], terms: Terms) -> int:
    """Notes that their players do not have; of a lead given from elsewhere nothing is asked."""
    if len(terms.reach) != len(keys):
        return sum(not terms.low <= k <= terms.high for k in keys)
    return sum(not low <= k <= high for k, (low, high) in zip(keys, terms.reach, strict=True))


def _second_under_lead(gaps: Sequence[int], terms: Terms) -> dict[str, int]:
    top = gaps[0] if gaps else 0
    if top == 1:
        return {"rub": 1}
    if top != 2 or terms.seconds:
        return {}
    return {"long_second" if terms.long else "second": 1}


def _inner_seconds(gaps: Sequence[int], terms: Terms) -> dict[str, int]:
    if terms.seconds:
        return {}
    rows = sum(0 < a <= 2 and 0 < b <= 2 for a, b in pairwise(gaps))
    return {"cluster": rows, "inner_semitone": sum(g == 1 for g in gaps[1:])}


def _minor_ninths(keys: Sequence[int], chord: ChordTones) -> int:
    """Pairs a minor ninth apart, octaves added; dominants may have theirs above the root."""
    allowed = chord.root.pitch_class if chord.quality in ("dominant", "augmented") else -1
    return sum(
        high - low >= 13 and (high - low) % 12 == 1 and low % 12 != allowed
        for i, high in enumerate(keys)
        for low in keys[i + 1 :]
    )
