"""Scores with shared staves, and the same music with a staff for each player."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st
from msgspec.structs import replace

from expander.catalogue.entries import line_up
from expander.catalogue.lineup import built
from expander.catalogue.yamlfile import Places
from expander.model.instrument import Ensemble, Stave
from expander.parts.account import heard

WINDS = (
    ("flute", 2), ("oboe", 2), ("clarinet-bb", 2), ("bassoon", 2), ("horn", 2), ("horn", 3),
    ("trumpet-bb", 3), ("tenor-trombone", 2), ("tenor-trombone", 3),
)  # fmt: skip


@st.composite
def sharing_line_ups(draw: st.DrawFn, most: int = 3) -> Ensemble:
    """One to three groups of two or three like winds on one staff each."""
    groups = draw(
        st.lists(st.sampled_from(WINDS), min_size=1, max_size=most, unique_by=lambda g: g[0])
    )
    players, staves = [], []
    for instrument, count in groups:
        names = [f"{instrument.replace('-', ' ')} {n + 1}" for n in range(count)]
        players += [{"name": name, "plays": [instrument]} for name in names]
        staves.append(names)
    file = line_up({"title": "Winds", "players": players, "staves": staves})
    return built("winds", file, Places("winds.yaml", {}, {}))


def each_alone(ensemble: Ensemble) -> Ensemble:
    """The same players, each on a staff of their own."""
    staves = tuple(Stave(p.label, p.short, (i,)) for i, p in enumerate(ensemble.players))
    return replace(ensemble, staves=staves, brackets=(), top_staves=(0,))


def sounds(document, part=0):
    """Place and length in quarters and key of every note of one part, in order; no cues."""
    notes = heard(document.parts[part], document.bars)
    grid = document.grid
    return sorted((Fraction(at, grid), Fraction(n, grid), key) for at, n, key, _ in notes)
