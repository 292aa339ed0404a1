"""The order of the rooms: from a sketch, rules and a line-up to a written score and its report."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble, without_silent
from expander.catalogue.limits import register_strength
from expander.catalogue.seating import seats as seats_named
from expander.checks import run as run_checks
from expander.checks.stopping import can_stop
from expander.errors import BadRules, BadUsage, Spot
from expander.fitting.fit import Fitter
from expander.ledger import Accounts, account
from expander.model.finding import Finding, Ledger
from expander.model.instrument import Ensemble, Seat
from expander.model.plan import Line, Strand, Task
from expander.model.rules import Entry, Rules, StrandRule
from expander.model.score import Document, Sketch
from expander.notate.build import build
from expander.notate.courtesy import with_courtesies
from expander.plan.default import default_rules
from expander.plan.form import passage_bars, with_opening
from expander.plan.form import sections as form_of
from expander.plan.strands import take
from expander.plan.tasks import Resolve, assign
from expander.rulefile import (
    Heading,
    check_against,
    facts_of,
    first_rules,
    load_rules,
    techniques,
)
from expander.sounding import to_sounding
from expander.voicing.approach import APPROACHES
from expander.voicing.blocks import block
from expander.voicing.built import Built
from expander.voicing.pads import DEFAULT_VOICES, pad
from expander.voicing.reach import Party, Reach, compass_of, reaches
from expander.voicing.recipes import recipes
from expander.voicing.rhythm_section import slashes
from expander.voicing.share import Dealer


class Expanded(Struct, frozen=True):
    """A full score and what there is to say about it. `lines` are what each player plays."""

    score: Document
    ledger: Ledger
    findings: tuple[Finding, ...]
    ensemble: Ensemble
    rules: Rules
    lines: tuple[Line, ...] = ()


def choose(
    rules_file: Path | None, ensemble: str, sketch: Sketch, pitch: str = ""
) -> tuple[Rules, Ensemble]:
    """The rules and the line-up to work with, from a rule file, a line-up's name, or both.

    The name given beside a rule file stands for the one in it. Raises BadUsage where neither
    names a line-up, BadRules with every mistake where the rules do not suit the sketch.
    """
    rules = load_rules(rules_file) if rules_file else Rules()
    name = ensemble or rules.ensemble
    if not name:
        raise BadUsage(
            "no line-up is named.",
            hint="Name one with --ensemble, or with 'ensemble:' in the rule file.",
        )
    base = rules_file.parent if rules_file and not ensemble else None
    at = Spot(str(rules_file)) if rules_file and not ensemble else None
    found = load_ensemble(name, base, at)
    rules = replace(rules, ensemble=name, pitch=pitch or rules.pitch)
    return settled(rules, found, sketch), found


def settled(rules: Rules, found: Ensemble, sketch: Sketch) -> Rules:
    """Rules that suit a sketch and a line-up: with a plan by register where they have none.

    Raises BadRules with every mistake where the rules do not suit the sketch.
    """
    if not rules.plan:
        rules = default_rules(sketch, found, rules)
    mistakes = check_against(
        rules,
        facts_of(sketch),
        _resolver(found),
        voicings=tuple(recipes()),
        approaches=tuple(APPROACHES),
    )
    if mistakes:
        raise BadRules(mistakes)
    return rules


def expand_file(
    sketch: Document, rules_file: Path | None, ensemble: str = "", pitch: str = ""
) -> Expanded:
    """Expand a document with a rule file, a line-up's name, or both."""
    heard = to_sounding(sketch)
    rules, line_up = choose(rules_file, ensemble, heard, pitch)
    return expand_score(heard, rules, line_up)


def expand_score(sketch: Sketch, rules: Rules, ensemble: Ensemble) -> Expanded:
    """Expand a sketch: plan, voice, fit, notate, account for every note.

    Raises ExpanderError where the rules name what the sketch or the ensemble does not have.
    """
    sketch = with_courtesies(sketch)
    if not rules.plan:
        rules = default_rules(sketch, ensemble, rules)
    sections = form_of(sketch, rules.form)
    resolve = _resolver(ensemble)
    strands, remarks = build_strands(sketch, rules, ensemble, resolve)
    plan = assign(rules, strands, sections, sketch.bars, resolve, ensemble)
    lines, dropped, moved = _lines(plan.tasks, sketch, ensemble, resolve)
    playing = {line.seat.player for line in lines}
    used = without_silent(ensemble, playing)
    keyless = _keyless(ensemble, rules, resolve)
    built = build(sketch, lines, used, rules, techniques(), keyless)
    books = Accounts(sketch, strands, dropped, built.unplayable)
    ledger, told = account(books, built.score)
    findings = (*remarks, *plan.findings, *moved, *told, *run_checks(built.score, ensemble=used))
    return Expanded(built.score, ledger, findings, used, rules, tuple(lines))


