"""Too long on high notes."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand
from expander.checks.phrasing import stretches
from expander.checks.reach import source_of
from expander.model.finding import Severity

TIRING = ("brass", "voice")
NEVER = 1e9


def detect(music: Music) -> Iterator[Hit]:
    """Stretches of brass and voices with more high notes than lips and throats like."""
    pause = figure("high-for-long", "pause")
    for stand in music.stands:
        lines = _lines(stand) if stand.family in TIRING else {}
        for voice in stand.voices if lines else ():
            for run in stretches(music, voice, pause):
                yield from _tiring(music, stand, [c for c in run if _is_high(c, lines)])


def _lines(stand: Stand) -> dict[int, float]:
    """By identity, from which height on notes are high for the instruments that get there."""
    below = figure("high-for-long", "below")
    tops = [(s, s.instrument.comfortable) for s in stand.spans]
    lines = [(s, float(s.instrument.sounding(top)[1].semitone) - below) for s, top in tops if top]
    return {id(span.instrument): line for span, line in lines if span.high >= line}


def _is_high(chord: Chord, lines: dict[int, float]) -> bool:
    if not chord.heads:
        return False
    return chord.top.height >= lines.get(id(chord.hand.instrument), NEVER)


def _tiring(music: Music, stand: Stand, high: list[Chord]) -> Iterator[Hit]:
    seconds = sum(chord.until - chord.since for chord in high)
    limit = figure("high-for-long", "seconds") * figure("no-breath", music.level)
    if seconds <= limit:
        return
    one = high[0].hand.instrument
    assert one is not None
    assert one.comfortable is not None
    line = str(one.sounding(one.comfortable)[1])
    yield Hit(
        stand,
        high[0].bar,
        high[0].at,
        f"{seconds:.0f} seconds of high notes (near and above sounding {line}) without a rest, "
        f"to bar {music.score.bars[high[-1].bar].number}.",
        figure=f"{limit:.0f} s",
        source=source_of(one, "comfortable"),
    )


CHECK = Check(
    id="high-for-long",
    title="Too long on high notes",
    finds="Brass or voices that stay near or above the top of their comfortable range.",
    why="Lips tire at the extremes and what comes after suffers; a voice is strained.",
    example="A trumpet on written G5 and A5 for sixteen bars.",
    instead="Change players, go down an octave for a phrase, or rest before the climax.",
    severity=Severity.WARNING,
    source="M. Zager, p. 123 (published: to be short); the time is common practice.",
    detect=detect,
    levels="Amateurs four fifths of the time, students three fifths.",
)
