"""A copy of a score in which the findings can be seen: coloured notes with the check above."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from expander.checks.beats import beat_unit
from expander.checks.prepare import unique_names
from expander.model.finding import Finding, Severity
from expander.model.pitch import Written
from expander.model.score import Attributes, Direction, Document, Event, Mark, Note, Part, PartBar

COLOURS = {Severity.ERROR: "#C00000", Severity.WARNING: "#D07000", Severity.NOTE: "#0060B0"}

Found = dict[tuple[int, int], list[Finding]]
"""Findings by bar index and tick."""


def mark(score: Document, findings: Sequence[Finding]) -> Document:
    """A copy with the notes found coloured and each check named above its note.

    Findings without a part stand over the top stave. Errors are red, warnings orange, notes blue.
    """
    names = unique_names(score)
    by_part: dict[str, Found] = {name: {} for name in names}
    for finding in findings:
        part = finding.part if finding.part in by_part else names[0]
        place = (finding.index, _tick(score, finding))
        by_part[part].setdefault(place, []).append(finding)
    parts = (
        _marked(part, by_part[name]) if by_part[name] else part
        for part, name in zip(score.parts, names, strict=True)
    )
    return replace(score, parts=tuple(parts))


def _tick(score: Document, finding: Finding) -> int:
    if finding.beat is None:
        return 0
    return round((finding.beat - 1) * beat_unit(score, finding.index))


def _marked(part: Part[Written], found: Found) -> Part[Written]:
    bars = list(part.bars)
    for bar in sorted({bar for bar, _ in found}):
        here = {at: findings for (b, at), findings in found.items() if b == bar}
        bars[bar] = _marked_bar(bars[bar], here)
    return replace(part, bars=tuple(bars))


def _marked_bar(bar: PartBar[Written], found: dict[int, list[Finding]]) -> PartBar[Written]:
    layers = tuple(
        tuple(_coloured(event, found[near]) if (near := _near(event, found)) >= 0 else event
              for event in layer)
        for layer in bar.layers
    )  # fmt: skip
    named = [_named(at, findings) for at, findings in sorted(found.items())]
    directions = sorted((*bar.directions, *named), key=lambda direction: direction.at)
    return replace(bar, layers=layers, directions=tuple(directions))


def _near(event: Event[Written], found: dict[int, list[Finding]]) -> int:
    """The tick of the findings meant for an event (beats are rounded to thousandths), or -1."""
    if not event.notes:
        return -1
    return next((at for at in found if abs(at - event.at) <= 1), -1)


def _coloured(event: Event[Written], findings: list[Finding]) -> Event[Written]:
    wanted = {f.pitch: COLOURS[f.severity] for f in reversed(findings)}
    whole = wanted.pop("", "")
    notes = tuple(_with_colour(n, wanted.get(str(n.pitch), whole)) for n in event.notes)
    return replace(event, notes=notes)


def _with_colour(note: Note[Written], colour: str) -> Note[Written]:
    if not colour:
        return note
    kept: Attributes = tuple((k, v) for k, v in note.attributes if k != "color")
    return replace(note, attributes=(*kept, ("color", colour)))


def _named(at: int, findings: list[Finding]) -> Direction:
    """The checks' names above the stave, in the colour of the gravest."""
    order = list(Severity)
    gravest = min(findings, key=lambda f: order.index(f.severity)).severity
    text = ", ".join(dict.fromkeys(f.check for f in findings))
    words = Mark("direction-type", "words", (("color", COLOURS[gravest]),), text)
    return Direction(at, (words,), placement="above")
