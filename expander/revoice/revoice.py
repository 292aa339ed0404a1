"""A full score for another line-up: lines by need, players by register and kind, octaves last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.seating import seats
from expander.model.finding import Finding, Ledger, Severity
from expander.model.instrument import Ensemble
from expander.model.rules import Entry, Rules, StrandRule
from expander.model.score import Document, Sketch, staves_of
from expander.pipeline import Expanded, expand_score
from expander.revoice.account import account
from expander.revoice.casting import Cast, Casting
from expander.revoice.chairs import Chair, chairs_of
from expander.revoice.doubling import groups_of
from expander.revoice.entries import come_in
from expander.revoice.filling import Filled, Filler, told
from expander.revoice.hands import suited
from expander.revoice.joining import joined
from expander.revoice.lines import Colour, FullScore, Line, full_score, heights, split
from expander.revoice.moments import moments_of
from expander.revoice.octaves import Octaves
from expander.revoice.players import bare_system, rules_for, staves_for, with_staves
from expander.revoice.roles import Voice, roles_of
from expander.revoice.seats import Seated, seated
from expander.voicing.limits import low_interval_limits


class Revoiced(Struct, frozen=True):
    """A score for another line-up, and what there is to say about it.

    In the ledger `placed` are original notes kept, `replaced` those doubled by a note that is
    kept, `unplaced` those left out, with the reason.
    """

    score: Document
    ledger: Ledger
    findings: tuple[Finding, ...]
    ensemble: Ensemble
    rules: Rules


class Arranged(Struct, frozen=True):
    """Who plays what: the lines of single notes, the distribution, and each chair's music.

    `filled` are the notes that were handed to players in their rests.
    """

    lines: tuple[Line, ...]
    voices: tuple[tuple[Voice, ...], ...]
    cast: Cast
    seats: tuple[Seated, ...]
    filled: tuple[Filled, ...] = ()


def revoice_score(
    document: Document,
    ensemble: Ensemble,
    rules: Rules | None = None,
    sketch: Sketch | None = None,
    short: Sketch | None = None,
) -> Revoiced:
    """The same music for an ensemble.

    `sketch` is the document as heard where it was changed (moved to another key). The `rules`'
    own strands and entries come before what is decided here: their staves are those of `short`,
    the short score of the document, whose notes have the document's numbers.
    """
    score = full_score(document, sketch)
    done = arrange(score, ensemble)
    otherwise = suited(score, done.lines, done.seats)
    parted = staves_for(score, done.lines, done.seats, ensemble)
    base = short or bare_system(score.sketch)
    strands, entries = rules_for(parted.staves, len(staves_of(base)))
    whole = with_own(rules or Rules(), strands, entries, ensemble)
    written = expand_score(with_staves(base, parted.staves), whole, ensemble)
    accounts = account(score, done.lines, done.cast, written.score)
    findings = (
        *accounts.findings,
        *_colours(score, parted.lost_colours),
        *otherwise,
        *told(score, done.filled, dict(enumerate(p.label for p in ensemble.players))),
        *_moved(score, done.seats, ensemble),
        *_own(written),
    )
    return Revoiced(written.score, accounts.ledger, findings, written.ensemble, whole)


def with_own(
    rules: Rules, strands: Mapping[str, StrandRule], entries: Sequence[Entry], ensemble: Ensemble
) -> Rules:
    """Rules with the entries decided here for all to whom the rules' `all` gives nothing.

    A section of the rules takes its players away from `all`, as everywhere.
    """
    asked = rules.plan.get("all", ())
    busy = {s.player for e in asked for name in e.by for s in seats(ensemble, name)}
    free = [e for e in entries if seats(ensemble, e.by[0])[0].player not in busy]
    own = {name: rule for name, rule in strands.items() if any(e.play == name for e in free)}
    return replace(
        rules, strands={**own, **rules.strands}, plan={**rules.plan, "all": (*asked, *free)}
    )


def arrange(score: FullScore, ensemble: Ensemble) -> Arranged:
    """Lines, their roles, who plays them, and in which octave."""
    bars = len(score.sketch.bars)
    lines = split(score.lines, _low_lines(score))
    voices = roles_of(score, lines, groups_of(lines, bars))
    chairs = chairs_of(ensemble)
    moments = moments_of(lines, bars)
    casting = Casting(score, lines, moments, chairs)
    cast = joined(casting, casting.cast(voices), voices)
    limits = dict(low_interval_limits().lowest)
    octaves = Octaves(lines, moments, limits, score.sketch.grid, casting.homes)
    seats = tuple(seated(cast, octaves.placed(cast, chairs), lines, chairs))
    filled = Filler(score, lines, seats, octaves).fill(cast)
    come_in(score, lines, seats, casting.homes)
    return Arranged(lines, voices, cast, seats, tuple(filled))


def _low_lines(score: FullScore) -> frozenset[int]:
    """Lines whose lowest notes are the line: basses, and the lowest of a keyboard or harp."""
    means = {
        line.number: sum(found) / len(found)
        for line in score.lines
        if (found := [h for cell in line.cells.values() for h in heights(cell)])
    }
    lines = {n: score.lines[n] for n in means}
    hands = {
        min((n for n in lines if lines[n].owner.part == owner.part), key=means.__getitem__)
        for owner in score.owners
        if owner.family in _TWO_HANDS and any(o.owner.part == owner.part for o in lines.values())
    }
    return frozenset(hands | {n for n in lines if _is_bass(lines[n], lines, means)})


_TWO_HANDS = ("keyboard", "plucked")


def _is_bass(line: Line, lines: Mapping[int, Line], means: Mapping[int, float]) -> bool:
    """True where no line of the same bars lies lower on the whole."""
    lowest = 0
    for bar in line.cells:
        here = [n for n, other in lines.items() if bar in other.cells]
        lowest += min(here, key=lambda n: (means[n], n)) == line.number
    return 2 * lowest > len(line.cells)


# -- what there is to say --------------------------------------------------------------------------


def _own(written: Expanded) -> tuple[Finding, ...]:
    """Findings of the expansion that are about the music, not about its staves."""
    return tuple(f for f in written.findings if f.check != "given-to-nobody")


def _colours(score: FullScore, lost: Sequence[tuple[int, int, Colour]]) -> tuple[Finding, ...]:
    found: list[Finding] = []
    runs = groupby(enumerate(lost), key=lambda p: (p[1][0], p[1][2], p[1][1] - p[0]))
    for (part, colour, _), run in runs:
        bars = [bar for _, (_, bar, _) in run]
        first, last = (score.sketch.bars[b].number for b in (bars[0], bars[-1]))
        where = f"bar {first}" if len(bars) == 1 else f"bars {first} to {last}"
        what = " and ".join(w for w in (colour.technique, colour.mute) if w)
        name = score.owners[part].name
        text = (
            f"{name} is played {what} in {where}; who plays it now has no such colour, or no "
            "time for it."
        )
        found.append(Finding("colour-lost", Severity.NOTE, text, name, first, index=bars[0]))
    return tuple(found)


def _moved(score: FullScore, seats: Sequence[Seated], ensemble: Ensemble) -> tuple[Finding, ...]:
    """A finding for each passage that a player has in another octave than the original."""
    found: list[Finding] = []
    for seat in seats:
        name = ensemble.players[seat.chair.player].label
        runs = groupby(sorted(seat.cells), key=lambda bar: seat.shifts[bar])
        for shift, run in runs:
            bars = list(run)
            if shift:
                found.append(_octave(score, name, bars, shift))
        for bar in seat.folded:
            found.append(_single(score, name, bar, seat.chair))
    return tuple(sorted(found, key=lambda f: f.index))


def _octave(score: FullScore, name: str, bars: Sequence[int], shift: int) -> Finding:
    first, last = (score.sketch.bars[b].number for b in (bars[0], bars[-1]))
    where = f"bar {first}" if len(bars) == 1 else f"bars {first} to {last}"
    count = "an octave" if abs(shift) == 1 else f"{abs(shift)} octaves"
    way = "higher" if shift > 0 else "lower"
    text = f"{name}: {where} {count} {way} than in the original."
    return Finding("moved-by-octave", Severity.NOTE, text, name, first, index=bars[0])


def _single(score: FullScore, name: str, bar: int, chair: Chair) -> Finding:
    label = score.sketch.bars[bar].number
    text = (
        f"{name}: single notes of bar {label} changed octave, because the line is wider there "
        f"than the {chair.instrument.name.lower()}'s range."
    )
    return Finding("moved-by-octave", Severity.NOTE, text, name, label, index=bar)
