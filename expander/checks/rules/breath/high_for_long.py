"""Too long on high notes."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand, lines
from expander.checks.phrasing import Run, stretches
from expander.checks.reach import source_of
from expander.model.finding import Severity

TIRING = ("brass", "voice")


def detect(music: Music) -> Iterator[Hit]:
    """Stretches of brass and voices with more high notes than lips and throats like."""
    pause = figure("high-for-long", "pause")
    for stand, voice in lines(s for s in music.stands if s.family in TIRING):
        for run in stretches(music, voice, pause):
            yield from _tiring(music, stand, run)


def _tiring(music: Music, stand: Stand, run: Run) -> Iterator[Hit]:
    high = [chord for chord in run if _is_high(chord)]
    seconds = sum(music.seconds(chord.start, chord.end) for chord in high)
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


def _is_high(chord: Chord) -> bool:
    one = chord.hand.instrument
    if one is None or one.comfortable is None or not chord.heads:
        return False
    top = float(one.sounding(one.comfortable)[1].semitone)
    return chord.top.height >= top - figure("high-for-long", "below")


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
