"""Transpositions that do not suit the instrument."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music, Stand
from expander.checks.transposing import CROOKED, KEYS, agrees, semitones
from expander.model.finding import Severity
from expander.model.instrument import Instrument
from expander.model.pitch import CONCERT, Transposition


def detect(music: Music) -> Iterator[Hit]:
    """Parts whose stated (or missing) transposition is not their instrument's."""
    if music.score.header.concert_pitch:
        return
    for stand in music.stands:
        one = stand.hands[0].instrument if stand.hands else None
        if one is None or one.concert_keeps or not stand.chords or not one.pitched:
            continue
        stated = stand.stated or CONCERT
        if _silent_key(stand, one) or agrees(one, stated, _key(stand, one)):
            continue
        yield _hit(stand, one, stated)


def _key(stand: Stand, one: Instrument) -> str:
    """The key in the part's name, which is its first instrument's and not another one's."""
    return stand.key if stand.instrument is one else ""


def _silent_key(stand: Stand, one: Instrument) -> bool:
    """True where neither the name nor the file says in which key a crooked instrument is."""
    return stand.stated is None and not stand.key and one.id in CROOKED


def _hit(stand: Stand, one: Instrument, stated: Transposition) -> Hit:
    key = stand.key if stand.key in KEYS and one.id in CROOKED else one.key
    named = f"{one.name} in {key}" if key else one.name
    own = f"{semitones(one.transposition):+d} semitones"
    if key != one.key:
        own = f"{KEYS[key]} semitones above written C, octaves apart"
    said = f"{semitones(stated):+d} semitones" if stand.stated else "no transposition"
    return Hit(
        stand,
        0,
        0,
        f"the part says {said}, but the {named.lower() if not key else named} has {own}.",
        figure=own,
        source=f"{'; '.join(one.sources)} ({one.basis})",
    )


CHECK = Check(
    id="wrong-transposition",
    title="Transposition does not suit the instrument",
    finds="A transposition in the file that is not that of the instrument the part names.",
    why="Playback, the parts, and everything computed from them come out in the wrong key.",
    example="A clarinet in A whose file says two semitones down.",
    instead="Give the part the transposition of its instrument, and move its notes with it.",
    severity=Severity.ERROR,
    source="Transpositions of the instruments in the catalogue.",
    detect=detect,
)
