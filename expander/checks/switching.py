"""Time between the last note in one state and the first in the next."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from msgspec import Struct

from expander.catalogue.limits import Limit, limits
from expander.checks.figures import figure
from expander.checks.music import ONE_PLAYER, Chord, Hand, Music, Stand
from expander.model.finding import Severity
from expander.model.instrument import Instrument


class Switch(Struct, frozen=True):
    """A player goes from one state to another. `end` is the tick where the last note ended."""

    before: Chord
    after: Chord
    end: int
    old: str
    new: str


def switches(stand: Stand, state: Callable[[Hand], str]) -> Iterator[Switch]:
    """Every change of a state of the hand between two neighbouring notes of a part.

    On a stave for several players the notes of one are not told from another's, so labels count
    with the state there: nothing is said where another player takes over.
    """
    if not stand.words and len(stand.changes) < 2:
        return  # whatever holds at the start holds to the end
    last: Chord | None = None
    end = 0
    for chord in stand.chords:
        if last is not None and last.hand is not chord.hand:
            old, new = state(last.hand), state(chord.hand)
            if old != new and not _other_player(stand, last, chord):
                yield Switch(last, chord, end, old, new)
        last = chord
        end = max(end, chord.end)


def _other_player(stand: Stand, one: Chord, two: Chord) -> bool:
    if stand.players < 2:
        return False
    before, after = one.hand.label, two.hand.label
    if "solo" in (before, after):
        return True
    return before != after and before in ONE_PLAYER and after in ONE_PLAYER


def gravity(seconds: float) -> Severity:
    """An error where there is no time at all, else a warning."""
    return Severity.ERROR if seconds < figure("change", "none") else Severity.WARNING


def needed(music: Music, row: Limit, tick: int) -> float:
    """Seconds that a change needs at this level; beats are of the tempo at a tick."""
    each = music.clock.pace(tick) * music.score.grid if row.unit == "beats" else 1.0
    return float(row.value) * each * figure("change", music.level)


def row_for(whats: tuple[str, ...], one: Instrument) -> Limit | None:
    """The first row of the table of changes about one of these that holds for an instrument."""
    rows = limits("changes")
    return next((r for what in whats for r in rows if r.what == what and r.holds_for(one)), None)


def cited(row: Limit) -> str:
    """Where a limit comes from."""
    return f"{'; '.join(row.sources)} ({row.basis})"
