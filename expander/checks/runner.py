"""Running the checks over a score."""

from __future__ import annotations

from collections.abc import Collection
from difflib import get_close_matches

from expander.checks.beats import beat_of
from expander.checks.check import Check, Hit, Level
from expander.checks.music import Music
from expander.checks.prepare import music_of
from expander.checks.registry import all_checks
from expander.errors import BadUsage
from expander.model.finding import Finding, Ledger
from expander.model.instrument import Ensemble
from expander.model.score import Document


def run(
    score: Document,
    *,
    ensemble: Ensemble | None = None,
    ledger: Ledger | None = None,
    level: str = Level.PROFESSIONAL,
    only: Collection[str] = (),
    skip: Collection[str] = (),
) -> list[Finding]:
    """Everything the checks find in a written score, sorted by bar, part and check.

    `ensemble` tells who plays where the score does not. With `ledger` the sketch notes given to
    nobody are found as well. `only` and `skip` are ids of checks. Raises BadUsage for an unknown
    id or level.
    """
    chosen = chosen_checks(only, skip)
    if level not in list(Level):
        expected = ", ".join(Level)
        raise BadUsage(f"there is no level '{level}'.", hint=f"Expected one of {expected}.")
    music = music_of(score, level=level, ensemble=ensemble, ledger=ledger)
    found = [
        (hit.stand.index if hit.stand else -1, finding_of(music, check, hit))
        for check in chosen
        for hit in check.detect(music)
    ]
    found.sort(key=lambda one: (one[1].index, one[0], one[1].beat or 0.0, one[1].check))
    return [finding for _, finding in found]


def chosen_checks(only: Collection[str], skip: Collection[str]) -> tuple[Check, ...]:
    """The checks to run. Raises BadUsage for an unknown id, with the nearest one."""
    known = {check.id for check in all_checks()}
    for name in (*only, *skip):
        if name not in known:
            near = get_close_matches(name, sorted(known), 1)
            hint = f"Did you mean '{near[0]}'?" if near else "See 'expander list checks'."
            raise BadUsage(f"there is no check '{name}'.", hint=hint)
    return tuple(c for c in all_checks() if (not only or c.id in only) and c.id not in skip)


def _with_one_stop(message: str) -> str:
    """A message that ends in the name of players ("Horns 1. 2.") needs no second full stop."""
    return message[:-1] if message.endswith("..") and not message.endswith("...") else message


def finding_of(music: Music, check: Check, hit: Hit) -> Finding:
    """A hit as a finding, with the printed bar and the beat."""
    bar = music.score.bars[hit.bar] if music.score.bars else None
    return Finding(
        check=check.id,
        severity=hit.severity or check.severity,
        message=_with_one_stop(hit.message),
        part=hit.stand.name if hit.stand else "",
        bar=bar.number if bar and hit.at is not None else "",
        beat=beat_of(music.score, hit.bar, hit.at) if hit.at is not None else None,
        pitch=hit.pitch,
        figure=hit.figure,
        source=hit.source or check.source,
        index=hit.bar,
    )
