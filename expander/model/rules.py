"""What a rule file asks for, as values. `rulefile/` reads it, `plan/` carries it out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from expander.errors import Spot


@dataclass(frozen=True, slots=True)
class Passage:
    """Bars by their printed numbers, or by rehearsal marks.

    Exactly one form is filled: `first`/`last` bar labels (`last` may be "end"), `mark` (to the
    next mark), or `start`/`stop` marks (up to `stop`, not including it; "" to the end).
    """

    first: str = ""
    last: str = ""
    mark: str = ""
    start: str = ""
    stop: str = ""
    at: Spot | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class StrandRule:
    """A name for something the short score holds.

    Taken from the sketch: `staff` (from 1 down the whole sketch; `more_staves` where the rule
    names several), `layer` (from 1 down the staff; 0 all), `notes` (all, highest, lowest), `bars`,
    `repeat` (a figure to go on with).
    Built: `chords` ("symbols") or `under` (a strand's name), with `voicing`, `voices`, and for
    chords `rhythm`: the strand whose rhythm they take ("" sustained).
    """

    name: str
    staff: int = 0
    more_staves: tuple[int, ...] = ()
    layer: int = 0
    notes: str = "all"
    bars: Passage | None = None
    repeat: bool = False
    chords: str = ""
    under: str = ""
    voicing: str = ""
    voices: int = 0
    rhythm: str = ""
    at: Spot | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the plan: who plays what, in which colour.

    `octave` moves the strand (octaves up). `spacing` is unison or octaves (each player in the
    octave of their register). `technique` is what the file calls `as`. `words` is None where the
    file leaves it to the player (singers sing). `fit` is octave, hand over, keep or "" (default).
    """

    play: str
    by: tuple[str, ...]
    octave: int = 0
    spacing: str = "unison"
    dynamic: str = ""
    technique: str = ""
    mute: str = ""
    words: bool | None = None
    fit: str = ""
    at: Spot | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Rules:
    """A whole rule file. `plan` maps a section's name, or "all", to its entries in order."""

    ensemble: str = ""
    pitch: str = "transposed"
    form: Mapping[str, Passage] = field(default_factory=dict)
    strands: Mapping[str, StrandRule] = field(default_factory=dict)
    plan: Mapping[str, tuple[Entry, ...]] = field(default_factory=dict)
    arranger: str = ""
    version: str = ""
    keyless: tuple[str, ...] = ()
    file: str = ""
