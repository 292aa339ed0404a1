"""Soft entries on low notes that do not speak."""

from __future__ import annotations

from collections.abc import Iterator

from expander.catalogue.limits import limits
from expander.checks.check import Check, Hit
from expander.checks.figures import figure
from expander.checks.music import Chord, Music, Stand, lines, named
from expander.checks.phrasing import entries
from expander.model.finding import Severity
from expander.model.instrument import Instrument

SOFT = ("p", "pp", "ppp", "pppp", "n")
WHAT = "soft entry in the lowest fifth"


def detect(music: Music) -> Iterator[Hit]:
    """Entries at p or less in the lowest fifth of double reeds."""
    rows = [row for row in limits("balance") if row.what == WHAT]
    ids = {name for row in rows for name in row.instruments}
    source = "; ".join(f"{'; '.join(row.sources)} ({row.basis})" for row in rows)
    pause = figure("soft-low-entry", "pause")
    reeds = (s for s in music.stands if s.instrument and s.instrument.id in ids)
    for stand, voice in lines(reeds):
        for chord in entries(music, voice, pause):
            if chord.hand.dynamic in SOFT and stand.instrument and _low(chord, stand.instrument):
                yield _hit(stand, stand.instrument, chord, source)


def _hit(stand: Stand, one: Instrument, chord: Chord, source: str) -> Hit:
    return Hit(
        stand,
        chord.bar,
        chord.at,
        f"{named(chord.bottom, chord.hand)} is to enter at {chord.hand.dynamic} in "
        f"the lowest fifth of the {one.name.lower()}.",
        pitch=str(chord.bottom.written),
        figure="lowest fifth",
        source=source,
    )


def _low(chord: Chord, one: Instrument) -> bool:
    if not chord.heads or one.professional is None:
        return False
    bottom = float(one.sounding(one.professional)[0].semitone)
    return chord.bottom.height < bottom + figure("soft-low-entry", "fifth")


CHECK = Check(
    id="soft-low-entry",
    title="Soft entry on the lowest notes",
    finds="An oboe or bassoon that enters at p or softer in its lowest fifth.",
    why="The bottom notes of double reeds do not start softly: they are late, or too loud.",
    example="An oboe entering on B flat 3 at pp.",
    instead="Enter on a higher note, allow mf, or give the entry to clarinet or horn.",
    severity=Severity.WARNING,
    source="Common practice; the catalogue's table of balance.",
    detect=detect,
)
