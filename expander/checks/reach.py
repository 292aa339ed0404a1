"""Notes beyond an instrument's range, for both ends."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from expander.checks.check import Hit
from expander.checks.music import Chord, Head, Music, Stand, in_both, named
from expander.model.finding import Severity
from expander.model.instrument import Instrument, Range

_COLUMN = {"student": "student", "amateur": "comfortable", "professional": "professional"}
_UNPITCHED_HEADS = ("x", "slash", "none", "slashed", "cross", "circle-x", "do")


class Ends(Struct, frozen=True):
    """The end of an instrument's range in semitones: what the level asks for, and the widest."""

    asked: float
    widest: float


def beyond(music: Music, *, up: bool) -> Iterator[Hit]:
    """Notes past the upper (or lower) end. Harmonics are another check's business."""
    for stand in music.stands:
        ends = _passed(music, stand, up=up)
        for chord in stand.chords if ends else ():
            one = chord.hand.instrument
            limit = ends.get(one.id) if one else None
            if one and limit:
                yield from _hits(music, stand, chord, one, limit, up=up)


def _passed(music: Music, stand: Stand, *, up: bool) -> dict[str, Ends]:
    """The ends that a part goes past, by instrument; those of most parts are not."""
    known: dict[str, Ends | None] = {}
    passed: set[str] = set()
    for span in stand.spans:
        one = span.instrument
        ends = known.setdefault(one.id, _ends(music, one, up=up))
        if ends and (span.high if up else -span.low) > ends.asked:
            passed.add(one.id)
    return {name: ends for name, ends in known.items() if ends and name in passed}


def _ends(music: Music, one: Instrument, *, up: bool) -> Ends | None:
    """Both figures turned so that more is always further out."""
    asked = music.compass(one)
    if asked is None:
        return None
    sign, side = (1, 1) if up else (-1, 0)
    widest = one.widest or one.professional or asked
    figures = [sign * float(one.sounding(r)[side].semitone) for r in (asked, widest)]
    return Ends(figures[0], max(figures))


def _hits(
    music: Music, stand: Stand, chord: Chord, one: Instrument, ends: Ends, *, up: bool
) -> Iterator[Hit]:
    sign = 1 if up else -1
    for head in chord.heads:
        height = sign * head.height
        if height <= ends.asked or head.note.tie_stop or not _counts(head):
            continue
        yield _hit(music, stand, chord, one, head, up=up, impossible=height > ends.widest)


def _counts(head: Head) -> bool:
    if head.harmonic not in ("", "base"):
        return False
    return head.note.head is None or head.note.head.text not in _UNPITCHED_HEADS


def _hit(
    music: Music, stand: Stand, chord: Chord, one: Instrument, head: Head, *,
    up: bool, impossible: bool,
) -> Hit:  # fmt: skip
    column = "widest" if impossible and one.widest else _COLUMN[music.level]
    limit = _range(music, one, column)
    end = in_both(limit.high if up else limit.low, one, chord.hand)
    side = "above" if up else "below"
    kind = "the widest figure for" if column == "widest" else f"the {column} range of"
    edge = "top" if up else "bottom"
    return Hit(
        stand,
        chord.bar,
        chord.at,
        f"{named(head, chord.hand)} is {side} {kind} the {one.name.lower()}: {edge} {end}.",
        pitch=str(head.written),
        figure=end,
        severity=Severity.ERROR if impossible else Severity.WARNING,
        source=source_of(one, column),
    )


def _range(music: Music, one: Instrument, column: str) -> Range:
    found = one.widest if column == "widest" else music.compass(one)
    assert found is not None
    return found


def source_of(one: Instrument, column: str) -> str:
    """Where a range figure of an instrument comes from, with what it rests on."""
    for evidence in one.evidence:
        if evidence.figure == column:
            return f"{'; '.join(evidence.sources)} ({evidence.basis})"
    return source_of(one, "comfortable") if column == "student" else one.basis
