"""Parts whose instrument is not known."""

from __future__ import annotations

from collections.abc import Iterator

from expander.checks.check import Check, Hit
from expander.checks.music import Music
from expander.model.finding import Severity


def detect(music: Music) -> Iterator[Hit]:
    """Each part that was not recognised, once."""
    for stand in music.stands:
        if stand.instrument is None and stand.chords:
            yield Hit(
                stand,
                0,
                None,
                f"no instrument is known by the name '{stand.name}'; the part is checked for "
                "notation only. Name it after an instrument, or give the line-up.",
                figure="an instrument of the catalogue",
            )
        elif stand.doubtful and stand.chords:
            yield Hit(
                stand,
                0,
                None,
                "the part is sung, and its name does not tell by which voice; it is not held "
                "against a range.",
                figure="soprano, alto, tenor, bass ...",
            )


CHECK = Check(
    id="unknown-instrument",
    title="Instrument not recognised",
    finds="A part whose name, sound and transposition fit no instrument of the catalogue.",
    why="Nothing is guessed: ranges, breath and hands of this part are not checked.",
    example="A part called 'Line 3' without any sound.",
    instead="Give the part the name of its instrument, or name the line-up with -e.",
    severity=Severity.NOTE,
    source="The catalogue of instruments.",
    detect=detect,
)
