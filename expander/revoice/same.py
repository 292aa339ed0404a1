"""The line-up that a score is for, and the same players' music as staves: for another key alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from expander.catalogue.grouping import family_brackets, like_brackets, top_staves
from expander.catalogue.loader import instrument
from expander.model.instrument import Ensemble, Instrument, Player, Stave
from expander.model.rules import Entry, StrandRule
from expander.model.score import Sketch
from expander.revoice.lines import FullScore, Owner

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
    if owner.instrument:
        return owner.instrument
    unknown = instrument("piano")
    count = score.sketch.parts[owner.part].staves
    return replace(unknown, name=owner.name, short=owner.short, clefs=unknown.clefs[:count])


def own_rules(
    sketch: Sketch, ensemble: Ensemble
) -> tuple[dict[str, StrandRule], tuple[Entry, ...]]:
    """Every stave of the score to the player who had it."""
    strands: dict[str, StrandRule] = {}
    entries: list[Entry] = []
    for player, part in zip(ensemble.players, sketch.parts, strict=True):
        for staff in range(1, part.staves + 1):
            number = len(strands) + 1
            name = f"{player.name} {staff}" if part.staves > 1 else player.name
            strands[name] = StrandRule(name, staff=number)
            entries.append(Entry(name, (player.name,), fit="octave"))
    return strands, tuple(entries)
