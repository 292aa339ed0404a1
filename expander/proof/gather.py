"""Everything a proof shows: pages, findings with their places, sound, and where notes come from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from msgspec import Struct

from expander.checks.prepare import music_of, unique_names
from expander.model.finding import Finding
from expander.model.instrument import Ensemble
from expander.model.playing import playing_order
from expander.model.score import Document
from expander.plan.form import rehearsal_marks
from expander.proof.above import with_sketch
from expander.proof.engraving import engrave
from expander.proof.marking import Marked, marked
from expander.proof.origins import origins_of
from expander.proof.places import Places
from expander.proof.sound import bar_times, runs, sounds


class Proof(Struct, frozen=True):
    """A proof ready to be laid out.

    `score` is what was engraved: the score, under the sketch where one was asked for. `staves`
    names the part of each staff from the top down; the first `above` staves are the sketch's.
    `runs` are stretches of bars in playing order, first and last. `origins` maps heads of the
    score to heads of the sketch.
    """

    score: Document
    title: str
    findings: tuple[Finding, ...]
    marked: Marked
    remarks: tuple[str, ...]
    staves: tuple[str, ...]
    above: int
    marks: tuple[tuple[int, str], ...]
    times: tuple[int, ...]
    runs: tuple[tuple[int, int], ...]
    sounds: tuple[dict[str, Any], ...]
    origins: dict[str, list[str]]


def proof_of(
    score: Document,
    findings: Sequence[Finding],
    *,
    sketch: Document | None = None,
    ensemble: Ensemble | None = None,
) -> Proof:
    """The proof of a score or a part with findings already made, in their order.

    Raises BadUsage where the sketch has other bars than the score.
    """
    shown = with_sketch(score, sketch) if sketch else score
    above = sum(part.staves for part in sketch.parts) if sketch else 0
    engraved = engrave(shown)
    places = Places(shown, above)
    music = music_of(shown, ensemble=ensemble)
    header = score.header
    return Proof(
        score=shown,
        title=header.movement_title or header.work_title or "Untitled",
        findings=tuple(findings),
        marked=marked(engraved.pages, findings, [places.of(f) for f in findings]),
        remarks=engraved.remarks,
        staves=_staves(shown),
        above=above,
        marks=tuple((bar, name) for name, bar in rehearsal_marks(score).items()),
        times=tuple(bar_times(music)),
        runs=tuple(runs(playing_order(score))),
        sounds=tuple(sounds(music)),
        origins=origins_of(music, len(sketch.parts)) if sketch else {},
    )


def _staves(score: Document) -> tuple[str, ...]:
    """The part of each staff, with the staff's number where a part has several."""
    found: list[str] = []
    for name, part in zip(unique_names(score), score.parts, strict=True):
        several = part.staves > 1
        found += [f"{name}, staff {i + 1}" if several else name for i in range(part.staves)]
    return tuple(found)
