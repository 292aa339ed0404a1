"""Long stretches outside the comfortable register."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.checks.reach import source_of
from expander.model.finding import Severity
from expander.model.instrument import Instrument

GAP = 2.0
"""Seconds of rest that end a stretch."""


def detect(music: Music) -> Iterator[Hit]:
    """Stretches that stay above or below the comfortable range for long."""
    for stand in music.stands:
        if stand.instrument and stand.instrument.comfortable:
            yield from _stretches(music, stand)


def _stretches(music: Music, stand: Stand) -> Iterator[Hit]:
    ends = _left(stand)
    run: list[Chord] = []
    side = 0
    for chord in (*stand.chords, None) if ends else ():
        now = _side(chord, ends) if chord else 0
        broken = now != side or (run and chord and chord.since - run[-1].until > GAP)
        if broken and run:
            yield from _told(music, stand, run, side)
            run = []
        if chord and now:
            run.append(chord)
        side = now


def _left(stand: Stand) -> dict[str, tuple[float, float]]:
    """The comfortable ranges that a part leaves, by instrument."""
    known: dict[str, tuple[float, float] | None] = {}
    left: set[str] = set()
    for span in stand.spans:
        ends = known.setdefault(span.instrument.id, _ends(span.instrument))
        if ends and (span.low < ends[0] or span.high > ends[1]):
            left.add(span.instrument.id)
    return {name: ends for name, ends in known.items() if ends and name in left}


def _side(chord: Chord, ends: dict[str, tuple[float, float]]) -> int:
    """1 above the comfortable range, -1 below, 0 inside."""
    one, heads = chord.hand.instrument, chord.heads
    limits = ends.get(one.id) if one else None
    if limits is None or not heads or heads[0].harmonic:
        return 0
    low, high = limits
    if low <= heads[0].height <= high and len(heads) == 1:
        return 0
    return 1 if chord.bottom.height > high else -1 if chord.top.height < low else 0


def _ends(one: Instrument) -> tuple[float, float] | None:
    if one.comfortable is None:
        return None
    low, high = one.sounding(one.comfortable)
    return float(low.semitone), float(high.semitone)


def _told(music: Music, stand: Stand, run: list[Chord], side: int) -> Iterator[Hit]:
    seconds = run[-1].until - run[0].since
    limit = figure("outside-comfort", "seconds")
    one = run[0].hand.instrument
    if seconds < limit or one is None or one.comfortable is None:
        return
    where = "above" if side > 0 else "below"
    ends = " to ".join(str(p) for p in one.sounding(one.comfortable))
    yield Hit(
        stand,
        run[0].bar,
        run[0].at,
        f"stays {where} the comfortable register (sounding {ends}) for {seconds:.0f} seconds, "
        f"to bar {music.score.bars[run[-1].bar].number}.",
        figure=f"{limit:.0f} s",
        source=source_of(one, "comfortable"),
    )


CHECK = Check(
    id="outside-comfort",
    title="Long outside the comfortable register",
    finds="A passage that stays above or below the comfortable range for long without a rest.",
    why="Single notes at the edge are colour; a page of them tires the player and the ear.",
    example="Twenty seconds of first violins above B6.",
    instead="Take the phrase down an octave for a while, or let another player have half of it.",
    severity=Severity.NOTE,
    source="Comfortable ranges of the catalogue; the length of time is common practice.",
    detect=detect,
)
