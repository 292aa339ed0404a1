"""Wind and sung lines that never rest."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Music, Stand, lines
from expander.checks.phrasing import Run, seconds_of, stretches
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Stretches without a rest that go on for too long for lips and lungs."""
    limit = figure("long-without-rest", "seconds") * figure("no-breath", music.level)
    pause = figure("long-without-rest", "pause")
    alone = (s for s in music.stands if s.players == 1 and s.instrument and s.instrument.breath)
    for stand, voice in lines(alone):
        for run in stretches(music, voice, pause):
            if seconds_of(run) > limit:
                yield _hit(music, stand, run, limit)


def _hit(music: Music, stand: Stand, run: Run, limit: float) -> Hit:
    return Hit(
        stand,
        run[0].bar,
        run[0].at,
        f"plays for {seconds_of(run):.0f} seconds without a rest, to bar "
        f"{music.score.bars[run[-1].bar].number}.",
        figure=f"{limit:.0f} s",
    )


CHECK = Check(
    id="long-without-rest",
    title="No rest for long",
    finds="A wind or sung line that goes on for a minute and more without a rest.",
    why="Breath can be snatched, but lips and voices need to let go from time to time.",
    example="A horn that plays in every beat of fifty bars.",
    instead="Take the player out of a doubling for a few bars.",
    severity=Severity.NOTE,
    source="Rimsky-Korsakov, ch. I (published: rests); the minute is common practice.",
    detect=detect,
    levels="Amateurs four fifths of the time, students three fifths.",
)