def first_rules_for(document: Document, ensemble: str, sketch_file: str, rules_file: str) -> str:
    """The text of a first rule file for a sketch: what expanding without rules would do.

    Bars before the first rehearsal mark are a section in it, to be filled in.

    `sketch_file` and `rules_file` are names for the remarks in it.
    """
    sketch = to_sounding(document)
    line_up = load_ensemble(ensemble, None)
    rules = default_rules(sketch, line_up, Rules(ensemble=ensemble, file=rules_file))
    rules = replace(rules, form=with_opening(sketch, rules.form))
    header = document.header
    heading = Heading(
        sketch=sketch_file,
        title=header.movement_title or header.work_title,
        players=tuple(player.name for player in line_up.players),
    )
    return first_rules(rules, facts_of(sketch), heading)


def build_strands(
    sketch: Sketch, rules: Rules, ensemble: Ensemble, resolve: Resolve
) -> tuple[Mapping[str, Strand], list[Finding]]:
    """Every strand of the rules by its name: taken from the sketch, or built from its chords."""
    made: dict[str, Strand] = {}
    findings: list[Finding] = []

    def strand(name: str) -> Strand:
        if name not in made:
            rule = rules.strands[name]
            if not (rule.chords or rule.under or rule.slashes):
                made[name] = take(sketch, rule)
            else:
                reach = _reach(rule, rules, ensemble, resolve)
                built = _built(rule, strand, sketch, reach)
                made[name] = built.strand
                findings.extend(built.findings)
        return made[name]

    return {name: strand(name) for name in rules.strands}, findings


def _built(
    rule: StrandRule,
    strand: Callable[[str], Strand],
    sketch: Sketch,
    reach: Reach,
) -> Built:
    bars = passage_bars(sketch, rule.bars) if rule.bars else range(len(sketch.bars))
    if rule.slashes:
        return slashes(rule.name, sketch, bars, strand(rule.kicks) if rule.kicks else None)
    if rule.under:
        return block(rule, strand(rule.under), sketch, bars, compass_of(reach), reach=reach)
    rhythm = strand(rule.rhythm) if rule.rhythm else None
    return pad(rule, sketch, bars, compass_of(reach), rhythm, reach=reach)


def _reach(rule: StrandRule, rules: Rules, ensemble: Ensemble, resolve: Resolve) -> Reach:
    """The compass of each voice of a built strand: what all who will read it can play."""
    entries = [e for entries in rules.plan.values() for e in entries if e.play == rule.name]
    parties = [
        Party(seats, pools, e.octave) for e in entries for seats, pools in [_seats(e, resolve)]
    ]
    return reaches(parties, rule.voices or DEFAULT_VOICES, ensemble)


def _seats(entry: Entry, resolve: Resolve) -> tuple[tuple[Seat, ...], tuple[int, ...]]:
    """The seats an entry names, each once, and the place of the name each came in with."""
    found: dict[tuple[int, str], tuple[Seat, int]] = {}
    for place, name in enumerate(entry.by):
        for seat in resolve(name):
            found.setdefault((seat.player, seat.instrument.id), (seat, place))
    return tuple(s for s, _ in found.values()), tuple(p for _, p in found.values())


def _resolver(ensemble: Ensemble) -> Resolve:
    """From a name of the rules to its seats. Raises LookupError for a name nobody has."""
    known: dict[str, tuple[Seat, ...]] = {}

    def resolve(name: str) -> tuple[Seat, ...]:
        if name not in known:
            known[name] = seats_named(ensemble, name)
        return known[name]

    return resolve


def _keyless(ensemble: Ensemble, rules: Rules, resolve: Resolve) -> frozenset[str]:
    """Instruments written without key signature: asked for by the rules or the line-up."""
    named = [seat.instrument.id for name in rules.keyless for seat in resolve(name)]
    own = [p.instrument.id for p in ensemble.players if p.keyless]
    return frozenset([*named, *own])


def _lines(
    tasks: Sequence[Task], sketch: Sketch, ensemble: Ensemble, resolve: Resolve
) -> tuple[list[Line], list[tuple[int, str]], list[Finding]]:
    """Voice and fit each task in turn."""
    dealer = Dealer([bar.start for bar in sketch.bars], ensemble, can_stop)
    fitter = Fitter(sketch, register_strength)
    lines: list[Line] = []
    dropped: list[tuple[int, str]] = []
    findings: list[Finding] = []
    for task in tasks:
        shared = dealer.share(task, _pools(task, resolve))
        dropped += shared.dropped
        names = [ensemble.players[line.seat.player].label for line in shared.lines]
        fitted, told = fitter.fit(shared.lines, names)
        lines += fitted
        findings += told
    return lines, dropped, findings


def _pools(task: Task, resolve: Resolve) -> list[int]:
    """For each seat of a task, the place of the name in `by` that it came in with."""
    places: dict[tuple[int, str], int] = {}
    for place, name in enumerate(task.entry.by):
        for seat in resolve(name):
            places.setdefault((seat.player, seat.instrument.id), place)
    return [places[seat.player, seat.instrument.id] for seat in task.seats]
