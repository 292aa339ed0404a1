"""The line-up that a score is for, and the same players' music as staves: for another key alone."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.catalogue.grouping import family_brackets, like_brackets, top_staves
from expander.catalogue.loader import instrument
from expander.fitting.fit import Fitter
from expander.model.finding import Finding
from expander.model.instrument import Ensemble, Instrument, Player, Range, Seat, Stave
from expander.model.pitch import Written
from expander.model.plan import Line, Strand, Task
from expander.model.rules import Entry, Rules, StrandRule
from expander.model.score import Document, Sketch, staves_of
from expander.notate.build import build
from expander.plan.strands import take
from expander.revoice.chairs import UNKNOWN
from expander.revoice.lines import FullScore, Owner
from expander.rulefile import techniques

SEVERAL = 2


def own_ensemble(score: FullScore) -> Ensemble:
    """The line-up of a score, a player for each part in its order.

    A part that was not recognised is read by an instrument without limits that bears its name.
    """
    players = tuple(_player(score, owner) for owner in score.owners)
    staves = tuple(Stave(p.label, p.short, (i,)) for i, p in enumerate(players))
    outer = family_brackets(staves, players)
    return Ensemble(
        id="as-in-the-score",
        title="The line-up of the score",
        players=players,
        staves=staves,
        groups={p.name: (i,) for i, p in enumerate(players)} | _tutti(players),
        brackets=outer + like_brackets(staves, players, outer),
        top_staves=top_staves(staves, players),
    )


def _tutti(players: Sequence[Player]) -> dict[str, tuple[int, ...]]:
    return {"tutti": tuple(range(len(players)))}


def _player(score: FullScore, owner: Owner) -> Player:
    layers = len([line for line in score.lines if line.owner.part == owner.part])
    size = max(owner.size, SEVERAL if layers > 1 else 1)
    return Player(owner.name.lower(), owner.name, owner.short, (_instrument(score, owner),), size)


def _instrument(score: FullScore, owner: Owner) -> Instrument:
    one = owner.instrument
    if one and (one.pitched or one.family == "unpitched percussion"):
        return one
    known = instrument(one.id if one else UNKNOWN)
    free = replace(known, professional=EVERYTHING, comfortable=EVERYTHING, widest=EVERYTHING)
    if one:
        return free
    count = score.sketch.parts[owner.part].staves
    return replace(free, name=owner.name, short=owner.short, clefs=free.clefs[:count])


EVERYTHING = Range(Written.named("C-1"), Written.named("G9"))
"""The compass of whoever has none: a singer whose voice is not told, a part not recognised."""


def given_to(
    sketch: Sketch, ensemble: Ensemble, owners: Sequence[int], rules: Rules, fit: str
) -> tuple[Document, tuple[Finding, ...]]:
    """Every stave to one player as it stands, layers and chords with it.

    `owners` has the player of each stave down the sketch; `fit` is "octave", which moves phrases
    into the range, or "keep". The findings tell what was moved.
    """
    fitter = Fitter(sketch)
    lines: list[Line] = []
    findings: list[Finding] = []
    for address, owner in zip(staves_of(sketch), owners, strict=True):
        player = ensemble.players[owner]
        name = f"{player.name} {address.number}"
        strand = take(sketch, StrandRule(name, staff=address.number))
        entry = Entry(name, (player.name,), fit=fit)
        seat = Seat(owner, player.instrument)
        task = Task("all", entry, strand, (seat,), range(len(sketch.bars)))
        rows = _rows(strand, seat, task)
        moved, told = fitter.fit(rows, [player.label] * len(rows))
        lines += moved
        findings += told
    built = build(sketch, lines, ensemble, rules, techniques())
    return built.score, tuple(findings)


def _rows(strand: Strand, seat: Seat, task: Task) -> list[Line]:
    count = max((len(layers) for layers in strand.bars.values()), default=0)
    rows = []
    for number in range(count):
        cells = {b: la[number] for b, la in strand.bars.items() if number < len(la)}
        cells = {bar: events for bar, events in cells.items() if events}
        if cells:
            rows.append(Line(seat, task, cells, desk=number))
    return rows
