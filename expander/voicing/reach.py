"""Which notes each voice of a built chord may have: what those who will read it can play.

A chord is dealt from the top down, so the voices are foreseen in the order in which `share` will
deal them: every group that plays the whole chord by itself counts, and a voice has the notes that
are comfortable for all its readers. Keys are MIDI key numbers, sounding.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec import Struct

from expander.model.instrument import Ensemble, Seat
from expander.voicing.deal import Desk
from expander.voicing.share import desks_of, plays_chords, pools_of

Reach = tuple[tuple[int, int], ...]
"""The lowest and highest key of each voice, from the top voice down; empty: not known."""

NARROWEST = 7
"""Semitones below which two groups have no register in common worth voicing in."""


class Party(Struct, frozen=True):
    """Those who play a strand in one entry of the plan, `octave` octaves up.

    `pools` tells for each seat which name of the entry's `by` it came in with.
    """

    seats: tuple[Seat, ...]
    pools: tuple[int, ...]
    octave: int = 0


def reaches(parties: Sequence[Party], voices: int, ensemble: Ensemble) -> Reach:
    """The compass of each voice, from the top down.

    Where readers of one voice have next to nothing in common, the earlier entry counts. Empty
    where nobody with a known range plays.
    """
    rows = [row for party in parties for row in _rows(party, voices, ensemble)]
    if not rows:
        return ()
    found = rows[0]
    for row in rows[1:]:
        found = tuple(_common(mine, theirs) for mine, theirs in zip(found, row, strict=True))
    return found


def compass_of(reach: Reach) -> tuple[int, int] | None:
    """From the lowest to the highest key of all voices."""
    if not reach:
        return None
    return min(low for low, _ in reach), max(high for _, high in reach)


def _rows(party: Party, voices: int, ensemble: Ensemble) -> Iterator[Reach]:
    """The compass of each voice, once for each group or player who has the whole chord."""
    for pool in pools_of(party.seats, party.pools, voices):
        desks = [desk for _, _, desk in desks_of(pool, voices, ensemble)]
        yield from _row(desks, voices, party.octave)
    for seat in party.seats:
        if plays_chords(seat):
            desks = [desk for _, _, desk in desks_of((seat,), 1, ensemble)]
            yield from _row(desks, voices, party.octave)


def _row(desks: Sequence[Desk], voices: int, octave: int) -> Iterator[Reach]:
    """The voices in order over the desks from the highest register down."""
    known = sorted((r for desk in desks if (r := _comfort(desk))), key=sum, reverse=True)
    if known:
        places = [voice * len(known) // voices for voice in range(voices)]
        yield tuple((known[p][0] - 12 * octave, known[p][1] - 12 * octave) for p in places)


def _comfort(desk: Desk) -> tuple[int, int] | None:
    if desk.comfortable_low is None or desk.comfortable_high is None:
        return None
    return desk.comfortable_low, desk.comfortable_high


def _common(one: tuple[int, int], other: tuple[int, int]) -> tuple[int, int]:
    low, high = max(one[0], other[0]), min(one[1], other[1])
    return (low, high) if high - low >= NARROWEST else one
