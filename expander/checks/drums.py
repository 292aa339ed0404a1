"""Kettledrums: which drum plays which pitch, and when one has to be retuned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

from msgspec import Struct

from expander.catalogue.limits import limits
from expander.checks.music import Chord

USUAL = ("drum of 32 inches", "drum of 29 inches", "drum of 26 inches", "drum of 23 inches")
NEVER = 1 << 60


@cache
def drum_spans() -> tuple[tuple[int, int], ...]:
    """The four usual drums' ranges in semitones, the largest first."""
    rows = {row.what: row.sounding() for row in limits("timpani") if "inches" in row.what}
    return tuple((int(rows[d][0].semitone), int(rows[d][1].semitone)) for d in USUAL)


class Stroke(Struct, frozen=True):
    """One pitch struck."""

    height: int
    chord: Chord


class Retuning(Struct, frozen=True):
    """A drum that has to change pitch: from the tick it was last needed to the stroke."""

    since: int
    stroke: Stroke
    old: int


def strokes_of(chords: Sequence[Chord]) -> list[Stroke]:
    """All pitches in order of time."""
    return [Stroke(h.height, c) for c in chords for h in c.heads if h.struck]


def retunings(strokes: Sequence[Stroke]) -> Iterator[Retuning]:
    """The retunings that are left when every drum is chosen well.

    A new pitch goes to a fitting drum that is still free, else to the one whose pitch is wanted
    again last; drums are set before the first note.
    """
    spans = drum_spans()
    tuned: list[int | None] = [None] * len(spans)
    used = [-NEVER] * len(spans)
    uses = _uses(strokes)
    for stroke in strokes:
        now = stroke.chord.start
        drum = _holding(tuned, stroke.height)
        if drum is None:
            drum = _chosen(spans, tuned, stroke.height, now, uses)
            if drum is None:
                continue
            old = tuned[drum]
            if old is not None:
                yield Retuning(used[drum], stroke, old)
            tuned[drum] = stroke.height
        used[drum] = max(used[drum], stroke.chord.end)


def _uses(strokes: Sequence[Stroke]) -> dict[int, list[int]]:
    found: dict[int, list[int]] = {}
    for stroke in strokes:
        found.setdefault(stroke.height, []).append(stroke.chord.start)
    return found


def _holding(tuned: Sequence[int | None], height: int) -> int | None:
    return next((i for i, pitch in enumerate(tuned) if pitch == height), None)


def _chosen(
    spans: Sequence[tuple[int, int]],
    tuned: Sequence[int | None],
    height: int,
    now: int,
    uses: dict[int, list[int]],
) -> int | None:
    fitting = [i for i, (low, high) in enumerate(spans) if low <= height <= high]
    if not fitting:
        return None
    return max(fitting, key=lambda i: _next_use(tuned[i], now, uses))


def _next_use(pitch: int | None, now: int, uses: dict[int, list[int]]) -> int:
    if pitch is None:
        return NEVER
    return next((tick for tick in uses[pitch] if tick >= now), NEVER - 1)
