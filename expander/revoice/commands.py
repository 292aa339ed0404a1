"""What the commands `reduce` and `revoice` do, from files to files' contents."""

from __future__ import annotations

from pathlib import Path

from msgspec import Struct
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.seating import seats
from expander.errors import BadRules, BadUsage
from expander.model.finding import Ledger, Severity
from expander.model.instrument import Ensemble, Seat
from expander.model.pitch import UNISON
from expander.model.rules import Rules
from expander.model.score import Document, Sketch
from expander.report import as_json, place
from expander.revoice.account import account
from expander.revoice.casting import Cast
from expander.revoice.findkey import find_keys, told
from expander.revoice.giving_back import files_for
from expander.revoice.keys import interval_for, transposed
from expander.revoice.lines import full_score
from expander.revoice.revoice import Revoiced, revoice_score
from expander.revoice.same import given_to, own_ensemble
from expander.revoice.short import FEWEST, MOST, Reduced, as_sketch, reduce_score
from expander.rulefile import check_against, facts_of, load_rules
from expander.sounding import to_sounding


class Wanted(Struct, frozen=True):
    """What a user asks of `revoice`: all as on the command line, "" or None where not given."""

    ensemble: str = ""
    rules: Path | None = None
    pitch: str = ""
    transpose: str = ""


def reduce_document(document: Document, staves: int = 0, *, exact: bool = False) -> Reduced:
    """The short score of a full score; with `exact` one from which all lines can be told.

    Raises BadUsage for a number of staves that is none.
    """
    if staves and not FEWEST <= staves <= MOST:
        raise BadUsage(f"a short score has {FEWEST} to {MOST} staves, not {staves}.")
    return reduce_score(document, staves, exact=exact)


class GivenBack(Struct, frozen=True):
    """The rule file of a reduction, its line-up's where it has its own, and what to say of them."""

    files: dict[Path, bytes]
    said: str


def line_up_beside(rules: Path) -> Path:
    """Where the line-up of a score stands that is for no shipped one: beside the rule file."""
    return rules.with_name(f"{rules.stem}-line-up.yaml")


def give_back(reduced: Reduced, rules: Path, sketch: Path) -> GivenBack:
    """Files that give a short score back to the players of the full one."""
    beside = line_up_beside(rules)
    made = files_for(reduced, str(rules), beside.name, str(sketch))
    files = {rules: made.rules.encode()}
    if made.line_up:
        files[beside] = made.line_up.encode()
    own = f"the line-up is in {beside.name}" if made.line_up else "the line-up is a shipped one"
    untold = f" {made.untold} lines of a bar have no place that rules can name." * (made.untold > 0)
    return GivenBack(files, f"{rules}: gives every line back to its players; {own}.{untold}")


def revoice_document(document: Document, wanted: Wanted) -> Revoiced:
    """A full score for another line-up, another key, or both.

    Without a line-up the players stay the same, and a transposition must be asked for. Raises
    BadUsage or BadRules.
    """
    heard = to_sounding(document)
    by = interval_for(wanted.transpose, heard) if wanted.transpose else UNISON
    moved = transposed(heard, by)
    rules = load_rules(wanted.rules) if wanted.rules else Rules()
    rules = replace(rules, pitch=wanted.pitch or rules.pitch)
    name = wanted.ensemble or rules.ensemble
    if not name:
        return _same_players(document, moved, rules, wanted)
    base = wanted.rules.parent if wanted.rules and not wanted.ensemble else None
    ensemble = load_ensemble(name, base)
    short = _short(document, moved, rules, ensemble) if rules.plan or rules.strands else None
    return revoice_score(document, ensemble, rules, moved, short)


def _short(document: Document, moved: Sketch, rules: Rules, ensemble: Ensemble) -> Sketch:
    """The short score that a rule file speaks of. Raises BadRules where the rules do not suit."""
    short = as_sketch(reduce_score(document, sketch=moved).score)

    def resolve(name: str) -> tuple[Seat, ...]:
        return seats(ensemble, name)

    mistakes = check_against(rules, facts_of(short), resolve)
    if mistakes:
        raise BadRules(mistakes)
    return short


def _same_players(document: Document, moved: Sketch, rules: Rules, wanted: Wanted) -> Revoiced:
    if not wanted.transpose:
        raise BadUsage(
            "neither a line-up nor a transposition is named, so nothing would change.",
            hint="Name a line-up with --ensemble, or a key or interval with --transpose.",
        )
    full = full_score(document, moved)
    ensemble = own_ensemble(full)
    owners = [i for i, part in enumerate(moved.parts) for _ in range(part.staves)]
    written, told = given_to(moved, ensemble, owners, rules, "octave")
    accounts = account(full, (), Cast(), written)
    findings = (*accounts.findings, *told)
    return Revoiced(written, accounts.ledger, findings, ensemble, rules)


def keys_for(document: Document, voice: str) -> list[str]:
    """Suggested keys for a voice, a line each, the best first. Raises BadUsage."""
    return [told(found) for found in find_keys(full_score(document), voice)]


def report_of(done: Revoiced) -> str:
    """The report of a revoicing as JSON."""
    return as_json(done.ledger, done.findings, done.score)


def told_of(done: Revoiced) -> str:
    """The ledger and the findings of a revoicing: errors in full, the rest counted."""
    errors = [f"{place(f)}{f.message}" for f in done.findings if f.severity == "error"]
    counts = {s: sum(f.severity == s for f in done.findings) for s in Severity}
    told = ", ".join(f"{n} {s.value}{'s' * (n != 1)}" for s, n in counts.items())
    return "\n".join([f"{ledger_of(done.ledger)} Findings: {told}.", *errors])


def has_errors(done: Revoiced) -> bool:
    """True where the findings hold an error."""
    return any(f.severity == Severity.ERROR for f in done.findings)


def ledger_of(ledger: Ledger) -> str:
    """The ledger of a reduction or revoicing in one line."""
    return (
        f"{ledger.notes} notes in the score: {ledger.placed} kept, {ledger.replaced} doubled by "
        f"a note that is kept, {len(ledger.unplaced)} left out."
    )
