"""What a rule file asks for, as values. `rulefile/` reads it, `plan/` carries it out."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct, field

from expander.errors import Spot
from expander.model.apart import Apart

Spots = Mapping[str, Spot]
"""Where each value of a rule stands, by its key; `by.0`, `by.1` for the values of a list."""


class Passage(Apart, frozen=True):
    """Bars by their printed numbers, or by rehearsal marks.

    Exactly one form is filled: `first`/`last` bar labels (`last` may be "end"), `mark` (to the
    next mark), or `start`/`stop` marks (up to `stop`, not including it; "" to the end).
    """

    first: str = ""
    last: str = ""
    mark: str = ""
    start: str = ""
    stop: str = ""
    at: Spot | None = None
    spots: Spots = field(default_factory=dict)


class StrandRule(Apart, frozen=True):
    """A name for something the short score holds.

    Taken from the sketch: `staff` (from 1 down the whole sketch; `more_staves` where the rule
    names several), `layer` (from 1 down the staff; 0 all), `notes` (all, highest, lowest, or "2":
    the second of each chord from the top, nothing where it has fewer), `bars`, `repeat` (a figure
    to go on with).
    Built: `chords` ("symbols") or `under` (a strand's name), with `voicing`, `voices`, and for
    chords `rhythm`: the strand whose rhythm they take ("" sustained); for `under`, `approach`:
    how its notes outside the chord are harmonized ("" the voicing's own way). `tensions` is
    "usual" where ninths and thirteenths that the symbols do not name are welcome.
    For the rhythm section: `slashes`, one a beat, with the rhythm of the strand `kicks` in small
    notes above ("" none).
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
    approach: str = ""
    tensions: str = ""
    slashes: bool = False
    kicks: str = ""
    at: Spot | None = None
    spots: Spots = field(default_factory=dict)


class Entry(Apart, frozen=True):
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
    at: Spot | None = None
    spots: Spots = field(default_factory=dict)


class Rules(Apart, frozen=True):
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
    spots: Spots = field(default_factory=dict)


class Technique(Struct, frozen=True):
    """A way of playing, or a mute, with what a part says about it.

    `on` and `off` are the words at its first note and at the first note without it; `off` is ""
    where nothing is cancelled. `families` are the families of instruments it is for (empty: all).
    `sound` and `sound_off` are attributes of MusicXML's `sound` element; `mute` is a value of its
    `mute` element ("" none; off is always "off"). `element` is MusicXML's own mark, as the group
    it stands in and its name ("technical/snap-pizzicato"). `each` is true where that mark stands
    on every note instead of once. `is_mute` tells mutes from techniques. `basis` is where the
    words come from.
    """

    id: str
    on: str
    off: str = ""
    families: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()
    sound: tuple[tuple[str, str], ...] = ()
    sound_off: tuple[tuple[str, str], ...] = ()
    element: str = ""
    each: bool = False
    mute: str = ""
    is_mute: bool = False
    meaning: str = ""
    basis: str = ""


class SketchFacts(Struct, frozen=True):
    """What rules can refer to in a sketch.

    `layers` is the number of layers of each staff from the top down, `bars` the printed bar
    labels in order, `marks` the rehearsal marks with the index of their bar (from 0), in order.
    `staff_names` is what stands before each staff, where known.
    """

    layers: tuple[int, ...]
    bars: tuple[str, ...]
    marks: tuple[tuple[str, int], ...] = ()
    chord_symbols: bool = True
    staff_names: tuple[str, ...] = ()
