"""Lines to fit, from music as text, and what became of them."""

from __future__ import annotations

from msgspec.structs import replace

from expander.catalogue.limits import register_strength
from expander.catalogue.loader import instrument
from expander.fitting.fit import Fitter
from expander.model.instrument import Seat
from expander.model.plan import Line, Strand, Task
from expander.model.rules import Entry
from expander.model.score import LayerId, Part, PartBar
from tests import mini


def fitted(text, *players, **entry):
    """What each player gets of a tune in mini-notation, as text, and the findings."""
    sketch = mini.sketch(f"Tune: @treble {text}")
    bars = {i: bar.layers[0] for i, bar in enumerate(sketch.parts[0].bars)}
    lines, found = run(sketch, bars, players, **entry)
    return [shown(sketch, line.bars) for line in lines], found


def run(sketch, bars, players, **entry):
    """Fits one strand for players by their instruments' ids."""
    asked = Entry("tune", tuple(players), **{"fit": "octave", **entry})
    seats = tuple(Seat(n, instrument(name)) for n, name in enumerate(players))
    task = Task("all", asked, Strand("tune", {i: (e,) for i, e in bars.items()}), seats, range(99))
    lines = [Line(seat, task, bars) for seat in seats]
    return Fitter(sketch, register_strength).fit(lines, players)


def shown(sketch, bars):
    """A line in mini-notation, bar by bar."""
    rows = tuple(PartBar(layers=(bars.get(i, ()),)) for i in range(len(sketch.bars)))
    part = Part("P1", "Tune", "", 1, (LayerId(1, "1"),), rows)
    (text,) = mini.to_text(replace(sketch, parts=(part,)), ()).splitlines()
    return text.partition(": ")[2]


def plain(text):
    """Music text in the same canonical form as `fitted` gives."""
    sketch = mini.sketch(f"Tune: @treble {text}")
    return shown(sketch, {i: bar.layers[0] for i, bar in enumerate(sketch.parts[0].bars)})
